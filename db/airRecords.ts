/** Tests of stations, measured bleeds and leaks. Rows are only ever appended, each with its entry in the chain. */
import type { Insertable } from 'kysely';
import type { BookDb } from './book.ts';
import { appendToChain } from './ledger.ts';
import type { AirTestReadingTable, AirTestTable, LeakMendedTable, LeakTable } from './schema.ts';

const testColumns = [
  'id',
  'device_id',
  'kind',
  'done_on',
  'person_id',
  'pressure_gauge_id',
  'method_version',
  'flow_scim_milli',
  'share_ppm',
  'note',
  'replaces_id',
  'reason',
  'snapshot_json',
  'at',
] as const satisfies readonly (keyof AirTestTable)[];

const leakColumns = [
  'id',
  'device_id',
  'place',
  'found_on',
  'person_id',
  'diameter_micro',
  'diameter_unit',
  'pressure_milli',
  'pressure_unit',
  'coefficient_milli',
  'method_version',
  'low_scim_milli',
  'typical_scim_milli',
  'high_scim_milli',
  'note',
  'replaces_id',
  'reason',
  'snapshot_json',
  'at',
] as const satisfies readonly (keyof LeakTable)[];

export type NewAirTest = Omit<Insertable<AirTestTable>, 'id'>;
export type NewAirTestReading = Omit<Insertable<AirTestReadingTable>, 'id' | 'air_test_id' | 'position'>;

/** The chain entry of a stored test; null when there is no such row. */
export async function airTestContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db.selectFrom('air_test').select(testColumns).where('id', '=', id).executeTakeFirst();
  if (!row) return null;
  const readings = await db
    .selectFrom('air_test_reading')
    .select(['position', 'quantity', 'value_milli', 'unit'])
    .where('air_test_id', '=', id)
    .orderBy('position')
    .execute();
  return { row, readings };
}

/** Appends one test with its readings and its chain entry; answers its id. */
export async function appendAirTest(
  db: BookDb,
  test: NewAirTest,
  readings: readonly NewAirTestReading[],
): Promise<number> {
  const { id } = await db.insertInto('air_test').values(test).returning('id').executeTakeFirstOrThrow();
  if (readings.length > 0)
    await db
      .insertInto('air_test_reading')
      .values(readings.map((reading, index) => ({ ...reading, air_test_id: id, position: index + 1 })))
      .execute();
  await appendToChain(db, {
    kind: 'air test',
    recordId: id,
    at: test.at,
    content: await airTestContent(db, id),
  });
  return id;
}

/** The chain entry of a stored leak; null when there is no such row. */
export async function leakContent(db: BookDb, id: number): Promise<unknown> {
  return (await db.selectFrom('leak').select(leakColumns).where('id', '=', id).executeTakeFirst()) ?? null;
}

/** Appends one leak with its chain entry; answers its id. */
export async function appendLeak(db: BookDb, leak: Omit<Insertable<LeakTable>, 'id'>): Promise<number> {
  const { id } = await db.insertInto('leak').values(leak).returning('id').executeTakeFirstOrThrow();
  await appendToChain(db, { kind: 'leak', recordId: id, at: leak.at, content: await leakContent(db, id) });
  return id;
}

/** The chain entry of a mended leak; null when there is no such row. */
export async function leakMendedContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db
    .selectFrom('leak_mended')
    .select(['id', 'leak_id', 'mended_on', 'person_id', 'note', 'at'])
    .where('id', '=', id)
    .executeTakeFirst();
  return row ?? null;
}

/** Appends that a leak was mended, with its chain entry; answers its id. */
export async function appendLeakMended(
  db: BookDb,
  mended: Omit<Insertable<LeakMendedTable>, 'id'>,
): Promise<number> {
  const { id } = await db.insertInto('leak_mended').values(mended).returning('id').executeTakeFirstOrThrow();
  await appendToChain(db, {
    kind: 'leak mended',
    recordId: id,
    at: mended.at,
    content: await leakMendedContent(db, id),
  });
  return id;
}

/** Tests of a device with their readings, oldest first; the ones that were corrected among them. */
export async function airTestsOf(db: BookDb, deviceId: number) {
  const tests = await db
    .selectFrom('air_test as t')
    .innerJoin('person as p', 'p.id', 't.person_id')
    .leftJoin('air_test as by', 'by.replaces_id', 't.id')
    .select(testColumns.map((column) => `t.${column}` as const))
    .select(['p.initials', 'by.id as replacedBy'])
    .where('t.device_id', '=', deviceId)
    .orderBy('t.done_on')
    .orderBy('t.id')
    .execute();
  const readings = await db
    .selectFrom('air_test_reading as r')
    .innerJoin('air_test as t', 't.id', 'r.air_test_id')
    .select(['r.air_test_id', 'r.quantity', 'r.value_milli', 'r.unit'])
    .where('t.device_id', '=', deviceId)
    .orderBy('r.air_test_id')
    .orderBy('r.position')
    .execute();
  const byTest = new Map<number, typeof readings>();
  for (const reading of readings)
    byTest.set(reading.air_test_id, [...(byTest.get(reading.air_test_id) ?? []), reading]);
  return tests.map((test) => ({ ...test, readings: byTest.get(test.id) ?? [] }));
}
export type StoredAirTest = Awaited<ReturnType<typeof airTestsOf>>[number];

/** Every leak of the book, newest first, with who mended it and when, and with the entry that corrects it. */
export async function allLeaks(db: BookDb) {
  return db
    .selectFrom('leak as k')
    .innerJoin('device as d', 'd.id', 'k.device_id')
    .innerJoin('person as p', 'p.id', 'k.person_id')
    .leftJoin('leak as n', 'n.replaces_id', 'k.id')
    .leftJoin('leak_mended as m', 'm.leak_id', 'k.id')
    .leftJoin('person as q', 'q.id', 'm.person_id')
    .select(leakColumns.map((column) => `k.${column}` as const))
    .select([
      'n.id as replacedBy',
      'd.retired_on',
      'd.tag',
      'p.initials',
      'm.mended_on',
      'm.note as mendedNote',
      'q.initials as mendedBy',
    ])
    .orderBy('k.found_on', 'desc')
    .orderBy('k.id', 'desc')
    .execute();
}
