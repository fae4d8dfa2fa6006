/**
 * Due dates: kept with each test point, written in the same transaction as whatever moves them, and read by
 * index. `verify` recomputes them all.
 */
import { dueOn, intervalOf } from '../shared/trade/due.ts';
import type { Selectable } from 'kysely';
import type { BookDb } from './book.ts';
import { lastDone } from './records.ts';
import type { ClassDefaultTable } from './schema.ts';

const CHUNK = 500;

export type DueFactsRow = {
  id: number;
  intervalDays: number;
  inServiceOn: string | null;
  lastDoneOn: string | null;
  storedDueOn: string | null;
  storedLastDoneOn: string | null;
};

/** The facts that due dates follow from, for some test points. */
async function dueFacts(db: BookDb, ids: readonly number[]): Promise<DueFactsRow[]> {
  const rows = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .select([
      'tp.id',
      'tp.interval_days as ownInterval',
      'd.interval_days as deviceInterval',
      'cd.interval_days as classInterval',
      'd.in_service_on',
      'tp.due_on',
      'tp.last_done_on',
    ])
    .where('tp.id', 'in', [...ids])
    .execute();
  const done = await lastDone(db, ids);
  return rows.map((row) => ({
    id: row.id,
    intervalDays: intervalOf(row),
    inServiceOn: row.in_service_on,
    lastDoneOn: done.get(row.id) ?? null,
    storedDueOn: row.due_on,
    storedLastDoneOn: row.last_done_on,
  }));
}

function dueOf(facts: DueFactsRow): string | null {
  if (facts.inServiceOn === null) return null;
  return dueOn({
    lastDoneOn: facts.lastDoneOn,
    intervalDays: facts.intervalDays,
    inServiceOn: facts.inServiceOn,
  });
}

/** Recomputes and stores the due dates of some test points; call it inside the transaction that moved them. */
export async function refreshDue(db: BookDb, testPointIds: readonly number[]): Promise<void> {
  for (let start = 0; start < testPointIds.length; start += CHUNK) {
    for (const facts of await dueFacts(db, testPointIds.slice(start, start + CHUNK))) {
      const due = dueOf(facts);
      if (due === facts.storedDueOn && facts.lastDoneOn === facts.storedLastDoneOn) continue;
      await db
        .updateTable('test_point')
        .set({ due_on: due, last_done_on: facts.lastDoneOn })
        .where('id', '=', facts.id)
        .execute();
    }
  }
}

/** Recomputes the due dates of a class's test points, when the interval of the class was changed. */
export async function refreshDueOfClass(
  db: BookDb,
  { kind, unit }: Pick<Selectable<ClassDefaultTable>, 'kind' | 'unit'>,
): Promise<void> {
  const points = await db
    .selectFrom('test_point')
    .select('id')
    .where('kind', '=', kind)
    .where('unit', '=', unit)
    .execute();
  await refreshDue(
    db,
    points.map(({ id }) => id),
  );
}

/** Test points whose stored due date is not what the records say; for `verify`. */
export async function wrongDueDates(db: BookDb): Promise<number[]> {
  const wrong: number[] = [];
  let last = 0;
  for (;;) {
    const ids = await db
      .selectFrom('test_point')
      .select('id')
      .where('id', '>', last)
      .orderBy('id')
      .limit(CHUNK)
      .execute();
    if (ids.length === 0) return wrong;
    last = ids[ids.length - 1].id;
    for (const facts of await dueFacts(
      db,
      ids.map((row) => row.id),
    ))
      if (dueOf(facts) !== facts.storedDueOn || facts.lastDoneOn !== facts.storedLastDoneOn)
        wrong.push(facts.id);
  }
}

export type DueLedgerRow = {
  testPointId: number;
  deviceId: number;
  tag: string;
  class: string;
  kind: string;
  role: string;
  building: string | null;
  level: string | null;
  room: string | null;
  main: string | null;
  airState: 'low' | 'high' | null;
  unit: string;
  lastDoneOn: string | null;
  dueOn: string;
};

export type DueFilter = { until?: string; from?: string; limit?: number; neverDone?: boolean };

/** The due ledger by due date, earliest first. Retired devices and inactive test points stay out. */
export function dueLedgerQuery(db: BookDb, filter: DueFilter) {
  let query = db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select([
      'tp.id as testPointId',
      'd.id as deviceId',
      'd.tag',
      'd.class',
      'tp.kind',
      'tp.role',
      'b.code as building',
      'l.code as level',
      'r.code as room',
      'm.tag as main',
      'tp.air_state as airState',
      'tp.unit',
      'tp.last_done_on as lastDoneOn',
      'tp.due_on as dueOn',
    ])
    .where('tp.active', '=', 1)
    .where('tp.due_on', 'is not', null)
    .orderBy('tp.due_on')
    .orderBy('tp.id');
  if (filter.from !== undefined) query = query.where('tp.due_on', '>=', filter.from);
  if (filter.until !== undefined) query = query.where('tp.due_on', '<=', filter.until);
  if (filter.neverDone) query = query.where('tp.last_done_on', 'is', null);
  if (filter.limit !== undefined) query = query.limit(filter.limit);
  return query;
}

/** Rows of the due ledger. */
export async function dueLedger(db: BookDb, filter: DueFilter): Promise<DueLedgerRow[]> {
  const rows = await dueLedgerQuery(db, filter).execute();
  return rows.map((row) => ({ ...row, dueOn: row.dueOn as string }));
}

/** How many active test points fall due on each day of a span, for counts and the month chart. */
export async function dueCountsByDay(
  db: BookDb,
  span: { from?: string; to?: string },
): Promise<{ dueOn: string; count: number }[]> {
  let query = db
    .selectFrom('test_point')
    .select(['due_on', (eb) => eb.fn.countAll<number>().as('count')])
    .where('active', '=', 1)
    .where('due_on', 'is not', null)
    .groupBy('due_on')
    .orderBy('due_on');
  if (span.from !== undefined) query = query.where('due_on', '>=', span.from);
  if (span.to !== undefined) query = query.where('due_on', '<=', span.to);
  return (await query.execute()).map((row) => ({ dueOn: row.due_on as string, count: row.count }));
}

/** Active test points that were never calibrated. */
export async function countNeverDone(db: BookDb): Promise<number> {
  const row = await db
    .selectFrom('test_point')
    .select((eb) => eb.fn.countAll<number>().as('count'))
    .where('active', '=', 1)
    .where('due_on', 'is not', null)
    .where('last_done_on', 'is', null)
    .executeTakeFirstOrThrow();
  return row.count;
}
