/** Calibrations, readings and what follows from them. Rows are only ever appended. */
import type { Insertable, Selectable } from 'kysely';
import { completingOutcomes } from '../shared/trade/words.ts';
import type { BookDb } from './book.ts';
import { appendToChain } from './ledger.ts';
import type {
  CalibrationTable,
  CorrectionTable,
  FollowUpTable,
  ReadingTable,
  ReplacementTable,
  SettingChangeTable,
} from './schema.ts';

export type CalibrationRow = Selectable<CalibrationTable>;
export type NewCalibration = Omit<Insertable<CalibrationTable>, 'id'>;
export type NewReading = Omit<Insertable<ReadingTable>, 'id' | 'calibration_id' | 'position'>;

const calibrationColumns = [
  'id',
  'test_point_id',
  'done_on',
  'started_at',
  'ended_at',
  'person_id',
  'outcome',
  'source',
  'unit',
  'method',
  'method_version',
  'decision_rule',
  'error_found_milli',
  'found_relation',
  'verdict_found',
  'error_left_milli',
  'left_relation',
  'verdict_left',
  'doubt_milli',
  'pressure_gauge_id',
  'temperature_gauge_id',
  'supply_right',
  'snapshot_json',
  'note',
  'doubt_left_milli',
  'conformance_found_ppm',
  'conformance_left_ppm',
  'card_id',
] as const satisfies readonly (keyof CalibrationTable)[];

const readingColumns = [
  'position',
  'phase',
  'quantity',
  'value_milli',
  'value_text',
  'unit',
  'air_state',
] as const satisfies readonly (keyof ReadingTable)[];

/** Columns that came after the first release: an entry names them only where they hold something, so that older entries stay true. */
const laterColumns: ReadonlySet<string> = new Set([
  'doubt_left_milli',
  'conformance_found_ppm',
  'conformance_left_ppm',
  'card_id',
  'value_text',
]);

function withoutUnusedLater<T extends object>(row: T): T {
  const kept = Object.entries(row).filter(([column, value]) => value !== null || !laterColumns.has(column));
  return Object.fromEntries(kept) as T;
}

/** The chain entry of a stored calibration, rebuilt from its rows; null when there is no such row. */
export async function calibrationContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db
    .selectFrom('calibration')
    .select(calibrationColumns)
    .where('id', '=', id)
    .executeTakeFirst();
  if (!row) return null;
  const readings = await db
    .selectFrom('reading')
    .select(readingColumns)
    .where('calibration_id', '=', id)
    .orderBy('position')
    .execute();
  return { row: withoutUnusedLater(row), readings: readings.map(withoutUnusedLater) };
}

export type NewRecord = { calibration: NewCalibration; readings: readonly NewReading[] };

/** Names as they stood when a record was made: ids alone would follow whatever the register says later. */
export type RecordedNames = {
  deviceId: number;
  tag: string;
  kind: string;
  role: string;
  person: string;
  initials: string;
};

async function recordedNames(
  db: BookDb,
  { test_point_id, person_id }: NewCalibration,
): Promise<RecordedNames> {
  return db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .innerJoin('person as p', (join) => join.on('p.id', '=', person_id))
    .select(['d.id as deviceId', 'd.tag', 'tp.kind', 'tp.role', 'p.name as person', 'p.initials'])
    .where('tp.id', '=', test_point_id)
    .executeTakeFirstOrThrow();
}

/** The names that a record keeps; null for one that was made before records kept them. */
export function namesOfRecord(snapshotJson: string): RecordedNames | null {
  return (JSON.parse(snapshotJson) as { names?: RecordedNames }).names ?? null;
}

async function appendWithId(db: BookDb, { calibration, readings }: NewRecord, own: { id: number } | object) {
  const snapshot = JSON.parse(calibration.snapshot_json) as object;
  const { id } = await db
    .insertInto('calibration')
    .values({
      ...calibration,
      ...own,
      snapshot_json: JSON.stringify({ ...snapshot, names: await recordedNames(db, calibration) }),
    })
    .returning('id')
    .executeTakeFirstOrThrow();
  if (readings.length > 0)
    await db
      .insertInto('reading')
      .values(readings.map((reading, index) => ({ ...reading, calibration_id: id, position: index + 1 })))
      .execute();
  await appendToChain(db, {
    kind: 'calibration',
    recordId: id,
    at: calibration.ended_at,
    content: await calibrationContent(db, id),
  });
  return id;
}

/** Appends one calibration with its readings and its chain entry; answers its id. */
export async function appendCalibration(
  db: BookDb,
  calibration: NewCalibration,
  readings: readonly NewReading[],
): Promise<number> {
  return appendWithId(db, { calibration, readings }, {});
}

/** Appends the records of one card, one a test point, tied together by the id of the first; answers their ids in order. */
export async function appendCalibrations(db: BookDb, records: readonly NewRecord[]): Promise<number[]> {
  const last = await db
    .selectFrom('calibration')
    .select((eb) => eb.fn.max('id').as('id'))
    .executeTakeFirst();
  const first = (last?.id ?? 0) + 1;
  const ids: number[] = [];
  for (const [index, record] of records.entries())
    ids.push(await appendWithId(db, record, { id: first + index, card_id: first }));
  return ids;
}

/** The records that were made on the same card as one, itself among them. */
export async function cardOfCalibration(db: BookDb, id: number) {
  const row = await db.selectFrom('calibration').select('card_id').where('id', '=', id).executeTakeFirst();
  const query = db.selectFrom('calibration').select(['id', 'test_point_id', 'card_id']).orderBy('id');
  return row?.card_id == null
    ? query.where('id', '=', id).execute()
    : query.where('card_id', '=', row.card_id).execute();
}

/** Readings of some records, in the order of the records and of each card. */
export async function readingsOf(db: BookDb, calibrationIds: readonly number[]) {
  return db
    .selectFrom('reading')
    .select([...readingColumns, 'calibration_id'])
    .where('calibration_id', 'in', [...calibrationIds])
    .orderBy('calibration_id')
    .orderBy('position')
    .execute();
}

/** The record that replaced one; null when none did. */
export async function replacementOf(db: BookDb, calibrationId: number): Promise<number | null> {
  const row = await db
    .selectFrom('correction')
    .select('replacement_id')
    .where('replaced_id', '=', calibrationId)
    .executeTakeFirst();
  return row?.replacement_id ?? null;
}

/** The chain entry of a stored correction; null when there is no such row. */
export async function correctionContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db
    .selectFrom('correction')
    .select(['id', 'replaced_id', 'replacement_id', 'reason', 'person_id', 'at'])
    .where('id', '=', id)
    .executeTakeFirst();
  return row ?? null;
}

/** Appends one correction with its chain entry: both records stay. */
export async function appendCorrection(
  db: BookDb,
  correction: Omit<Insertable<CorrectionTable>, 'id'>,
): Promise<number> {
  const { id } = await db
    .insertInto('correction')
    .values(correction)
    .returning('id')
    .executeTakeFirstOrThrow();
  await appendToChain(db, {
    kind: 'correction',
    recordId: id,
    at: correction.at,
    content: await correctionContent(db, id),
  });
  return id;
}

const settingChangeColumns = [
  'id',
  'what',
  'subject',
  'device_id',
  'from_value',
  'to_value',
  'at',
  'person_id',
  'why',
] as const satisfies readonly (keyof SettingChangeTable)[];

/** The chain entry of a stored setting change; null when there is no such row. */
export async function settingChangeContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db
    .selectFrom('setting_change')
    .select(settingChangeColumns)
    .where('id', '=', id)
    .executeTakeFirst();
  return row ?? null;
}

/** Appends one change of a setting with its chain entry. */
export async function appendSettingChange(
  db: BookDb,
  change: Omit<Insertable<SettingChangeTable>, 'id'>,
): Promise<number> {
  const { id } = await db
    .insertInto('setting_change')
    .values(change)
    .returning('id')
    .executeTakeFirstOrThrow();
  await appendToChain(db, {
    kind: 'setting change',
    recordId: id,
    at: change.at,
    content: await settingChangeContent(db, id),
  });
  return id;
}

type SettingValue = string | number | boolean | null;

function settingText(value: SettingValue): string | null {
  return value === null ? null : String(value);
}

/** A setting change for each named value that differs; `named` pairs a key with its word, all keys by default. */
export async function appendSettingChanges<T extends { readonly [K in keyof T]: SettingValue }>(
  db: BookDb,
  values: {
    before: Readonly<T>;
    after: Readonly<T>;
    named?: readonly (readonly [keyof T & string, string])[];
  },
  by: { subject: string; at: string; person_id: number | null; why: string },
): Promise<void> {
  const { before, after } = values;
  const named =
    values.named ?? (Object.keys(after) as (keyof T & string)[]).map((key) => [key, key] as const);
  for (const [key, what] of named)
    if (before[key] !== after[key])
      await appendSettingChange(db, {
        ...by,
        what,
        device_id: null,
        from_value: settingText(before[key]),
        to_value: settingText(after[key]),
      });
}

/** The chain entry of a stored replacement; null when there is no such row. */
export async function replacementContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db
    .selectFrom('replacement')
    .select(['id', 'device_id', 'new_device_id', 'on_date', 'calibration_id', 'reason'])
    .where('id', '=', id)
    .executeTakeFirst();
  return row ?? null;
}

/** Appends one replacement with its chain entry. */
export async function appendReplacement(
  db: BookDb,
  replacement: Omit<Insertable<ReplacementTable>, 'id'>,
  at: string,
): Promise<number> {
  const { id } = await db
    .insertInto('replacement')
    .values(replacement)
    .returning('id')
    .executeTakeFirstOrThrow();
  await appendToChain(db, {
    kind: 'replacement',
    recordId: id,
    at,
    content: await replacementContent(db, id),
  });
  return id;
}

/** Opens a follow-up and answers its id. */
export async function openFollowUp(
  db: BookDb,
  followUp: Pick<
    Insertable<FollowUpTable>,
    'device_id' | 'calibration_id' | 'cause' | 'symptom' | 'likely_json' | 'opened_at' | 'opened_by'
  >,
): Promise<number> {
  const { id } = await db.insertInto('follow_up').values(followUp).returning('id').executeTakeFirstOrThrow();
  return id;
}

export type CalibrationListRow = CalibrationRow & {
  kind: string;
  role: string;
  person_initials: string;
  replaced_by: number | null;
};

function listQuery(db: BookDb) {
  return db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .innerJoin('person as p', 'p.id', 'c.person_id')
    .leftJoin('correction as x', 'x.replaced_id', 'c.id')
    .select(calibrationColumns.map((column) => `c.${column}` as const))
    .select(['tp.kind', 'tp.role', 'p.initials as person_initials', 'x.replacement_id as replaced_by']);
}

/** The newest calibrations of a device, newest first. */
export async function recentCalibrations(
  db: BookDb,
  deviceId: number,
  limit: number,
): Promise<CalibrationListRow[]> {
  return listQuery(db)
    .where('tp.device_id', '=', deviceId)
    .orderBy('c.done_on', 'desc')
    .orderBy('c.id', 'desc')
    .limit(limit)
    .execute();
}

/** The newest record of each test point of a device, corrected or not. */
export async function newestRecords(db: BookDb, deviceId: number): Promise<Map<number, number>> {
  const rows = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .select(['c.test_point_id', (eb) => eb.fn.max('c.id').as('newest')])
    .where('tp.device_id', '=', deviceId)
    .groupBy('c.test_point_id')
    .execute();
  return new Map(rows.map((row) => [row.test_point_id, row.newest]));
}

/** Date of the last completed calibration that was not corrected, for each of some test points. */
export async function lastDone(db: BookDb, testPointIds: readonly number[]): Promise<Map<number, string>> {
  const rows = await db
    .selectFrom('calibration as c')
    .leftJoin('correction as x', 'x.replaced_id', 'c.id')
    .select(['c.test_point_id', (eb) => eb.fn.max('c.done_on').as('done_on')])
    .where('c.test_point_id', 'in', [...testPointIds])
    .where('c.outcome', 'in', [...completingOutcomes])
    .where('x.id', 'is', null)
    .groupBy('c.test_point_id')
    .execute();
  return new Map(rows.map((row) => [row.test_point_id, row.done_on]));
}
