/**
 * Writes an evidence pack: into a folder beside the one that is asked for, which takes its name only when everything is
 * there. Two packs of one book and one scope are the same byte for byte, but for the time in the manifest.
 */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { mkdir, readdir, rename, rm, stat, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { setFlagsFromString } from 'node:v8';
import type { BookDb } from '../../db/book.ts';
import { replacementDays } from '../../db/drift.ts';
import { certificatesOf, gaugeTags } from '../../db/gauges.ts';
import { chainHead, ledgerAfter } from '../../db/ledger.ts';
import { CARD_VERSION } from '../../shared/cards/index.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { PackSummary } from '../../shared/contract/evidence.ts';
import type { PackScope } from '../../shared/contract/packScope.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { TERM_NAMESPACES, terms } from '../../shared/evidence/terms.ts';
import { AIR_METHOD_VERSION } from '../../shared/trade/air/airTests.ts';
import { METHOD_VERSION } from '../../shared/trade/words.ts';
import type { JobHooks } from '../context.ts';
import { energyRankingOf } from '../energy/rank.ts';
import { energySettingsOf } from '../energy/settings.ts';
import { retrofitQuantitiesOf } from '../retrofit/quantities.ts';
import { benchRulesOf } from '../settings/benchRules.ts';
import { siteOf } from '../settings/handlers.ts';
import { writeWorkbook } from '../xlsx/writeWorkbook.ts';
import { bookJson } from './bookJson.ts';
import { driftColumns, driftRows } from './driftTable.ts';
import { intendedSinceBy } from './intended.ts';
import { packWriter } from './packWriter.ts';
import type { CsvRows } from './packWriter.ts';
import { previewPack } from './preview.ts';
import { recordsIn, replacementsIn } from './records.ts';
import {
  calibrationColumns,
  calibrationRows,
  readingColumns,
  readingRows,
  replacementRows,
} from './recordTables.ts';
import type { RecordContext } from './recordTables.ts';
import { MOST_SERIES, reportPdf } from './report.ts';
import { asOfDay, lastDayOf, resolveScope, scopeWords } from './scope.ts';
import type { Resolved } from './scope.ts';
import { siteTables } from './tables/index.ts';
import { worstSeries } from './worstSeries.ts';
import { aboutSheet, sheetOf } from './workbook.ts';
import { zipFolder } from './zipFolder.ts';

export const PACK_FORMAT = 'setpoint-almanac evidence 1';
/** Of package.json; a test holds the two together. */
export const PROGRAM_VERSION = '0.1.0';
const CHAIN_PIECE = 1_000;

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

type Pack = { folder: string; scope: PackScope; madeAt: string; as?: 'folder' | 'zip' };

const cautions = [
  'A planning and record-keeping aid: tolerances and intervals are the owner’s.',
  'Local codes, the device maker’s instructions and licensed practice come first.',
  'The chain is whole, whatever the scope, and names people as the book does: give the pack to who may know them.',
  'The chain shows that nothing before its head was changed; keep the head, or the hash of the manifest, elsewhere.',
];

/** Counts rows by a key while they are written. */
async function* watched(rows: CsvRows, see: (row: Readonly<Record<string, string>>) => void): CsvRows {
  for await (const piece of rows) {
    for (const row of piece) see(row);
    yield piece;
  }
}

/** Due date of the certificate that an instrument had on a day, of two of one day the later; else of the one before. */
async function certificateDueBy(db: BookDb): Promise<RecordContext['certificateDue']> {
  const tags = await gaugeTags(db);
  const byGauge = new Map<string, { issued: string; due: string }[]>();
  for (const { gauge_id, issued_on, due_on } of (await certificatesOf(db, [...tags.keys()])).toReversed()) {
    const tag = tags.get(gauge_id) ?? '';
    byGauge.set(tag, [...(byGauge.get(tag) ?? []), { issued: issued_on, due: due_on }]);
  }
  return (gauge, on) => byGauge.get(gauge)?.findLast(({ issued }) => issued <= on)?.due ?? null;
}

async function writeFiles(
  db: BookDb,
  half: string,
  { resolved, madeAt }: { resolved: Resolved; madeAt: string },
  hooks: JobHooks,
): Promise<Omit<PackSummary, 'name'>> {
  const { scope } = resolved;
  const head = await chainHead(db);
  const writer = packWriter(half, hooks.cancelled);
  const { value: site } = await siteOf(db);
  const { value: bench } = await benchRulesOf(db);
  const { value: energySettings } = await energySettingsOf(db);
  const last = await lastDayOf(db);
  const on = asOfDay(scope, last.on);
  const context: RecordContext = {
    site: site.name,
    timeZone: site.timeZone,
    certificateDue: await certificateDueBy(db),
    intendedSince: await intendedSinceBy(db),
  };
  // First what holds most of the site at once: the millions of rows that go by afterwards find room in what it leaves.
  hooks.progress(0, 1, 'energy');
  const energy = await energyRankingOf(
    db,
    { on, from: scope.from, to: scope.to, deviceIds: resolved.deviceIds },
    hooks,
  );
  const retrofit = await retrofitQuantitiesOf(db, { ...scope, to: on }, on, hooks);
  const { most } = await db
    .selectFrom('calibration')
    .select((eb) => eb.fn.max('id').as('most'))
    .executeTakeFirstOrThrow();
  const replacements = await replacementDays(db);
  await writer.tables(
    recordsIn(db, resolved, replacements, (id) => hooks.progress(id, most ?? 1, 'records and readings')),
    [
      {
        name: 'readings.csv',
        columns: readingColumns,
        rowsOf: (records) => readingRows(records, context),
        last: replacementRows(await replacementsIn(db, resolved), context),
      },
      {
        name: 'calibrations.csv',
        columns: calibrationColumns,
        rowsOf: (records) => calibrationRows(records, context),
      },
    ],
  );
  hooks.progress(0, 1, 'drift');
  await writer.table('drift.csv', driftColumns, driftRows(db, resolved));
  const worst = worstSeries(MOST_SERIES);
  const events = new Map<string, number>();
  const see: Readonly<Record<string, (row: Readonly<Record<string, string>>) => void>> = {
    'series.csv': worst.see,
    'events.csv': ({ date, kind }) => {
      const key = `${date.slice(0, 4)} ${kind}`;
      events.set(key, (events.get(key) ?? 0) + 1);
    },
  };
  const tables = siteTables(db, resolved, { energy, retrofit });
  for (const { file, columns, rows } of tables) {
    hooks.progress(0, 1, file);
    const own = await rows();
    await writer.table(file, columns, see[file] ? watched(own, see[file]) : own);
  }
  await writer.text('book.json', json(await bookJson(db, resolved)));
  await writer.text('terms.json', json({ namespaces: TERM_NAMESPACES, terms }));
  await writer.text(
    'chain.jsonl',
    chainLines(db, (seq) => hooks.progress(seq, head.seq || 1, 'chain')),
    true,
  );
  await writer.text('check.mjs', [readFileSync(new URL('check.mjs', import.meta.url), 'utf8')]);
  hooks.progress(0, 1, 'workbook');
  const about: [string, string][] = [
    ['site', site.name],
    ['scope', scopeWords(scope)],
    ['chain', `${head.seq} entries, head ${head.hash}`],
    ['readings', 'in readings.csv, which may be longer than a sheet'],
    ...cautions.map((caution): [string, string] => ['caution', caution]),
  ];
  await writer.stream('register.xlsx', async (target) =>
    writeWorkbook(
      target,
      [
        aboutSheet(about),
        ...tables.flatMap(({ sheet, columns, figures, rows }) =>
          sheet === null ? [] : [sheetOf(sheet, columns, { figures, rows })],
        ),
      ],
      { at: last.at, title: `Register of ${site.name}` },
    ),
  );
  hooks.progress(0, 1, 'report');
  const instruments = await instrumentsOf(db, context, on);
  await writer.bytes(
    'report.pdf',
    await reportPdf({
      site: site.name === '' ? 'Site without a name' : site.name,
      scope: scopeWords(scope),
      cautions,
      head,
      at: last.at,
      decisionRule: bench.decisionRule,
      files: writer.files,
      preview: await previewPack(db, scope, on, hooks),
      worst: worst.result(),
      events: [...events]
        .toSorted(([a], [b]) => a.localeCompare(b))
        .map(([key, count]) => ({ year: key.slice(0, 4), kind: key.slice(5), count })),
      energy,
      retrofit,
      instruments,
    }),
  );
  const manifest = json({
    format: PACK_FORMAT,
    made_at: madeAt,
    site: site.name,
    scope,
    scope_in_words: scopeWords(scope),
    worked_out_as_of: on,
    program: { name: 'Setpoint Almanac', version: PROGRAM_VERSION },
    methods: {
      records: METHOD_VERSION,
      cards: CARD_VERSION,
      air: AIR_METHOD_VERSION,
      drift: 'drift 2',
      energy: 'energy 1',
      retrofit: 'retrofit 1',
    },
    standard_air: '14.696 psi absolute, 70 degF, dry',
    energy_settings: energySettings,
    climate: energy.weather,
    chain: { first: head.seq === 0 ? null : 1, last: head.seq, head: head.hash },
    files: writer.files.toSorted((a, b) => a.name.localeCompare(b.name)),
    cautions,
  }).join('');
  const manifestHash = createHash('sha256').update(manifest, 'utf8').digest('hex');
  await writeFile(path.join(half, 'manifest.json'), manifest);
  await writeFile(path.join(half, 'manifest.sha256'), `${manifestHash}  manifest.json\n`);
  return {
    scope: scopeWords(scope),
    files: [...writer.files],
    entries: head.seq,
    headHash: head.hash,
    manifestHash,
  };
}

/** Instruments of the book with the certificate that they had. */
async function instrumentsOf(
  db: BookDb,
  { certificateDue }: RecordContext,
  on: PlainDate,
): Promise<{ tag: string; kind: string; certificate: string }[]> {
  const gauges = await db.selectFrom('gauge').select(['tag', 'kind']).orderBy('tag').execute();
  return gauges.map(({ tag, kind }) => {
    const due = certificateDue(tag, on);
    return {
      tag,
      kind,
      certificate: due === null ? 'none' : `due ${due}${due < on ? `, lapsed on ${on}` : ''}`,
    };
  });
}

/**
 * Millions of rows go by: left to itself (0) the heap grows to many times what is held. By a quarter more it is tidied. The
 * whole process goes by it, so that it is taken back after the pack.
 */
function setHeapGrowth(percent: number): void {
  setFlagsFromString(`--heap-growing-percent=${percent}`);
}

function isAlive(pid: number): boolean {
  // This one has not begun yet.
  if (pid === process.pid) return false;
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    // Somebody else’s may not be asked, but is there.
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** Takes away what a process that was killed left of the same pack. */
async function sweepHalves(half: string): Promise<void> {
  const folder = path.dirname(half);
  const stem = path.basename(half).replace(/\d+$/u, '');
  for (const name of await readdir(folder)) {
    const left = name.startsWith(stem) ? /^(\d+)(?:\.zip)?$/u.exec(name.slice(stem.length)) : null;
    if (left && !isAlive(Number(left[1])))
      await rm(path.join(folder, name), { recursive: true, force: true });
  }
}

/**
 * Writes the pack. Throws `invalid_input` where the folder or the zip stands already or the scope cannot be, `cancelled`
 * without a trace.
 */
export async function writePack(db: BookDb, pack: Pack, hooks: JobHooks): Promise<PackSummary> {
  const { folder, scope, madeAt, as = 'folder' } = pack;
  if (await exists(folder))
    throw new AppError('invalid_input', `${folder} stands already; it was not touched. Name another.`);
  const resolved = await resolveScope(db, scope);
  const half = `${path.resolve(folder)}.half-${process.pid}`;
  const halfZip = `${half}.zip`;
  try {
    await sweepHalves(half);
    await mkdir(half);
  } catch (error) {
    throw new AppError(
      'invalid_input',
      `${folder} cannot be written: ${error instanceof Error ? error.message : ''}`,
    );
  }
  setHeapGrowth(25);
  try {
    const summary = await writeFiles(db, half, { resolved, madeAt }, hooks);
    if (as === 'zip')
      await zipFolder(
        half,
        { target: halfZip, inside: path.basename(folder, '.zip'), at: new Date(madeAt) },
        hooks,
      );
    if (hooks.cancelled()) throw new AppError('cancelled', '');
    await rename(as === 'zip' ? halfZip : half, folder);
    return { ...summary, name: path.basename(folder) };
  } catch (error) {
    // Whichever part of it was broken off: what was asked for is a pack.
    if (error instanceof AppError && error.code === 'cancelled')
      throw new AppError('cancelled', 'Cancelled; no pack was written.');
    throw error;
  } finally {
    setHeapGrowth(0);
    await rm(half, { recursive: true, force: true });
    await rm(halfZip, { force: true });
  }
}
