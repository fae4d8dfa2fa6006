/** Reading the register for screens: the list, its filters, one device's page. */
import { sql } from 'kysely';
import type { DeviceClass } from '../shared/trade/words.ts';
import type { BookDb } from './book.ts';

export type RegisterListFilter = {
  find: string;
  class: DeviceClass | null;
  mainId: number | null;
  levelId: number | null;
  state: 'in service' | 'retired' | 'all';
};

/** Full-text words as an FTS5 expression: every word must occur, each as a prefix; quotes made harmless. */
function searchExpression(find: string): string {
  return find
    .split(/\s+/)
    .filter((word) => word !== '')
    .map((word) => `"${word.replaceAll('"', '""')}"*`)
    .join(' ');
}

function filtered(db: BookDb, filter: RegisterListFilter) {
  let query = db.selectFrom('device as d');
  if (filter.class !== null) query = query.where('d.class', '=', filter.class);
  if (filter.mainId !== null) query = query.where('d.main_id', '=', filter.mainId);
  if (filter.levelId !== null) query = query.where('d.level_id', '=', filter.levelId);
  if (filter.state === 'in service') query = query.where('d.retired_on', 'is', null);
  if (filter.state === 'retired') query = query.where('d.retired_on', 'is not', null);
  const words = searchExpression(filter.find);
  if (words !== '')
    query = query.where(
      'd.id',
      'in',
      sql<number>`(select rowid from device_search where device_search match ${words})`,
    );
  return query;
}

/** One page of the register by tag. */
export function registerPageQuery(
  db: BookDb,
  filter: RegisterListFilter,
  page: { offset: number; limit: number },
) {
  return filtered(db, filter)
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select([
      'd.id',
      'd.tag',
      'd.class',
      'd.name',
      'b.code as building',
      'l.code as level',
      'r.code as room',
      'm.tag as main',
      'd.in_service_on as inServiceOn',
      'd.retired_on as retiredOn',
    ])
    .orderBy('d.tag')
    .offset(page.offset)
    .limit(page.limit);
}

/** How many devices a filter lets through. */
export async function countRegister(db: BookDb, filter: RegisterListFilter): Promise<number> {
  const row = await filtered(db, filter)
    .select((eb) => eb.fn.countAll<number>().as('count'))
    .executeTakeFirstOrThrow();
  return row.count;
}

/** Mains, levels and classes that occur, for the filters. */
export async function registerFacets(db: BookDb) {
  const mains = await db
    .selectFrom('device')
    .select(['id', 'tag'])
    .where('class', '=', 'main')
    .orderBy('tag')
    .execute();
  const levels = await db
    .selectFrom('level as l')
    .innerJoin('building as b', 'b.id', 'l.building_id')
    .select(['l.id', 'b.code as building', 'l.code', 'l.name'])
    .orderBy('b.code')
    .orderBy('l.sort_order')
    .orderBy('l.code')
    .execute();
  const classes = await db
    .selectFrom('device')
    .select(['class', (eb) => eb.fn.countAll<number>().as('count')])
    .groupBy('class')
    .orderBy('class')
    .execute();
  return { mains, levels, classes };
}

/** Id of the device with a tag; null when there is none. */
export async function deviceIdOfTag(db: BookDb, tag: string): Promise<number | null> {
  const row = await db.selectFrom('device').select('id').where('tag', '=', tag).executeTakeFirst();
  return row?.id ?? null;
}

/** What feeds a device, or what it feeds. */
export async function supplyLinks(db: BookDb, id: number, direction: 'feeders' | 'fed') {
  const [own, other] =
    direction === 'feeders' ? (['s.to_id', 's.from_id'] as const) : (['s.from_id', 's.to_id'] as const);
  return db
    .selectFrom('supplies as s')
    .innerJoin('device as d', 'd.id', other)
    .select(['d.id', 'd.tag', 'd.class', 'd.name', 's.port'])
    .where(own, '=', id)
    .orderBy('d.class')
    .orderBy('d.tag')
    .execute();
}

/** Test points of a device with what they inherit from their class. */
export async function testPointsOfDevice(db: BookDb, deviceId: number) {
  return db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .select((eb) => [
      'tp.id',
      'tp.kind',
      'tp.role',
      'tp.air_state',
      'tp.nominal_milli',
      'tp.unit',
      'tp.last_done_on',
      'tp.due_on',
      'tp.active',
      'tp.version',
      eb.fn.coalesce('tp.tolerance_milli', 'cd.tolerance_milli').as('tolerance_milli'),
      eb.fn.coalesce('tp.interval_days', 'd.interval_days', 'cd.interval_days').as('interval_days'),
      eb.fn.coalesce('tp.minutes', 'cd.minutes').as('minutes'),
      'cd.tolerance_left_milli',
      'cd.action_limit_milli',
      'cd.weight',
    ])
    .where('tp.device_id', '=', deviceId)
    .orderBy('tp.id')
    .execute();
}

/** Setting changes of a device, newest first. */
export async function changesOfDevice(db: BookDb, deviceId: number, limit: number) {
  return db
    .selectFrom('setting_change as s')
    .leftJoin('person as p', 'p.id', 's.person_id')
    .select([
      's.id',
      's.what',
      's.from_value as from',
      's.to_value as to',
      's.at',
      'p.initials as person',
      's.why',
    ])
    .where('s.device_id', '=', deviceId)
    .orderBy('s.id', 'desc')
    .limit(limit)
    .execute();
}
