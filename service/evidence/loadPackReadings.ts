/**
 * Loads readings.csv of an evidence pack into a book that holds its register: the records as they stood, so that the same
 * drift follows. Retracted records are left out, and counted. People whom the book does not know are added by their initials.
 */
import type { BookDb } from '../../db/book.ts';
import { writeBook } from '../../db/book.ts';
import { replacementDays } from '../../db/drift.ts';
import { refreshDue } from '../../db/due.ts';
import { appendCalibration, appendReplacement } from '../../db/records.ts';
import type { NewCalibration, NewReading } from '../../db/records.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import type { LoadReport } from '../../shared/contract/register.ts';
import { isPlainDate } from '../../shared/dates/plainDate.ts';
import { decisionRules } from '../../shared/trade/doubt.ts';
import { relations } from '../../shared/trade/setpointError.ts';
import { airStates } from '../../shared/trade/switchover.ts';
import { outcomes } from '../../shared/trade/words.ts';
import { parseMilli } from '../../shared/units/units.ts';
import type { JobContext, JobHooks } from '../context.ts';
import { readCsv } from '../csv/readCsv.ts';
import type { CsvFile, CsvRow } from '../csv/readCsv.ts';
import { counted, inFileOrder } from '../register/loadFiles.ts';
import { REPLACEMENT, readingColumns } from './recordTables.ts';
import { unitOfUcum } from './units.ts';

const known: ReadonlySet<string> = new Set(readingColumns);
/** Before the method of the original: what follows from another book's card is not worked out again here. */
const FROM_A_PACK = 'evidence 1 of ';

/** A file whose first line names the readings of a pack. */
export function isPackReadings({ bytes }: CsvFile): boolean {
  return new TextDecoder()
    .decode(bytes.subarray(0, 64))
    .replace('\uFEFF', '')
    .startsWith('reading_id,phase,');
}

type Loaded = { calibration: NewCalibration; readings: NewReading[]; initials: string; line: CsvRow };
type Replaced = { deviceId: number; on: string; reason: string };

type Book = {
  points: ReadonlyMap<string, { id: number; deviceId: number; unit: string }>;
  devices: ReadonlyMap<string, number>;
  gauges: ReadonlyMap<string, number>;
  held: ReadonlySet<string>;
  replacements: ReadonlyMap<number, ReadonlySet<string>>;
};

async function bookOf(db: BookDb): Promise<Book> {
  const points = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .select(['tp.id', 'd.id as deviceId', 'd.tag', 'tp.kind', 'tp.role', 'tp.unit'])
    .execute();
  const devices = await db.selectFrom('device').select(['id', 'tag']).execute();
  const gauges = await db.selectFrom('gauge').select(['id', 'tag']).execute();
  const held = await db
    .selectFrom('calibration')
    .select(['test_point_id', 'done_on', 'outcome', 'error_found_milli', 'error_left_milli'])
    .execute();
  return {
    points: new Map(points.map(({ tag, kind, role, ...rest }) => [JSON.stringify([tag, kind, role]), rest])),
    devices: new Map(devices.map(({ id, tag }) => [tag, id])),
    gauges: new Map(gauges.map(({ id, tag }) => [tag, id])),
    held: new Set(held.map((row) => fingerprint(row))),
    replacements: await replacementDays(db),
  };
}

function fingerprint(row: {
  test_point_id: number;
  done_on: string;
  outcome: string;
  error_found_milli?: number | null;
  error_left_milli?: number | null;
}): string {
  return JSON.stringify([
    row.test_point_id,
    row.done_on,
    row.outcome,
    row.error_found_milli ?? null,
    row.error_left_milli ?? null,
  ]);
}

/** Reads a cell, or notes why it cannot be. */
function cellReader(row: CsvRow, problems: InputProblem[]) {
  const text = (name: string): string => (row.cells[name] ?? '').trim();
  const fail = (column: string, reason: string): null => {
    problems.push({ file: row.file, line: row.line, column, value: text(column), reason });
    return null;
  };
  return {
    text,
    fail,
    milli: (name: string): number | null =>
      text(name) === ''
        ? null
        : (parseMilli(text(name)) ?? fail(name, 'not a number with at most three decimals')),
    choice: <T extends string>(name: string, choices: readonly T[]): T | null =>
      text(name) === ''
        ? null
        : (choices.find((one) => one === text(name)) ?? fail(name, `one of: ${choices.join(', ')}`)),
    unit: (name: string) =>
      text(name) === ''
        ? null
        : (unitOfUcum(text(name)) ?? fail(name, 'no unit of this program, as UCUM writes it')),
  };
}

const verdicts = ['inside', 'inside, in doubt', 'outside, in doubt', 'outside', 'unknown'] as const;
const methods = ['M1', 'M2', 'M3', 'typed', 'read', 'proved', 'test pressure'] as const;
const phases = { as_found: 'found', as_left: 'left', check: 'check', restored: 'restored' } as const;

/** One record from its rows, the first of which says what all repeat. */
function recordOf(
  rows: readonly CsvRow[],
  book: Book,
  context: { now: string; today: string; problems: InputProblem[] },
): Loaded | null {
  const [first] = rows;
  const before = context.problems.length;
  const { text, fail, milli, choice, unit } = cellReader(first, context.problems);
  const point = book.points.get(JSON.stringify([text('asset'), text('test_point'), text('role')]));
  if (!point) {
    fail(
      'asset',
      `the book has no such test point (${text('test_point')} ${text('role')}): load register.csv of the pack first`,
    );
    return null;
  }
  const doneOn = text('observed_on');
  if (!isPlainDate(doneOn)) fail('observed_on', 'not a date of the form YYYY-MM-DD that exists');
  else if (doneOn > context.today) fail('observed_on', 'lies in the future');
  if (text('person') === '') fail('person', 'needed on every row');
  const outcome = choice('outcome', outcomes);
  if (text('outcome') === '') fail('outcome', 'needed on every row');
  const valueUnit = unit('value_unit');
  const pressureUnit = unit('pressure_unit') ?? 'psi';
  const readings = rows.flatMap((row): NewReading[] => {
    const own = cellReader(row, context.problems);
    if (own.text('property') === '') return [];
    const phase = Object.entries(phases).find(([name]) => name === own.text('phase'))?.[1];
    if (phase === undefined) own.fail('phase', `one of: ${Object.keys(phases).join(', ')}`);
    const valueMilli = own.milli('value');
    const valueText = own.text('text_value');
    if ((valueMilli === null) === (valueText === ''))
      own.fail('value', 'a reading has a value or a text, and not both');
    return [
      {
        phase: phase ?? 'found',
        // Packs of before had the code alone.
        quantity: own.text('quantity') || own.text('property').replaceAll('_', ' '),
        value_milli: valueMilli,
        value_text: valueText === '' ? null : valueText,
        unit: own.unit('unit') ?? 'none',
        air_state: own.choice('air_state', airStates),
      },
    ];
  });
  const calibration: NewCalibration = {
    test_point_id: point.id,
    done_on: doneOn,
    started_at: null,
    ended_at: context.now,
    person_id: 0,
    outcome: outcome ?? 'not tested',
    source: 'file',
    unit: valueUnit ?? (point.unit as 'psi'),
    method: choice('method', methods),
    method_version: `${FROM_A_PACK}${text('method_version')}`,
    decision_rule: choice('decision_rule', decisionRules) ?? 'simple acceptance',
    error_found_milli: milli('error_found'),
    found_relation: choice('found_relation', relations) ?? (text('error_found') === '' ? null : '='),
    verdict_found: choice('verdict_found', verdicts),
    error_left_milli: milli('error_left'),
    left_relation: choice('left_relation', relations) ?? (text('error_left') === '' ? null : '='),
    verdict_left: choice('verdict_left', verdicts),
    doubt_milli: milli('doubt_k2'),
    pressure_gauge_id: book.gauges.get(text('pressure_gauge')) ?? null,
    temperature_gauge_id: book.gauges.get(text('temperature_gauge')) ?? null,
    supply_right: text('supply_right') === 'no' ? 0 : 1,
    snapshot_json: JSON.stringify({
      tag: text('asset'),
      kind: text('test_point'),
      action: choice('action', ['direct', 'reverse']),
      throttlingRangeMilli: milli('throttling_range'),
      outputLowMilli: milli('output_low'),
      outputHighMilli: milli('output_high'),
      calibrationPressureMilli: milli('calibration_pressure'),
      nominalMilli: milli('intended_value'),
      toleranceMilli: milli('tolerance'),
      toleranceLeftMilli: milli('tolerance'),
      pressureUnit,
      temperatureUnit: valueUnit,
      ...(text('repaired') === 'yes' ? { ticks: { repaired: true } } : {}),
      pack: { record: text('record_id'), sequence: text('sequence') },
    }),
    note: '',
  };
  return context.problems.length > before
    ? null
    : { calibration, readings, initials: text('person'), line: first };
}

/** Ids of people by initials; who is missing is added, for who took a reading must be named. */
async function peopleOf(db: BookDb, initials: ReadonlySet<string>): Promise<Map<string, number>> {
  const ids = new Map(
    (await db.selectFrom('person').select(['id', 'initials']).execute()).map((row) => [row.initials, row.id]),
  );
  for (const own of [...initials].toSorted()) {
    if (ids.has(own)) continue;
    const { id } = await db
      .insertInto('person')
      .values({ name: `${own}, of an evidence pack`, initials: own, active: 0 })
      .returning('id')
      .executeTakeFirstOrThrow();
    ids.set(own, id);
  }
  return ids;
}

async function write(
  db: BookDb,
  { records, replaced, now }: { records: readonly Loaded[]; replaced: readonly Replaced[]; now: string },
): Promise<void> {
  const people = await peopleOf(db, new Set(records.map(({ initials }) => initials)));
  const points = new Set<number>();
  for (const { calibration, readings, initials } of records) {
    await appendCalibration(db, { ...calibration, person_id: people.get(initials) ?? 0 }, readings);
    points.add(calibration.test_point_id);
  }
  for (const { deviceId, on, reason } of replaced)
    await appendReplacement(
      db,
      {
        device_id: deviceId,
        new_device_id: null,
        on_date: on,
        calibration_id: null,
        reason,
      },
      now,
    );
  await refreshDue(db, [...points]);
}

/** All rows or none; a pack that is loaded again changes nothing. */
export async function loadPackReadings(
  { book, clock }: JobContext,
  { files, dryRun }: { files: readonly CsvFile[]; dryRun: boolean },
  hooks: JobHooks,
): Promise<LoadReport> {
  const problems: InputProblem[] = [];
  const rows = files.flatMap((file) => {
    hooks.progress(0, 1, `reading ${file.name}`);
    const read = readCsv(file, 'utf-8', known);
    problems.push(...read.problems);
    return read.rows;
  });
  const held = await bookOf(book.reader);
  const now = clock.now();
  const context = { now, today: clock.today(), problems };
  const records: Loaded[] = [];
  const replaced: Replaced[] = [];
  let [unchanged, retracted] = [0, 0];
  for (let start = 0; start < rows.length;) {
    if (hooks.cancelled()) throw new AppError('cancelled', 'The load was cancelled; nothing was changed.');
    const { cells, file } = rows[start];
    let end = start + 1;
    if (cells.property !== REPLACEMENT)
      while (end < rows.length && rows[end].file === file && rows[end].cells.record_id === cells.record_id)
        end += 1;
    const own = rows.slice(start, end);
    start = end;
    if (cells.property === REPLACEMENT) {
      const deviceId = held.devices.get(cells.asset);
      if (deviceId === undefined) cellReader(own[0], problems).fail('asset', 'no device has this tag');
      else if (!isPlainDate(cells.observed_on))
        cellReader(own[0], problems).fail('observed_on', 'not a date of the form YYYY-MM-DD that exists');
      else if (!held.replacements.get(deviceId)?.has(cells.observed_on))
        replaced.push({
          deviceId,
          on: cells.observed_on,
          // Packs of before did not say why.
          reason: cells.text_value || 'of an evidence pack',
        });
    } else if (cells.quality === 'retracted') retracted += 1;
    else {
      const record = recordOf(own, held, context);
      if (!record) continue;
      if (held.held.has(fingerprint(record.calibration))) unchanged += 1;
      else records.push(record);
    }
    if (start % 5_000 < own.length) hooks.progress(start, rows.length, 'checking rows');
  }
  const left = retracted === 0 ? '' : ` ${counted(retracted, 'retracted record')} left out.`;
  const report: LoadReport = {
    dryRun,
    rows: rows.length,
    added: records.length,
    changed: 0,
    unchanged,
    problems: inFileOrder(files, problems),
    message: '',
  };
  if (problems.length > 0)
    return { ...report, added: 0, message: `${counted(problems.length, 'problem')}; nothing was changed.` };
  if (records.length === 0 && replaced.length === 0)
    return {
      ...report,
      message: `All ${unchanged} records are in the book already; nothing was changed.${left}`,
    };
  if (dryRun)
    return {
      ...report,
      message: `Dry run: ${counted(records.length, 'record')} would be added; nothing was changed.${left}`,
    };
  hooks.progress(0, 1, 'writing');
  records.sort((a, b) => a.calibration.done_on.localeCompare(b.calibration.done_on));
  await writeBook(book, (db) => write(db, { records, replaced, now }));
  return {
    ...report,
    message: `${counted(records.length, 'record')} added, ${unchanged} were in the book already.${left}`,
  };
}
