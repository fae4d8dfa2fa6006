/** Paper sheets: printed with boxes, typed in as a grid, written in one unit of work. */
import { chainHead } from '../../db/ledger.ts';
import type { BookDb } from '../../db/book.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import type { OutputOf, ParsedInputOf } from '../../shared/contract/index.ts';
import type { SheetScope } from '../../shared/contract/paper.ts';
import { closeCards } from '../bench/closeCards.ts';
import { requireDraft } from '../bench/requireDraft.ts';
import type { GroupHandlers } from '../context.ts';
import { paperPdf } from './paperPdf.ts';
import { paperSheetOf, sheetName, sheetRows } from './sheet.ts';

function counted(verdicts: readonly (string | null)[]): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const verdict of verdicts) {
    const word = verdict ?? 'no verdict';
    counts[word] = (counts[word] ?? 0) + 1;
  }
  return counts;
}

/** Throws `conflict` where the book holds another revision of a sheet's draft; 0 stands for none. */
async function requireRevision(db: BookDb, scope: SheetScope, revision: number): Promise<void> {
  const held = await db
    .selectFrom('paper_draft')
    .select(['draft_json as json', 'revision'])
    .where('sheet', '=', sheetName(scope))
    .executeTakeFirst();
  if ((held?.revision ?? 0) !== revision)
    throw new AppError('conflict', 'This sheet was changed or closed in another window.', {
      current: held ?? null,
    });
}

type Parts = ParsedInputOf<'paper.close'>['parts'];

/** Every card is one of the sheet's, and each of its entries stands once on it: what was not on the paper was not read from it. */
async function requireRowsOfSheet(db: BookDb, scope: SheetScope, parts: Parts, today: string): Promise<void> {
  const { rows } = await sheetRows(db, scope, today);
  const onSheet = new Set(rows.map(({ deviceId, key }) => `${deviceId}#${key}`));
  const problems: InputProblem[] = [];
  const named = new Set<string>();
  for (const [index, { cards }] of parts.entries())
    for (const [at, { deviceId, entries }] of cards.entries()) {
      const column = `parts.${index}.cards.${at}.deviceId`;
      if (cards.findIndex((one) => one.deviceId === deviceId) !== at)
        problems.push({ column, value: String(deviceId), reason: 'this device stands twice in one part' });
      for (const { key } of entries) {
        const name = `${deviceId}#${key}`;
        const value = `${deviceId} ${key}`.trimEnd();
        if (!onSheet.has(name)) problems.push({ column, value, reason: 'is not on this sheet' });
        else if (named.has(name)) problems.push({ column, value, reason: 'stands twice on this sheet' });
        named.add(name);
      }
    }
  if (problems.length > 0)
    throw new AppError('invalid_input', 'The sheet cannot be written yet; nothing was.', { problems });
}

export const paperHandlers: GroupHandlers<'paper'> = {
  sheet: async ({ db, clock }, { scope }) => paperSheetOf(db, scope, clock.today()),

  saveDraft: async ({ db, clock }, { scope, json, over }) => {
    requireDraft(json);
    const sheet = sheetName(scope);
    await requireRevision(db, scope, over);
    const row = { draft_json: json, revision: over + 1, saved_at: clock.now() };
    await db
      .insertInto('paper_draft')
      .values({ sheet, ...row })
      .onConflict((oc) => oc.column('sheet').doUpdateSet(row))
      .execute();
    return { revision: row.revision };
  },

  dropDraft: async ({ db }, { scope, over }) => {
    await requireRevision(db, scope, over);
    await db.deleteFrom('paper_draft').where('sheet', '=', sheetName(scope)).execute();
    return {};
  },

  close: async ({ db, clock }, { scope, personId, draftRevision, parts }) => {
    await requireRevision(db, scope, draftRevision);
    await requireRowsOfSheet(db, scope, parts, clock.today());
    const closing = { today: clock.today(), now: clock.now(), source: 'paper' as const };
    const done: OutputOf<'bench.close'>[] = [];
    const problems: NonNullable<AppError['details']['problems']> = [];
    for (const [index, { doneOn, instruments, cards }] of parts.entries())
      try {
        done.push(
          await closeCards(
            db,
            { personId, doneOn, instruments, startedAt: null },
            cards.map((card) => ({ ...card, corrects: null })),
            { ...closing, prefix: (card) => `parts.${index}.cards.${card}.` },
          ),
        );
      } catch (error) {
        // Every row's problems are told at once; the transaction is given up after the last.
        if (!(error instanceof AppError) || !error.details.problems) throw error;
        problems.push(...error.details.problems);
      }
    if (problems.length > 0)
      throw new AppError('invalid_input', 'The sheet cannot be written yet; nothing was.', { problems });
    await db.deleteFrom('paper_draft').where('sheet', '=', sheetName(scope)).execute();
    const records = done.flatMap((one) => one.records);
    const head = await chainHead(db);
    return {
      records,
      followUps: done.flatMap((one) => one.followUps),
      closable: done.flatMap((one) => one.closable),
      ledgerSeq: head.seq,
      headHash: head.hash,
      verdicts: counted(records.map(({ verdictFound }) => verdictFound)),
    };
  },

  pdf: async ({ db, clock }, { scope }) => {
    const sheet = await sheetRows(db, scope, clock.today());
    return {
      fileName: `${sheetName(scope).replace(/\W+/g, '-')}.pdf`,
      mediaType: 'application/pdf',
      bytes: await paperPdf(db, sheet),
    };
  },
};
