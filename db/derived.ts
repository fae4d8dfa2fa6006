/**
 * What follows from the supply path and is kept with each device: the main it hangs on, the air state that
 * each of its setpoints asks for, and its words for full-text find. Refreshed in the transaction of the edit.
 */
import { sql } from 'kysely';
import { airStateOfRole } from '../shared/register/testPoints.ts';
import { deviceClassLabels } from '../shared/trade/words.ts';
import type { BookDb } from './book.ts';
import { refreshDue } from './due.ts';

const CHUNK = 500;

type Supply = { from: number; to: number };

async function airSupplies(db: BookDb): Promise<Supply[]> {
  return db
    .selectFrom('supplies')
    .select(['from_id as from', 'to_id as to'])
    .where('port', '=', 'air')
    .orderBy('to_id')
    .orderBy('position')
    .execute();
}

/** Some devices and all that they feed, directly or through others. */
function withDownstream(ids: readonly number[], supplies: readonly Supply[]): Set<number> {
  const feeds = new Map<number, number[]>();
  for (const { from, to } of supplies) {
    const fed = feeds.get(from);
    if (fed) fed.push(to);
    else feeds.set(from, [to]);
  }
  const found = new Set(ids);
  const queue = [...ids];
  while (queue.length > 0)
    for (const to of feeds.get(queue.pop() as number) ?? [])
      if (!found.has(to)) {
        found.add(to);
        queue.push(to);
      }
  return found;
}

/** The nearest main above each device by the first path; the checker has refused loops. */
function nearestMain(id: number, feeders: Map<number, number[]>, mains: Set<number>): number | null {
  let level = feeders.get(id) ?? [];
  const seen = new Set<number>([id]);
  while (level.length > 0) {
    const main = level.find((one) => mains.has(one));
    if (main !== undefined) return main;
    const next: number[] = [];
    for (const one of level) {
      if (seen.has(one)) continue;
      seen.add(one);
      next.push(...(feeders.get(one) ?? []));
    }
    level = next;
  }
  return null;
}

/** Refreshes what is derived for some devices and everything downstream of them. */
export async function refreshDerived(
  db: BookDb,
  deviceIds: readonly number[],
  tick: () => void = () => {},
): Promise<void> {
  const supplies = await airSupplies(db);
  const feeders = new Map<number, number[]>();
  for (const { from, to } of supplies) feeders.set(to, [...(feeders.get(to) ?? []), from]);
  const mains = new Map(
    (
      await db
        .selectFrom('main')
        .select(['device_id', 'main_kind as kind', 'low_means as lowMeans', 'high_means as highMeans'])
        .execute()
    ).map((row) => [row.device_id, row]),
  );
  const mainIds = new Set(mains.keys());
  const affected = [...withDownstream(deviceIds, supplies)].sort((a, b) => a - b);
  for (let start = 0; start < affected.length; start += CHUNK) {
    tick();
    const ids = affected.slice(start, start + CHUNK);
    const devices = await db.selectFrom('device').select(['id', 'main_id']).where('id', 'in', ids).execute();
    const mainOf = new Map<number, number | null>();
    for (const device of devices) {
      const main = mainIds.has(device.id) ? null : nearestMain(device.id, feeders, mainIds);
      mainOf.set(device.id, main);
      if (main !== device.main_id)
        await db.updateTable('device').set({ main_id: main }).where('id', '=', device.id).execute();
    }
    const points = await db
      .selectFrom('test_point')
      .select(['id', 'device_id', 'kind', 'role', 'air_state'])
      .where('device_id', 'in', ids)
      .execute();
    for (const point of points) {
      if (point.kind !== 'setpoint') continue;
      const mainId = mainOf.get(point.device_id) ?? null;
      const state = airStateOfRole(point.role, mainId === null ? null : (mains.get(mainId) ?? null));
      const stored = state === 'unknown' ? null : state;
      if (stored !== point.air_state)
        await db.updateTable('test_point').set({ air_state: stored }).where('id', '=', point.id).execute();
    }
    await refreshSearch(db, ids);
    await refreshDue(
      db,
      points.map((point) => point.id),
    );
  }
}

async function refreshSearch(db: BookDb, ids: readonly number[]): Promise<void> {
  const rows = await db
    .selectFrom('device as d')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select([
      'd.id',
      'd.tag',
      'd.name',
      'd.class',
      'b.code as bc',
      'b.name as bn',
      'l.code as lc',
      'l.name as ln',
      'r.code as rc',
      'r.name as rn',
      'm.tag as main',
    ])
    .where('d.id', 'in', [...ids])
    .execute();
  for (const row of rows) {
    const place = [row.bc, row.bn, row.lc, row.ln, row.rc, row.rn].filter((word) => word).join(' ');
    await sql`delete from device_search where rowid = ${row.id}`.execute(db);
    await sql`insert into device_search (rowid, tag, name, class, place, main)
      values (${row.id}, ${row.tag}, ${row.name}, ${deviceClassLabels[row.class]}, ${place}, ${row.main ?? ''})`.execute(
      db,
    );
  }
}

/** Devices whose kept main is not what the supply path says; for `verify`. */
export async function wrongMains(db: BookDb): Promise<string[]> {
  const feeders = new Map<number, number[]>();
  for (const { from, to } of await airSupplies(db)) feeders.set(to, [...(feeders.get(to) ?? []), from]);
  const mains = new Set(
    (await db.selectFrom('main').select('device_id').execute()).map((row) => row.device_id),
  );
  const devices = await db.selectFrom('device').select(['id', 'tag', 'main_id']).orderBy('tag').execute();
  return devices
    .filter(
      (device) => (mains.has(device.id) ? null : nearestMain(device.id, feeders, mains)) !== device.main_id,
    )
    .map((device) => device.tag);
}
