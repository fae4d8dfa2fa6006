/** `readings load`: past records from files, all problems in one list, all rows or none. */
import type { BookDb } from '../../db/book.ts';
import { writeBook } from '../../db/book.ts';
import { refreshDue } from '../../db/due.ts';
import { appendCalibration, appendCalibrations, appendReplacement } from '../../db/records.ts';
import type { NewRecord } from '../../db/records.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import type { LoadReport } from '../../shared/contract/register.ts';
import { changeoverOf, setpointFactsOf } from '../bench/setpointFacts.ts';
import type { JobHandler } from '../context.ts';
import { readCsv } from '../csv/readCsv.ts';
import { isPackReadings, loadPackReadings } from '../evidence/loadPackReadings.ts';
import { counted, decodeFiles, inFileOrder } from '../register/loadFiles.ts';
import { cardColumns, readingFileColumns } from './readingColumns.ts';
import { cardLookup, isCardRow, readCardRow } from './readCardRow.ts';
import { readReadingRow } from './readReadingRow.ts';
import type { ReadingLookup, ReadingRow } from './readReadingRow.ts';
import type { KnownPoint } from './readingRules.ts';

const known = new Set([...readingFileColumns, ...cardColumns()].map((column) => column.name));

/** Test points by tag, kind and role; setpoints with the facts that their error follows from. */
async function lookupFor(db: BookDb, tags: ReadonlySet<string>): Promise<ReadingLookup> {
  const points = new Map<string, KnownPoint>();
  const found = new Set<string>();
  const rows = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .leftJoin('controller as c', 'c.device_id', 'd.id')
    .select([
      'c.rated_low_milli',
      'c.rated_high_milli',
      'c.trip_falling_milli',
      'c.trip_rising_milli',
      'd.retired_on',
      'tp.id',
      'd.id as deviceId',
      'd.tag',
      'tp.kind',
      'tp.role',
      'tp.unit',
      'tp.nominal_milli',
      'tp.tolerance_milli',
      'cd.tolerance_milli as class_tolerance',
      'cd.tolerance_left_milli',
      'd.in_service_on',
    ])
    .execute();
  const facts = new Map<number, Awaited<ReturnType<typeof setpointFactsOf>>>();
  for (const row of rows) {
    if (!tags.has(row.tag)) continue;
    found.add(row.tag);
    if (row.kind === 'setpoint' && !facts.has(row.deviceId))
      facts.set(row.deviceId, await setpointFactsOf(db, row.deviceId));
    const setpoint = facts.get(row.deviceId)?.find((one) => one.testPointId === row.id) ?? null;
    points.set(`${row.tag}\u0000${row.kind}\u0000${row.role}`, {
      testPointId: row.id,
      deviceId: row.deviceId,
      tag: row.tag,
      kind: row.kind,
      role: row.role,
      unit: row.unit,
      nominalMilli: row.nominal_milli,
      toleranceMilli: row.tolerance_milli ?? row.class_tolerance ?? 0,
      toleranceLeftMilli: row.tolerance_left_milli ?? row.tolerance_milli ?? 0,
      inServiceOn: row.in_service_on,
      retiredOn: row.retired_on,
      setpoint,
      state:
        setpoint?.calibrationPressureMilli == null
          ? null
          : { role: setpoint.role, airState: setpoint.airState, ...changeoverOf(row) },
    });
  }
  const people = new Map(
    (await db.selectFrom('person').select(['id', 'initials']).execute()).map((row) => [row.initials, row.id]),
  );
  return {
    point: (tag, kind, role) => points.get(`${tag}\u0000${kind}\u0000${role}`) ?? null,
    hasTag: (tag) => found.has(tag),
    personId: (initials) => people.get(initials) ?? null,
  };
}

type Held = {
  outcome: string;
  error_found_milli: number | null;
  error_left_milli: number | null;
  readings: string;
};

function fingerprint(
  row: Omit<Held, 'readings'>,
  readings: readonly {
    phase: string;
    quantity: string;
    value_milli?: number | null;
    value_text?: string | null;
    unit: string;
  }[],
): string {
  return JSON.stringify([
    row.outcome,
    row.error_found_milli ?? null,
    row.error_left_milli ?? null,
    readings.map((one) => [one.phase, one.quantity, one.value_milli ?? one.value_text ?? null, one.unit]),
  ]);
}

/** Fingerprints of the records that the book holds of a test point on a day. */
async function heldOn(db: BookDb, testPointId: number, doneOn: string): Promise<string[]> {
  const rows = await db
    .selectFrom('calibration')
    .select(['id', 'outcome', 'error_found_milli', 'error_left_milli'])
    .where('test_point_id', '=', testPointId)
    .where('done_on', '=', doneOn)
    .execute();
  const held: string[] = [];
  for (const row of rows) {
    const readings = await db
      .selectFrom('reading')
      .select(['phase', 'quantity', 'value_milli', 'value_text', 'unit'])
      .where('calibration_id', '=', row.id)
      .orderBy('position')
      .execute();
    held.push(fingerprint(row, readings));
  }
  return held;
}

type Row = ReadingRow | { card: NewRecord[] };

function recordsOf(row: Row): NewRecord[] {
  return 'card' in row ? row.card : [{ calibration: row.calibration, readings: row.readings }];
}

function dateOf(row: Row): string {
  return recordsOf(row)[0].calibration.done_on;
}

async function writeRows(db: BookDb, rows: readonly Row[], at: string): Promise<void> {
  const points = new Set<number>();
  for (const row of rows) {
    for (const { calibration } of recordsOf(row)) points.add(calibration.test_point_id);
    if ('card' in row) {
      await appendCalibrations(db, row.card);
      continue;
    }
    const id = await appendCalibration(db, row.calibration, row.readings);
    if (row.replaced)
      await appendReplacement(
        db,
        {
          device_id: row.point.deviceId,
          new_device_id: null,
          on_date: row.calibration.done_on,
          calibration_id: id,
          reason: row.calibration.note ?? '',
        },
        at,
      );
  }
  await refreshDue(db, [...points]);
}

export const loadReadings: JobHandler<'records.load'> = async (job, input, hooks) => {
  const { book, clock } = job;
  const files = decodeFiles(input.files);
  if (files.length > 0 && files.every(isPackReadings))
    return loadPackReadings(job, { files, dryRun: input.dryRun }, hooks);
  const problems: InputProblem[] = [];
  const csvRows = files.flatMap((file, index) => {
    hooks.progress(index, files.length, `reading ${file.name}`);
    const read = readCsv(file, input.style.encoding, known);
    problems.push(...read.problems);
    return read.rows;
  });
  const lookup = await lookupFor(book.reader, new Set(csvRows.map((row) => (row.cells.tag ?? '').trim())));
  const cardsOfFile = await cardLookup(book.reader, csvRows, {
    today: clock.today(),
    style: input.style,
  });
  const rows: Row[] = [];
  const seen = new Map<string, number>();
  let unchanged = 0;
  const now = clock.now();
  for (const [index, csvRow] of csvRows.entries()) {
    if (index % 500 === 0) {
      hooks.progress(index, csvRows.length, 'checking rows');
      if (hooks.cancelled()) throw new AppError('cancelled', 'The load was cancelled; nothing was changed.');
    }
    const context = { today: clock.today(), now, problems };
    const row: Row | null = isCardRow(csvRow)
      ? readCardRow(csvRow, input.style, cardsOfFile, context)
      : readReadingRow(csvRow, input.style, lookup, context);
    if (!row) continue;
    const records = recordsOf(row);
    const where = {
      file: csvRow.file,
      line: csvRow.line,
      column: 'done_on',
      value: (csvRow.cells.done_on ?? '').trim(),
    };
    let same = 0;
    let others = 0;
    for (const { calibration, readings } of records) {
      const { test_point_id: point, done_on: doneOn, outcome } = calibration;
      const key = `${point} ${doneOn}`;
      const first = seen.get(key);
      if (first !== undefined)
        problems.push({ ...where, reason: `the same test point and day stand already in line ${first}` });
      seen.set(key, csvRow.line);
      const held = await heldOn(book.reader, point, doneOn);
      const { error_found_milli = null, error_left_milli = null } = calibration;
      if (held.includes(fingerprint({ outcome, error_found_milli, error_left_milli }, readings))) same += 1;
      else if (held.length > 0) others += 1;
    }
    if (same === records.length) unchanged += 1;
    else if (same + others > 0)
      problems.push({
        ...where,
        reason:
          'the book holds another record of this test point on that day; a record is never changed by a file',
      });
    else rows.push(row);
  }
  const report: LoadReport = {
    dryRun: input.dryRun,
    rows: csvRows.length,
    added: rows.length,
    changed: 0,
    unchanged,
    problems: inFileOrder(files, problems),
    message: '',
  };
  if (problems.length > 0)
    return {
      ...report,
      added: 0,
      message: `${counted(problems.length, 'problem')}; nothing was changed.`,
    };
  if (rows.length === 0)
    return {
      ...report,
      message: `${unchanged === 1 ? 'The one record is' : `All ${unchanged} records are`} in the book already; nothing was changed.`,
    };
  if (input.dryRun)
    return {
      ...report,
      message: `Dry run: ${counted(rows.length, 'record')} would be added; nothing was changed.`,
    };
  hooks.progress(0, 1, 'writing');
  if (hooks.cancelled()) throw new AppError('cancelled', 'The load was cancelled; nothing was changed.');
  rows.sort((a, b) => (dateOf(a) < dateOf(b) ? -1 : dateOf(a) > dateOf(b) ? 1 : 0));
  await writeBook(book, (db) => writeRows(db, rows, now));
  return {
    ...report,
    message: `${counted(rows.length, 'record')} added, ${unchanged} were in the book already.`,
  };
};
