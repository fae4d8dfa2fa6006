/** register.csv and assets.csv: what is installed. */
import { airNetwork } from '../../../db/airNetwork.ts';
import type { BookDb } from '../../../db/book.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';
import { registerRowsOneByOne } from '../../../db/registerRows.ts';
import { bleedKindOfNode } from '../../../shared/register/air/stationUse.ts';
import { bleedDefaults } from '../../../shared/trade/air/budget.ts';
import { figure, inPieces, text } from './cells.ts';

/** register.csv: places and devices as `register load` takes them; of a part of the site with what feeds it. */
export async function registerTable(db: BookDb, { deviceIds }: Resolved): Promise<CsvRows> {
  const kept = deviceIds === null ? null : await withSupply(db, deviceIds);
  return inPieces(registerRowsOneByOne(db), ({ values }) =>
    kept === null || values.tag === undefined || kept.has(values.tag) ? [values] : [],
  );
}

/** Tags of devices, and of everything that they hang on. */
async function withSupply(db: BookDb, deviceIds: ReadonlySet<number>): Promise<Set<string>> {
  const links = await db.selectFrom('supplies').select(['from_id', 'to_id']).execute();
  const drivers = await db.selectFrom('switchover_relay').select(['device_id', 'time_switch_id']).execute();
  const above = new Map<number, number[]>();
  const push = (from: number, to: number): void => void above.set(to, [...(above.get(to) ?? []), from]);
  for (const { from_id, to_id } of links) push(from_id, to_id);
  for (const { device_id, time_switch_id } of drivers)
    if (time_switch_id !== null) push(time_switch_id, device_id);
  const seen = new Set(deviceIds);
  const queue = [...deviceIds];
  for (let at = 0; at < queue.length; at += 1)
    for (const id of above.get(queue[at]) ?? [])
      if (!seen.has(id)) {
        seen.add(id);
        queue.push(id);
      }
  const devices = await db.selectFrom('device').select(['id', 'tag']).execute();
  return new Set(devices.flatMap(({ id, tag }) => (seen.has(id) ? [tag] : [])));
}

export const assetColumns = [
  'asset',
  'class',
  'name',
  'building',
  'level',
  'room',
  'use',
  'main',
  'fed_by',
  'in_service_on',
  'retired_on',
  'steady_air_use_scim',
  'steady_air_use_by',
  'open_follow_ups',
  'note',
];

/** assets.csv: one row a device. */
export async function assetTable(db: BookDb, { deviceIds }: Resolved): Promise<CsvRows> {
  const devices = await db
    .selectFrom('device as d')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['d.id', 'd.tag', 'd.class', 'd.name', 'd.in_service_on', 'd.retired_on', 'd.note'])
    .select(['b.code as building', 'l.code as level', 'r.code as room', 'r.use', 'm.tag as main'])
    .orderBy('d.tag')
    .execute();
  const feeders = await db
    .selectFrom('supplies as s')
    .innerJoin('device as f', 'f.id', 's.from_id')
    .select(['s.to_id', 'f.tag'])
    .orderBy('s.to_id')
    .orderBy('s.position')
    .orderBy('f.tag')
    .execute();
  const fedBy = new Map<number, string[]>();
  for (const { to_id, tag } of feeders) fedBy.set(to_id, [...(fedBy.get(to_id) ?? []), tag]);
  const open = await db
    .selectFrom('follow_up')
    .select(['device_id', (eb) => eb.fn.countAll<number>().as('n')])
    .where('closed_at', 'is', null)
    .groupBy('device_id')
    .execute();
  const followUps = new Map(open.map(({ device_id, n }) => [device_id, n]));
  const { nodes } = await airNetwork(db);
  return inPieces(devices, (row) => {
    if (deviceIds !== null && !deviceIds.has(row.id)) return [];
    const node = nodes.get(row.id);
    const kind = node ? bleedKindOfNode(node) : null;
    const own = node?.ownBleed ?? null;
    const use = own?.measured?.value ?? own?.sheet ?? (kind === null ? null : bleedDefaults[kind].typical);
    return [
      {
        asset: row.tag,
        class: row.class,
        name: row.name,
        building: text(row.building),
        level: text(row.level),
        room: text(row.room),
        use: text(row.use),
        main: text(row.main),
        fed_by: (fedBy.get(row.id) ?? []).join('|'),
        in_service_on: text(row.in_service_on),
        retired_on: text(row.retired_on),
        steady_air_use_scim: use === null ? '' : figure(use),
        steady_air_use_by:
          use === null
            ? ''
            : own?.measured
              ? `measured ${own.measured.on}`
              : own?.sheet != null
                ? 'sheet'
                : 'kind',
        open_follow_ups: text(followUps.get(row.id) ?? 0),
        note: row.note,
      },
    ];
  });
}
