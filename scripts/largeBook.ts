/** Large books for the benchmarks, written straight into the tables: controllers of one setpoint on one main. */
import type { BookDb } from '../db/book.ts';

export type LargeBook = { person: number; building: number; level: number; main: number };

/** A person, a place and a main without a feed. */
export async function startLargeBook(db: BookDb): Promise<LargeBook> {
  const { id: person } = await db
    .insertInto('person')
    .values({ name: 'Orla Venn', initials: 'OV', skills: '[]' })
    .returning('id')
    .executeTakeFirstOrThrow();
  const { id: building } = await db
    .insertInto('building')
    .values({ code: 'B' })
    .returning('id')
    .executeTakeFirstOrThrow();
  const { id: level } = await db
    .insertInto('level')
    .values({ building_id: building, code: '1' })
    .returning('id')
    .executeTakeFirstOrThrow();
  const { id: main } = await db
    .insertInto('device')
    .values({ tag: 'M', class: 'main', pressure_unit: 'psi', in_service_on: '1970-01-01' })
    .returning('id')
    .executeTakeFirstOrThrow();
  await db
    .insertInto('main')
    .values({ device_id: main, main_kind: 'single', low_pressure_milli: 20_000 })
    .execute();
  return { person, building, level, main };
}

/** The controller of a number; its device and its test point. What is derived of it is the caller's to refresh. */
export async function addController(
  db: BookDb,
  { building, level, main }: LargeBook,
  number: number,
): Promise<{ device: number; point: number }> {
  const { id: device } = await db
    .insertInto('device')
    .values({
      tag: `TC-${String(number).padStart(6, '0')}`,
      class: 'controller',
      building_id: building,
      level_id: level,
      pressure_unit: 'psi',
      temperature_unit: 'degF',
      in_service_on: '1970-01-01',
    })
    .returning('id')
    .executeTakeFirstOrThrow();
  await db.insertInto('controller').values({ device_id: device, controller_kind: 'single' }).execute();
  await db
    .insertInto('supplies')
    .values({ from_id: main, to_id: device, port: 'air', position: 0 })
    .execute();
  const { id: point } = await db
    .insertInto('test_point')
    .values({ device_id: device, kind: 'setpoint', role: 'only', unit: 'degF', nominal_milli: 71_000 })
    .returning('id')
    .executeTakeFirstOrThrow();
  await db
    .insertInto('setpoint')
    .values({
      test_point_id: point,
      role: 'only',
      action: 'direct',
      dial_milli: 71_000,
      throttling_range_milli: 4_000,
      output_low_milli: 3_000,
      output_high_milli: 13_000,
      calibration_basis: 'output midpoint',
    })
    .execute();
  return { device, point };
}
