/** A light index of the register, for checking references without reading every row. */
import type { BookDb } from './book.ts';

export type IndexedDevice = {
  class: string;
  pressureUnit: string | null;
  temperatureUnit: string | null;
  controllerKind: string | null;
  fedBy: string[];
  retired: boolean;
  roles: string[];
};

export type RegisterIndex = {
  buildings: Set<string>;
  /** `building/level`. */
  levels: Set<string>;
  /** `building/room` to its level code. */
  rooms: Map<string, string>;
  devices: Map<string, IndexedDevice>;
};

/** Codes of places, and class, units and feeds of every tag. */
export async function registerIndex(db: BookDb): Promise<RegisterIndex> {
  const buildings = await db.selectFrom('building').select('code').execute();
  const levels = await db
    .selectFrom('level as l')
    .innerJoin('building as b', 'b.id', 'l.building_id')
    .select(['b.code as building', 'l.code as level'])
    .execute();
  const rooms = await db
    .selectFrom('room as r')
    .innerJoin('building as b', 'b.id', 'r.building_id')
    .innerJoin('level as l', 'l.id', 'r.level_id')
    .select(['b.code as building', 'r.code as room', 'l.code as level'])
    .execute();
  const devices = await db
    .selectFrom('device as d')
    .leftJoin('controller as c', 'c.device_id', 'd.id')
    .select([
      'd.id',
      'd.tag',
      'd.class',
      'd.pressure_unit',
      'd.temperature_unit',
      'd.retired_on',
      'c.controller_kind',
    ])
    .execute();
  const supplies = await db
    .selectFrom('supplies as s')
    .innerJoin('device as f', 'f.id', 's.from_id')
    .select(['s.to_id', 'f.tag'])
    .where('s.port', '=', 'air')
    .execute();
  const setpoints = await db
    .selectFrom('setpoint as s')
    .innerJoin('test_point as tp', 'tp.id', 's.test_point_id')
    .select(['tp.device_id', 's.role'])
    .execute();
  const roles = new Map<number, string[]>();
  for (const { device_id, role } of setpoints) roles.set(device_id, [...(roles.get(device_id) ?? []), role]);
  const fedBy = new Map<number, string[]>();
  for (const { to_id, tag } of supplies) fedBy.set(to_id, [...(fedBy.get(to_id) ?? []), tag]);
  return {
    buildings: new Set(buildings.map((row) => row.code)),
    levels: new Set(levels.map((row) => `${row.building}/${row.level}`)),
    rooms: new Map(rooms.map((row) => [`${row.building}/${row.room}`, row.level])),
    devices: new Map(
      devices.map((row) => [
        row.tag,
        {
          class: row.class,
          pressureUnit: row.pressure_unit,
          temperatureUnit: row.temperature_unit,
          controllerKind: row.controller_kind,
          fedBy: fedBy.get(row.id) ?? [],
          retired: row.retired_on !== null,
          roles: roles.get(row.id) ?? [],
        },
      ]),
    ),
  };
}
