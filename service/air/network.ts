/** `air.network`: the air side with places, minutes of work and open findings of every device. */
import { sql } from 'kysely';
import { airNetwork } from '../../db/airNetwork.ts';
import type { BookDb } from '../../db/book.ts';
import { findingsOf } from '../../shared/register/findings/index.ts';
import type { JobHandler } from '../context.ts';
import { withAcceptances } from '../findings/accepted.ts';

/** Minutes of a test point where neither it, its device nor its class says another figure. */
const MINUTES = 15;

async function minutesByDevice(db: BookDb): Promise<Map<number, { minutes: number; points: number }>> {
  const rows = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .select([
      'tp.device_id',
      sql<number>`sum(coalesce(tp.minutes, d.minutes, cd.minutes, ${MINUTES}))`.as('minutes'),
      sql<number>`count(*)`.as('points'),
    ])
    .where('tp.active', '=', 1)
    .groupBy('tp.device_id')
    .execute();
  return new Map(rows.map(({ device_id, minutes, points }) => [device_id, { minutes, points }]));
}

async function placesByDevice(db: BookDb) {
  const rows = await db
    .selectFrom('device as d')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .select(['d.id', 'b.code as building', 'l.code as level', 'r.code as room'])
    .where('d.retired_on', 'is', null)
    .execute();
  return new Map(rows.map((row) => [row.id, row]));
}

export const readAirNetwork: JobHandler<'air.network'> = async ({ book, clock }, _input, hooks) => {
  const db = book.reader;
  hooks.progress(0, 2, 'reading the air side');
  const network = await airNetwork(db);
  const [minutes, places] = [await minutesByDevice(db), await placesByDevice(db)];
  hooks.progress(1, 2, 'checking it');
  const today = clock.today();
  const listed = await withAcceptances(db, findingsOf(network, today), { today });
  const counts = new Map<number, { stops: number; looks: number }>();
  for (const { deviceId, severity, accepted } of listed) {
    if (accepted !== null || severity === 'not checked') continue;
    const held = counts.get(deviceId) ?? { stops: 0, looks: 0 };
    if (severity === 'stop') held.stops += 1;
    else held.looks += 1;
    counts.set(deviceId, held);
  }
  const nodes = [...network.nodes.values()].map((node) => {
    const place = places.get(node.id);
    return {
      node,
      building: place?.building ?? null,
      level: place?.level ?? null,
      room: place?.room ?? null,
      minutes: minutes.get(node.id)?.minutes ?? 0,
      points: minutes.get(node.id)?.points ?? 0,
      stops: counts.get(node.id)?.stops ?? 0,
      looks: counts.get(node.id)?.looks ?? 0,
    };
  });
  return {
    nodes,
    today,
    stations: nodes.flatMap(({ node }) => (node.class === 'air_station' ? [node.id] : [])),
  };
};
