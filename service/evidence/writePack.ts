/**
 * Writes an evidence pack: into a folder beside the one that is asked for, which takes its name only when everything is
 * there. Two packs of one book and one scope are the same byte for byte, but for the time in the manifest.
 */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { mkdir, rename, rm, stat, writeFile } from 'node:fs/promises';
import path from 'node:path';
import type { BookDb } from '../../db/book.ts';
import { replacementDays } from '../../db/drift.ts';
import { chainHead, ledgerAfter } from '../../db/ledger.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { TERM_NAMESPACES, terms } from '../../shared/evidence/terms.ts';
import { CARD_VERSION } from '../../shared/cards/index.ts';
import { AIR_METHOD_VERSION } from '../../shared/trade/air/airTests.ts';
import { METHOD_VERSION } from '../../shared/trade/words.ts';
import type { JobHooks } from '../context.ts';
import { siteOf } from '../settings/handlers.ts';
import { bookJson } from './bookJson.ts';
import { driftColumns, driftRows, seriesColumns, seriesRows } from './driftTable.ts';
import { packWriter } from './packWriter.ts';
import type { PackFile } from './packWriter.ts';
import { recordsIn, replacementsIn } from './records.ts';
import { calibrationColumns, calibrationRows, readingColumns, readingRows } from './recordTables.ts';
import { resolveScope, scopeWords } from './scope.ts';
import type { PackScope } from './scope.ts';
import {
  assetColumns,
  assetTable,
  eventColumns,
  eventTable,
  intendedColumns,
  intendedTable,
  leakColumns,
  leakTable,
  registerTable,
  stationColumns,
  stationTable,
} from './siteTables.ts';

export const PACK_FORMAT = 'setpoint-almanac evidence 1';
/** Of package.json; a test holds the two together. */
export const PROGRAM_VERSION = '0.1.0';
const CHAIN_PIECE = 1_000;

export type PackSummary = {
  folder: string;
  scope: string;
  files: readonly PackFile[];
  entries: number;
  headHash: string;
  manifestHash: string;
};

/** chain.jsonl: every entry from the first one, so that the head follows from it. */
async function* chainLines(db: BookDb, onPiece: (seq: number) => void): AsyncGenerator<string> {
  let seq = 0;
  for (;;) {
    const rows = await ledgerAfter(db, seq, CHAIN_PIECE);
    if (rows.length === 0) return;
    seq = rows[rows.length - 1].seq;
    onPiece(seq);
    yield rows
      .map(
        (row) =>
          `${JSON.stringify({ seq: row.seq, record: row.record_id, entry: row.entry_json, hash: row.hash })}\n`,
      )
      .join('');
  }
}

const json = (value: unknown): string[] => [`${JSON.stringify(value, null, 2)}\n`];

async function exists(folder: string): Promise<boolean> {
  try {
    await stat(folder);
    return true;
  } catch {
    return false;
  }
}

/** Writes the pack. Throws `invalid_input` where the folder stands already or the scope cannot be, `cancelled` without a trace. */
export async function writePack(
  db: BookDb,
  { folder, scope, madeAt }: { folder: string; scope: PackScope; madeAt: string },
  hooks: JobHooks,
): Promise<PackSummary> {
  if (await exists(folder))
    throw new AppError('invalid_input', `${folder} stands already; it was not touched. Name a new folder.`);
  const resolved = await resolveScope(db, scope);
  const half = `${path.resolve(folder)}.half-${process.pid}`;
  try {
    await mkdir(half);
  } catch (error) {
    throw new AppError(
      'invalid_input',
      `${folder} cannot be written: ${error instanceof Error ? error.message : ''}`,
    );
  }
  try {
    const head = await chainHead(db);
    const writer = packWriter(half, hooks.cancelled);
    const { most } = await db
      .selectFrom('calibration')
      .select((eb) => eb.fn.max('id').as('most'))
      .executeTakeFirstOrThrow();
    const records = (step: string) => (id: number) => hooks.progress(id, most ?? 1, step);
    const replacements = await replacementDays(db);
    const pieces = (step: string) => recordsIn(db, resolved, replacements, records(step));
    await writer.table(
      'readings.csv',
      readingColumns,
      readingRows(pieces('readings'), await replacementsIn(db, resolved)),
    );
    await writer.table('calibrations.csv', calibrationColumns, calibrationRows(pieces('records')));
    hooks.progress(0, 1, 'drift');
    await writer.table('drift.csv', driftColumns, driftRows(db, resolved));
    await writer.table('series.csv', seriesColumns, seriesRows(db, resolved));
    const register = await registerTable(db, resolved);
    await writer.table('register.csv', register.columns, register.rows);
    await writer.table('assets.csv', assetColumns, await assetTable(db, resolved));
    await writer.table('setpoints.csv', intendedColumns, await intendedTable(db, resolved));
    await writer.table('events.csv', eventColumns, await eventTable(db, resolved));
    await writer.table('leaks.csv', leakColumns, await leakTable(db, resolved));
    await writer.table('air_station.csv', stationColumns, await stationTable(db, resolved));
    await writer.text('book.json', json(await bookJson(db, resolved)));
    await writer.text('terms.json', json({ namespaces: TERM_NAMESPACES, terms }));
    await writer.text(
      'chain.jsonl',
      chainLines(db, (seq) => hooks.progress(seq, head.seq || 1, 'chain')),
      true,
    );
    await writer.text('check.mjs', [readFileSync(new URL('check.mjs', import.meta.url), 'utf8')]);
    const { value: site } = await siteOf(db);
    const manifest = json({
      format: PACK_FORMAT,
      made_at: madeAt,
      site: site.name,
      scope,
      scope_in_words: scopeWords(scope),
      program: { name: 'Setpoint Almanac', version: PROGRAM_VERSION },
      methods: { records: METHOD_VERSION, cards: CARD_VERSION, air: AIR_METHOD_VERSION, drift: 'drift 1' },
      standard_air: '14.696 psi absolute, 70 degF, dry',
      chain: { first: head.seq === 0 ? null : 1, last: head.seq, head: head.hash },
      files: writer.files.toSorted((a, b) => a.name.localeCompare(b.name)),
      cautions: [
        'A planning and record-keeping aid: tolerances and intervals are the owner’s.',
        'Local codes, the device maker’s instructions and licensed practice come first.',
        'The chain shows that nothing before its head was changed; keep the head, or the hash of this file, elsewhere.',
      ],
    }).join('');
    const manifestHash = createHash('sha256').update(manifest, 'utf8').digest('hex');
    await writeFile(path.join(half, 'manifest.json'), manifest);
    await writeFile(path.join(half, 'manifest.sha256'), `${manifestHash}  manifest.json\n`);
    if (hooks.cancelled()) throw new AppError('cancelled', 'Cancelled; no pack was written.');
    await rename(half, folder);
    return {
      folder,
      scope: scopeWords(scope),
      files: writer.files,
      entries: head.seq,
      headHash: head.hash,
      manifestHash,
    };
  } catch (error) {
    await rm(half, { recursive: true, force: true });
    throw error;
  }
}
