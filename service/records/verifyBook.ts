/**
 * `verify`: is the book what was written? SQLite's own checks, the append-only triggers, the chain from its
 * first entry to its head, every record against its entry, and the derived figures against the records.
 */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import { integrityProblems } from '../../db/book.ts';
import { airNamesProblems, namesProblems } from './namesProblems.ts';
import { settingsProblems } from './settingsProblems.ts';
import { wrongMains } from '../../db/derived.ts';
import { wrongDueDates } from '../../db/due.ts';
import { pristineTriggers } from '../../db/pristine.ts';
import { GENESIS_HASH, canonicalJson, chainHash, ledgerAfter } from '../../db/ledger.ts';
import type { LedgerRow } from '../../db/ledger.ts';
import { certificateContent, instrumentFaultContent } from '../../db/gauges.ts';
import {
  calibrationContent,
  cardOfCalibration,
  correctionContent,
  readingsOf,
  replacementContent,
  settingChangeContent,
} from '../../db/records.ts';
import { airTestContent, leakContent, leakMendedContent } from '../../db/airRecords.ts';
import { issuedRoundContent } from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { VerifyReport } from '../../shared/contract/records.ts';
import type { JobHandler } from '../context.ts';
import { airTestProblem, leakProblem } from '../stations/facts.ts';
import { recomputeProblem } from './recompute.ts';
import type { StoredReading } from './recompute.ts';

const CHUNK = 500;
const MOST_PROBLEMS = 100;

const contentOf: Record<LedgerRow['kind'], (db: BookDb, id: number) => Promise<unknown>> = {
  calibration: calibrationContent,
  correction: correctionContent,
  certificate: certificateContent,
  'instrument fault': instrumentFaultContent,
  'setting change': settingChangeContent,
  replacement: replacementContent,
  'issued round': issuedRoundContent,
  'air test': airTestContent,
  leak: leakContent,
  'leak mended': leakMendedContent,
};

type Anchor = { entries: number; headHash: string };
type Report = (check: string, detail: string, seq?: number) => void;

/** Triggers of a changed book: missing, or made to let things through. */
async function triggerProblems(db: BookDb, report: Report): Promise<void> {
  const held = new Map(
    (
      await sql<{
        name: string;
        sql: string;
      }>`select name, sql from sqlite_schema where type = 'trigger'`.execute(db)
    ).rows.map((row) => [row.name, row.sql]),
  );
  const pristine = await pristineTriggers();
  for (const [name, text] of pristine)
    if (!held.has(name)) report('append-only', `the trigger ${name} is missing: records could be changed`);
    else if (held.get(name) !== text)
      report('append-only', `the trigger ${name} was changed: records could be changed`);
  for (const name of held.keys())
    if (!pristine.has(name)) report('append-only', `the trigger ${name} is not one of the program’s`);
}

/** Readings are numbered without a gap as they are written, and never removed; each belongs to a record of the chain. */
async function readingProblems(
  db: BookDb,
  report: Report,
  { table, owner, kind }: { table: 'reading' | 'air_test_reading'; owner: string; kind: LedgerRow['kind'] },
): Promise<number> {
  const { n, most } = await db
    .selectFrom(table)
    .select((eb) => [eb.fn.countAll<number>().as('n'), eb.fn.max('id').as('most')])
    .executeTakeFirstOrThrow();
  const what = table.replaceAll('_', ' ');
  if ((most ?? 0) !== n)
    report('record', `there are ${n} ${what}s, numbered up to ${most ?? 0}: one was moved or removed`);
  const [stray] = (
    await sql<{ id: number }>`select id from ${sql.table(table)} as r
      where not exists (select 1 from ledger where kind = ${kind} and record_id = ${sql.ref(`r.${owner}`)}) limit 1`.execute(
      db,
    )
  ).rows;
  if (stray) report('record', `${what} ${stray.id} belongs to no record in the chain`);
  return n;
}

async function walkChain(
  db: BookDb,
  report: Report,
  { anchor, ...hooks }: { anchor: Anchor | null; progress: (done: number) => void; cancelled: () => boolean },
) {
  let prev = GENESIS_HASH;
  let seq = 0;
  let calibrations = 0;
  for (;;) {
    const rows = await ledgerAfter(db, seq, CHUNK);
    if (rows.length === 0) {
      if (anchor && seq < anchor.entries)
        report(
          'anchor',
          `the anchor names ${anchor.entries} entries, the book has ${seq}: its end is gone`,
          seq + 1,
        );
      return { entries: seq, headHash: prev, calibrations };
    }
    for (const row of rows) {
      if (row.seq !== seq + 1) report('chain', `entry ${seq + 1} is missing`, row.seq);
      if (row.prev_hash !== prev)
        report('chain', `entry ${row.seq} does not follow the entry before it`, row.seq);
      if (row.hash !== chainHash(row.prev_hash, row.entry_json))
        report('chain', `entry ${row.seq} was changed: its hash is not that of its text`, row.seq);
      if (row.seq === anchor?.entries && row.hash !== anchor.headHash)
        report(
          'anchor',
          `entry ${row.seq} is not the one that the anchor names: it, or something before it, was changed`,
          row.seq,
        );
      try {
        await holdAgainstRecord(db, row, report);
      } catch (error) {
        report(
          'record',
          `${row.kind} ${row.record_id} of entry ${row.seq} cannot be read: ${wordsOf(error)}`,
          row.seq,
        );
      }
      if (row.kind === 'calibration') calibrations += 1;
      prev = row.hash;
      seq = row.seq;
    }
    hooks.progress(seq);
    if (hooks.cancelled()) throw new AppError('cancelled', 'The check was cancelled.');
  }
}

function wordsOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

/** A book that somebody went at may hold what no formula takes: that is found, too, and the check goes on. */
async function attempt(check: string, report: Report, work: () => Promise<void> | void): Promise<void> {
  try {
    await work();
  } catch (error) {
    if (error instanceof AppError && error.code === 'cancelled') throw error;
    report(check, `cannot be worked out: ${wordsOf(error)}`);
  }
}

type Entry = { kind?: unknown; at?: unknown; content?: { id?: number; row?: { id?: number } } };

/** The entry of a row; null when its text was made unreadable. */
function entryOf(row: LedgerRow): Entry | null {
  try {
    return JSON.parse(row.entry_json) as Entry;
  } catch {
    return null;
  }
}

async function holdAgainstRecord(db: BookDb, row: LedgerRow, report: Report): Promise<void> {
  if (row.record_id === null) {
    report('record', `entry ${row.seq} names no record`, row.seq);
    return;
  }
  if (!Object.hasOwn(contentOf, row.kind)) {
    report('chain', `entry ${row.seq} is of no known kind`, row.seq);
    return;
  }
  const content = await contentOf[row.kind](db, row.record_id);
  const entry = entryOf(row);
  if (!entry) {
    report('chain', `entry ${row.seq} does not read`, row.seq);
    return;
  }
  if (entry.kind !== row.kind || entry.at !== row.at)
    report(
      'chain',
      `entry ${row.seq} says ${String(entry.kind)} at ${String(entry.at)}, not what stands beside it`,
      row.seq,
    );
  if (entry.content?.id !== undefined || entry.content?.row?.id !== undefined) {
    const named = entry.content.row?.id ?? entry.content.id;
    if (named !== row.record_id)
      report('chain', `entry ${row.seq} names record ${row.record_id}, it is of ${named}`, row.seq);
  }
  if (content === null) report('record', `${row.kind} ${row.record_id} of entry ${row.seq} is gone`, row.seq);
  else if (canonicalJson(content) !== canonicalJson(entry.content))
    report('record', `${row.kind} ${row.record_id} is not what entry ${row.seq} says`, row.seq);
  else if (row.kind === 'calibration') {
    const problem = recomputeProblem(content, await readingsOfCard(db, content));
    if (problem) report('derived figure', `calibration ${row.record_id}: ${problem}`, row.seq);
  } else if (row.kind === 'air test' || row.kind === 'leak') {
    const problem = row.kind === 'leak' ? leakProblem(content) : airTestProblem(content);
    if (problem) report('derived figure', `${row.kind} ${row.record_id}: ${problem}`, row.seq);
  }
}

/** Readings of all records of a card; a record that no card made stands alone. */
async function readingsOfCard(db: BookDb, content: unknown): Promise<StoredReading[]> {
  const { row, readings } = content as {
    row: { id: number; card_id?: number | null };
    readings: StoredReading[];
  };
  if (row.card_id == null) return readings;
  const group = await cardOfCalibration(db, row.id);
  return group.length === 1
    ? readings
    : readingsOf(
        db,
        group.map(({ id }) => id),
      );
}

/** Entries are numbered from 1 without a gap, and a record has one entry. */
async function numberingProblems(db: BookDb, report: Report): Promise<void> {
  const { n, least, most } = await db
    .selectFrom('ledger')
    .select((eb) => [
      eb.fn.countAll<number>().as('n'),
      eb.fn.min('seq').as('least'),
      eb.fn.max('seq').as('most'),
    ])
    .executeTakeFirstOrThrow();
  if (n > 0 && (least !== 1 || most !== n))
    report('chain', `there are ${n} entries, numbered ${least} to ${most}: some were put in or taken out`);
  const { rows } = await sql<{
    kind: string;
    record_id: number;
    n: number;
  }>`select kind, record_id, count(*) as n
    from ledger group by kind, record_id having count(*) > 1 limit 20`.execute(db);
  for (const row of rows)
    report('chain', `${row.kind} ${row.record_id} has ${row.n} entries in the chain instead of one`);
}

async function recordsOutsideChain(db: BookDb, report: Report): Promise<void> {
  for (const [kind, table] of [
    ['calibration', 'calibration'],
    ['correction', 'correction'],
    ['setting change', 'setting_change'],
    ['replacement', 'replacement'],
    ['certificate', 'gauge_certificate'],
    ['instrument fault', 'instrument_fault'],
    ['air test', 'air_test'],
    ['leak', 'leak'],
    ['leak mended', 'leak_mended'],
  ] as const) {
    const rows = await sql<{ id: number }>`select t.id from ${sql.table(table)} as t
      where not exists (select 1 from ledger where kind = ${kind} and record_id = t.id) order by t.id limit 20`.execute(
      db,
    );
    for (const { id } of rows.rows) report('record', `${kind} ${id} has no entry in the chain`);
  }
}

export const verifyBook: JobHandler<'records.verify'> = async ({ book }, { anchor }, hooks) => {
  const db = book.reader;
  const problems: VerifyReport['problems'] = [];
  let firstBadEntry: number | null = null;
  const report: Report = (check, detail, seq) => {
    if (seq !== undefined && (firstBadEntry === null || seq < firstBadEntry)) firstBadEntry = seq;
    if (problems.length < MOST_PROBLEMS) problems.push({ check, detail, seq: seq ?? null });
  };
  let total = 1;
  await attempt('chain', report, async () => {
    const { n } = await db
      .selectFrom('ledger')
      .select((eb) => eb.fn.countAll<number>().as('n'))
      .executeTakeFirstOrThrow();
    total = n + 1;
  });
  hooks.progress(0, total, 'checking the file');
  await attempt('file', report, () => {
    for (const detail of integrityProblems(book.file)) report('file', detail);
  });
  await triggerProblems(db, report);
  if (anchor?.entries === 0 && anchor.headHash !== GENESIS_HASH)
    report(
      'anchor',
      'the anchor names no entry and yet a head: it was changed, or made by no program of this kind',
      1,
    );
  let walk = { entries: 0, headHash: GENESIS_HASH, calibrations: 0 };
  await attempt('chain', report, async () => {
    walk = await walkChain(db, report, {
      anchor,
      progress: (done) => hooks.progress(done, total, 'walking the chain'),
      cancelled: hooks.cancelled,
    });
  });
  await attempt('chain', report, () => numberingProblems(db, report));
  await attempt('record', report, () => recordsOutsideChain(db, report));
  await attempt('names', report, () => namesProblems(db, report));
  await attempt('names', report, () => airNamesProblems(db, report));
  await attempt('settings', report, () => settingsProblems(db, (detail) => report('settings', detail)));
  await attempt('due date', report, async () => {
    for (const id of await wrongDueDates(db))
      report('due date', `the due date of test point ${id} is not what its records say`);
  });
  await attempt('main', report, async () => {
    for (const tag of await wrongMains(db))
      report('main', `the main noted for ${tag} is not the one on its supply path`);
  });
  let readings = 0;
  await attempt('record', report, async () => {
    readings = await readingProblems(db, report, {
      table: 'reading',
      owner: 'calibration_id',
      kind: 'calibration',
    });
    await readingProblems(db, report, { table: 'air_test_reading', owner: 'air_test_id', kind: 'air test' });
  });
  hooks.progress(total, total, 'done');
  return {
    sound: problems.length === 0,
    entries: walk.entries,
    headHash: walk.headHash,
    calibrations: walk.calibrations,
    readings,
    problems,
    firstBadEntry,
  };
};
