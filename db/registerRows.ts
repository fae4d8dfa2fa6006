/**
 * The register as rows of canonical text (see shared/register): read whole or one by one. The class tables
 * follow the column list mechanically: a quantity `x` is stored as `x_milli`, anything else under its name.
 */
import { sql } from 'kysely';
import { columnsOf } from '../shared/register/columns.ts';
import type { Column, RowClass } from '../shared/register/columns.ts';
import type { RegisterRow, RowValues } from '../shared/register/row.ts';
import { deviceClasses } from '../shared/trade/words.ts';
import type { DeviceClass } from '../shared/trade/words.ts';
import { formatMilli } from '../shared/units/units.ts';
import type { BookDb } from './book.ts';

const milliKinds = new Set(['pressure', 'temperature', 'temperature difference', 'decimal']);
const deviceTableColumns = new Set([
  'tag',
  'name',
  'note',
  'in_service_on',
  'retired_on',
  'pressure_unit',
  'temperature_unit',
  'interval_days',
  'minutes',
  'class',
]);
const linkColumns = new Set([
  'building',
  'level',
  'room',
  'fed_by',
  'pilot_by',
  'driven_by',
  'programme',
  'holidays',
  'seasons',
  'access',
]);

/** Columns of a class that live in its own table. */
export function classTableColumns(rowClass: DeviceClass): Column[] {
  return columnsOf(rowClass).filter(({ name }) => !deviceTableColumns.has(name) && !linkColumns.has(name));
}

/** The database column of a register column, and how its text and its stored value turn into each other. */
export function storedName(column: Column): string {
  return milliKinds.has(column.kind) ? `${column.name}_milli` : column.name;
}

/** Columns of a building besides its code, its name and its note. */
export const buildingColumns: readonly Column[] = columnsOf('building').filter(
  ({ name }) => !deviceTableColumns.has(name) && !linkColumns.has(name),
);

/** Stored value as canonical text; null and the empty text are left out. */
export function storedToText(column: Column, value: unknown): string | null {
  if (value === null || value === undefined || value === '') return null;
  return milliKinds.has(column.kind) ? formatMilli(Number(value)) : `${value as string | number}`;
}

type Links = {
  fedBy: Map<number, string[]>;
  pilotBy: Map<number, string>;
  drivenBy: Map<number, string>;
  programme: Map<number, string[]>;
  holidays: Map<number, string[]>;
  seasons: Map<number, string[]>;
};

function push(map: Map<number, string[]>, key: number, item: string): void {
  map.set(key, [...(map.get(key) ?? []), item]);
}

async function readLinks(db: BookDb, deviceIds: readonly number[] | null): Promise<Links> {
  const links: Links = {
    fedBy: new Map(),
    pilotBy: new Map(),
    drivenBy: new Map(),
    programme: new Map(),
    holidays: new Map(),
    seasons: new Map(),
  };
  let supplies = db
    .selectFrom('supplies as s')
    .innerJoin('device as f', 'f.id', 's.from_id')
    .select(['s.to_id', 's.port', 'f.tag'])
    .orderBy('s.to_id')
    .orderBy('s.position');
  let relays = db
    .selectFrom('switchover_relay as r')
    .leftJoin('device as t', 't.id', 'r.time_switch_id')
    .select(['r.device_id', 'r.driven_kind', 't.tag']);
  let programs = db
    .selectFrom('time_switch_program')
    .select(['time_switch_id', 'weekdays', 'from_time', 'to_time', 'air_state'])
    .orderBy('time_switch_id')
    .orderBy('position');
  let holidays = db
    .selectFrom('holiday')
    .select(['time_switch_id', 'on_date'])
    .orderBy('time_switch_id')
    .orderBy('on_date');
  let seasons = db
    .selectFrom('main_season')
    .select(['main_id', 'from_month_day', 'to_month_day', 'air_state'])
    .orderBy('main_id')
    .orderBy('position');
  if (deviceIds) {
    const ids = [...deviceIds];
    supplies = supplies.where('s.to_id', 'in', ids);
    relays = relays.where('r.device_id', 'in', ids);
    programs = programs.where('time_switch_id', 'in', ids);
    holidays = holidays.where('time_switch_id', 'in', ids);
    seasons = seasons.where('main_id', 'in', ids);
  }
  for (const row of await supplies.execute()) {
    if (row.port === 'air') push(links.fedBy, row.to_id, row.tag);
    else links.pilotBy.set(row.to_id, row.tag);
  }
  for (const row of await relays.execute()) {
    const driver = row.driven_kind === 'time switch' ? row.tag : row.driven_kind;
    if (driver) links.drivenBy.set(row.device_id, driver);
  }
  for (const row of await programs.execute())
    push(
      links.programme,
      row.time_switch_id,
      `${row.weekdays} ${row.from_time}-${row.to_time} ${row.air_state}`,
    );
  for (const row of await holidays.execute()) push(links.holidays, row.time_switch_id, row.on_date);
  for (const row of await seasons.execute())
    push(links.seasons, row.main_id, `${row.from_month_day}/${row.to_month_day} ${row.air_state}`);
  return links;
}

function put(values: RowValues, name: string, text: string | null | undefined): void {
  if (text !== null && text !== undefined && text !== '') values[name] = text;
}

/** Device rows, all of a class or those with some ids, by tag. */
async function deviceRows(
  db: BookDb,
  rowClass: DeviceClass,
  ids: readonly number[] | null,
): Promise<(RegisterRow & { id: number })[]> {
  const own = classTableColumns(rowClass);
  let query = db
    .selectFrom('device as d')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .select([
      'd.id',
      'd.tag',
      'd.name',
      'd.note',
      'd.in_service_on',
      'd.retired_on',
      'd.pressure_unit',
      'd.temperature_unit',
      'd.interval_days',
      'd.minutes',
      'b.code as building',
      'l.code as level',
      'r.code as room',
    ])
    .where('d.class', '=', rowClass)
    .orderBy('d.tag');
  if (ids) query = query.where('d.id', 'in', [...ids]);
  const rows: (Record<string, string | number | null> & { id: number })[] = await query.execute();
  const names = ['device_id', ...own.map(storedName)];
  const classRows = await sql<Record<string, unknown>>`select ${sql.join(names.map((name) => sql.ref(name)))}
    from ${sql.table(rowClass)} ${ids ? sql`where device_id in (${sql.join([...ids])})` : sql``}`.execute(db);
  const ownOf = new Map(classRows.rows.map((row) => [row.device_id as number, row]));
  const links = await readLinks(db, ids);
  return rows.map((row) => {
    const values: RowValues = { class: rowClass };
    for (const name of [
      'tag',
      'building',
      'level',
      'room',
      'name',
      'in_service_on',
      'retired_on',
      'pressure_unit',
      'temperature_unit',
      'interval_days',
      'minutes',
      'note',
    ])
      put(values, name, row[name] === null ? null : String(row[name]));
    for (const column of own)
      put(values, column.name, storedToText(column, ownOf.get(row.id)?.[storedName(column)]));
    put(values, 'fed_by', links.fedBy.get(row.id)?.join('|'));
    put(values, 'pilot_by', links.pilotBy.get(row.id));
    put(values, 'driven_by', links.drivenBy.get(row.id));
    put(values, 'programme', links.programme.get(row.id)?.join('|'));
    put(values, 'holidays', links.holidays.get(row.id)?.join('|'));
    put(values, 'seasons', links.seasons.get(row.id)?.join('|'));
    return { id: row.id, rowClass, values };
  });
}

/** Buildings, levels and rooms, each with its version. */
export async function placeRows(db: BookDb): Promise<(RegisterRow & { version: number })[]> {
  const rows: (RegisterRow & { version: number })[] = [];
  const add = (
    rowClass: RowClass,
    { version, ...cells }: Record<string, string | number | null> & { version: number },
  ): void => {
    const values: RowValues = { class: rowClass };
    for (const [name, value] of Object.entries(cells))
      put(values, name, value === null ? null : String(value));
    rows.push({ rowClass, values, version });
  };
  for (const row of await db.selectFrom('building').selectAll().orderBy('code').execute()) {
    const stored = row as unknown as Record<string, unknown>;
    add('building', {
      building: row.code,
      name: row.name,
      ...Object.fromEntries(
        buildingColumns.map((column) => [column.name, storedToText(column, stored[storedName(column)])]),
      ),
      note: row.note,
      version: row.version,
    });
  }
  const levels = await db
    .selectFrom('level as l')
    .innerJoin('building as b', 'b.id', 'l.building_id')
    .select([
      'b.code as building',
      'l.code as level',
      'l.name',
      'l.sort_order',
      'l.walk_minutes',
      'l.note',
      'l.version',
    ])
    .orderBy('b.code')
    .orderBy('l.code')
    .execute();
  for (const row of levels) add('level', row);
  const windows = new Map<number, string[]>();
  for (const row of await db
    .selectFrom('access_window')
    .select(['room_id', 'weekdays', 'from_time', 'to_time'])
    .orderBy('room_id')
    .orderBy('position')
    .execute())
    push(windows, row.room_id, `${row.weekdays} ${row.from_time}-${row.to_time}`);
  const rooms = await db
    .selectFrom('room as r')
    .innerJoin('building as b', 'b.id', 'r.building_id')
    .innerJoin('level as l', 'l.id', 'r.level_id')
    .select([
      'r.id',
      'b.code as building',
      'l.code as level',
      'r.code as room',
      'r.name',
      'r.use',
      'r.x_m_milli',
      'r.y_m_milli',
      'r.note',
      'r.version',
    ])
    .orderBy('b.code')
    .orderBy('r.code')
    .execute();
  for (const { id, x_m_milli: x, y_m_milli: y, ...row } of rooms)
    add('room', {
      ...row,
      x_m: x === null ? null : formatMilli(x),
      y_m: y === null ? null : formatMilli(y),
      access: windows.get(id)?.join('|') ?? null,
    });
  return rows;
}

/** Setpoint rows, all or those of some controllers, by tag and role. */
export async function setpointRows(
  db: BookDb,
  deviceIds: readonly number[] | null,
): Promise<(RegisterRow & { id: number })[]> {
  let query = db
    .selectFrom('setpoint as s')
    .innerJoin('test_point as tp', 'tp.id', 's.test_point_id')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .select([
      'tp.id',
      'd.tag',
      's.role',
      'd.pressure_unit',
      'd.temperature_unit',
      's.action',
      's.dial_milli',
      's.throttling_range_milli',
      's.output_low_milli',
      's.output_high_milli',
      's.calibration_basis',
      's.calibration_pressure_milli',
      's.reset_from_at_milli',
      's.reset_from_setpoint_milli',
      's.reset_to_at_milli',
      's.reset_to_setpoint_milli',
      'tp.tolerance_milli',
      'tp.interval_days',
      'tp.minutes',
      's.note',
    ])
    .orderBy('d.tag')
    .orderBy('s.role');
  if (deviceIds) query = query.where('tp.device_id', 'in', [...deviceIds]);
  const columns = columnsOf('setpoint');
  return (await query.execute()).map((row) => {
    const values: RowValues = { class: 'setpoint' };
    const cells = row as unknown as Record<string, unknown>;
    for (const column of columns)
      if (column.name !== 'class') put(values, column.name, storedToText(column, cells[storedName(column)]));
    return { id: row.id, rowClass: 'setpoint', values };
  });
}

/** Devices that are read at once. */
const READ_AT_ONCE = 1_000;

/** Every row of the register, in file order: places, devices by class and tag, setpoints. Few of them are held at a time. */
export async function* registerRowsOneByOne(db: BookDb): AsyncGenerator<RegisterRow> {
  for (const { rowClass, values } of await placeRows(db)) yield { rowClass, values };
  const idsOf = async (rowClass: DeviceClass): Promise<number[]> =>
    (await db.selectFrom('device').select('id').where('class', '=', rowClass).orderBy('tag').execute()).map(
      ({ id }) => id,
    );
  for (const rowClass of deviceClasses) {
    const ids = await idsOf(rowClass);
    for (let at = 0; at < ids.length; at += READ_AT_ONCE)
      for (const { values } of await deviceRows(db, rowClass, ids.slice(at, at + READ_AT_ONCE)))
        yield { rowClass, values };
  }
  const controllers = await idsOf('controller');
  for (let at = 0; at < controllers.length; at += READ_AT_ONCE)
    for (const { rowClass, values } of await setpointRows(db, controllers.slice(at, at + READ_AT_ONCE)))
      yield { rowClass, values };
}

/** The same, all of them. */
export async function allRegisterRows(db: BookDb): Promise<RegisterRow[]> {
  const rows: RegisterRow[] = [];
  for await (const row of registerRowsOneByOne(db)) rows.push(row);
  return rows;
}

/** The row of one device; null when there is none. */
export async function deviceRow(db: BookDb, id: number): Promise<RegisterRow | null> {
  const device = await db.selectFrom('device').select('class').where('id', '=', id).executeTakeFirst();
  if (!device) return null;
  const [row] = await deviceRows(db, device.class, [id]);
  return { rowClass: row.rowClass, values: row.values };
}
