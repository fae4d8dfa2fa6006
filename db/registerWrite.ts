/** Writes register rows that were read and checked: places, devices, their links, setpoints, test points. */
import { sql } from 'kysely';
import type { Insertable } from 'kysely';
import { columnsOf, isDeviceClass } from '../shared/register/columns.ts';
import type { Column } from '../shared/register/columns.ts';
import { programmeSpans, seasonsOf } from '../shared/register/rowRules.ts';
import type { RegisterRow, RowValues } from '../shared/register/row.ts';
import { scaleUnitOf, testPointsOf } from '../shared/register/testPoints.ts';
import type { DeviceClass } from '../shared/trade/words.ts';
import { parseMilli } from '../shared/units/units.ts';
import type { TemperatureUnit } from '../shared/units/units.ts';
import type { BookDb } from './book.ts';
import { buildingColumns, classTableColumns, storedName } from './registerRows.ts';
import type { DeviceTable, SetpointTable, TestPointTable } from './schema.ts';

function milli(values: RowValues, name: string): number | null {
  return values[name] === undefined ? null : parseMilli(values[name]);
}

function integer(values: RowValues, name: string): number | null {
  return values[name] === undefined ? null : Number(values[name]);
}

function toStored(column: Column, values: RowValues): string | number | null {
  if (storedName(column) !== column.name) return milli(values, column.name);
  return column.kind === 'integer' ? integer(values, column.name) : (values[column.name] ?? null);
}

async function idOf(db: BookDb, table: 'building', code: string): Promise<number>;
async function idOf(db: BookDb, table: 'level' | 'room', code: string, buildingId: number): Promise<number>;
async function idOf(
  db: BookDb,
  table: 'building' | 'level' | 'room',
  code: string,
  buildingId?: number,
): Promise<number> {
  if (table === 'building')
    return (await db.selectFrom('building').select('id').where('code', '=', code).executeTakeFirstOrThrow())
      .id;
  const row = await db
    .selectFrom(table)
    .select('id')
    .where('building_id', '=', buildingId as number)
    .where('code', '=', code)
    .executeTakeFirstOrThrow();
  return row.id;
}

async function writePlace(db: BookDb, row: RegisterRow): Promise<void> {
  const { values } = row;
  const text = { name: values.name ?? '', note: values.note ?? '' };
  if (row.rowClass === 'building') {
    const own = {
      ...text,
      ...Object.fromEntries(
        buildingColumns.map((column) => [storedName(column), milli(values, column.name)]),
      ),
    };
    await db
      .insertInto('building')
      .values({ code: values.building, ...own })
      .onConflict((oc) =>
        oc.column('code').doUpdateSet({ ...own, version: sql<number>`building.version + 1` }),
      )
      .execute();
    return;
  }
  const buildingId = await idOf(db, 'building', values.building);
  if (row.rowClass === 'level') {
    const own = {
      ...text,
      sort_order: integer(values, 'sort_order'),
      walk_minutes: integer(values, 'walk_minutes'),
    };
    await db
      .insertInto('level')
      .values({ building_id: buildingId, code: values.level, ...own })
      .onConflict((oc) =>
        oc.columns(['building_id', 'code']).doUpdateSet({ ...own, version: sql<number>`level.version + 1` }),
      )
      .execute();
    return;
  }
  const own = {
    ...text,
    level_id: await idOf(db, 'level', values.level, buildingId),
    use: values.use ?? '',
    x_m_milli: milli(values, 'x_m'),
    y_m_milli: milli(values, 'y_m'),
  };
  const { id } = await db
    .insertInto('room')
    .values({ building_id: buildingId, code: values.room, ...own })
    .onConflict((oc) =>
      oc.columns(['building_id', 'code']).doUpdateSet({ ...own, version: sql<number>`room.version + 1` }),
    )
    .returning('id')
    .executeTakeFirstOrThrow();
  await db.deleteFrom('access_window').where('room_id', '=', id).execute();
  for (const [position, item] of (values.access?.split('|') ?? []).entries()) {
    const [weekdays, span] = item.split(' ');
    const [from_time, to_time] = span.split('-');
    await db
      .insertInto('access_window')
      .values({ room_id: id, position, weekdays, from_time, to_time })
      .execute();
  }
  // A room that moved to another level takes its devices along.
  await db.updateTable('device').set({ level_id: own.level_id }).where('room_id', '=', id).execute();
}

async function placeIds(
  db: BookDb,
  values: RowValues,
): Promise<Pick<Insertable<DeviceTable>, 'building_id' | 'level_id' | 'room_id'>> {
  if (!values.building) return { building_id: null, level_id: null, room_id: null };
  const buildingId = await idOf(db, 'building', values.building);
  if (values.room) {
    const room = await db
      .selectFrom('room')
      .select(['id', 'level_id'])
      .where('building_id', '=', buildingId)
      .where('code', '=', values.room)
      .executeTakeFirstOrThrow();
    return { building_id: buildingId, level_id: room.level_id, room_id: room.id };
  }
  return {
    building_id: buildingId,
    level_id: values.level ? await idOf(db, 'level', values.level, buildingId) : null,
    room_id: null,
  };
}

/** Inserts or updates the device row and its class row; answers the device's id. */
async function writeDevice(db: BookDb, rowClass: DeviceClass, values: RowValues): Promise<number> {
  const own = {
    class: rowClass,
    name: values.name ?? '',
    note: values.note ?? '',
    ...(await placeIds(db, values)),
    in_service_on: values.in_service_on ?? null,
    retired_on: values.retired_on ?? null,
    pressure_unit: (values.pressure_unit ?? null) as DeviceTable['pressure_unit'],
    temperature_unit: (values.temperature_unit ?? null) as DeviceTable['temperature_unit'],
    interval_days: integer(values, 'interval_days'),
    minutes: integer(values, 'minutes'),
  };
  const { id } = await db
    .insertInto('device')
    .values({ tag: values.tag, ...own })
    .onConflict((oc) => oc.column('tag').doUpdateSet({ ...own, version: sql<number>`device.version + 1` }))
    .returning('id')
    .executeTakeFirstOrThrow();
  const classRow: Record<string, string | number | null> = { device_id: id };
  for (const column of classTableColumns(rowClass)) classRow[storedName(column)] = toStored(column, values);
  const { device_id: _, ...update } = classRow;
  const names = Object.keys(update);
  const table = sql.table(rowClass);
  const all = Object.keys(classRow);
  await sql`insert into ${table} (${sql.join(all.map((name) => sql.ref(name)))})
    values (${sql.join(all.map((name) => sql.val(classRow[name])))})
    on conflict (device_id) do update set ${sql.join(names.map((name) => sql`${sql.ref(name)} = ${sql.val(update[name])}`))}`.execute(
    db,
  );
  await writeDeviceTestPoints(db, rowClass, id, values);
  return id;
}

async function writeTestPoint(db: BookDb, point: Insertable<TestPointTable>): Promise<number> {
  const { device_id: _d, kind: _k, role: _r, ...update } = point;
  const { id } = await db
    .insertInto('test_point')
    .values(point)
    .onConflict((oc) =>
      oc
        .columns(['device_id', 'kind', 'role'])
        .doUpdateSet({ ...update, version: sql<number>`test_point.version + 1` }),
    )
    .returning('id')
    .executeTakeFirstOrThrow();
  return id;
}

async function writeDeviceTestPoints(
  db: BookDb,
  rowClass: DeviceClass,
  deviceId: number,
  values: RowValues,
): Promise<void> {
  if (rowClass === 'controller') {
    await db
      .updateTable('test_point')
      .set({
        active: values.retired_on ? 0 : 1,
        unit: scaleUnitOf(
          values.controller_kind ?? '',
          (values.temperature_unit ?? null) as TemperatureUnit | null,
        ),
      })
      .where('device_id', '=', deviceId)
      .execute();
    return;
  }
  const points = testPointsOf(rowClass, values);
  for (const point of points)
    await writeTestPoint(db, {
      device_id: deviceId,
      kind: point.kind,
      role: '',
      nominal_milli: point.nominalMilli,
      unit: point.unit as TestPointTable['unit'],
      active: values.retired_on ? 0 : 1,
    });
  const kinds = points.map((point) => point.kind);
  if (kinds.length > 0)
    await db
      .updateTable('test_point')
      .set({ active: 0 })
      .where('device_id', '=', deviceId)
      .where('kind', 'not in', kinds)
      .execute();
}

async function writeLinks(
  db: BookDb,
  device: { id: number; rowClass: DeviceClass; values: RowValues },
  idOfTag: (tag: string) => number,
): Promise<void> {
  const { id, rowClass, values } = device;
  const wanted = [
    ...(values.fed_by?.split('|') ?? []).map((tag, position) => ({
      from_id: idOfTag(tag),
      to_id: id,
      port: 'air' as const,
      position,
    })),
    ...(values.pilot_by
      ? [{ from_id: idOfTag(values.pilot_by), to_id: id, port: 'pilot' as const, position: 0 }]
      : []),
  ];
  await db.deleteFrom('supplies').where('to_id', '=', id).execute();
  if (wanted.length > 0) await db.insertInto('supplies').values(wanted).execute();
  if (rowClass === 'switchover_relay') {
    const hand = values.driven_by === 'hand switch' || values.driven_by === 'building signal';
    await db
      .updateTable('switchover_relay')
      .set({
        driven_kind:
          values.driven_by === undefined ? null : hand ? (values.driven_by as 'hand switch') : 'time switch',
        time_switch_id: values.driven_by === undefined || hand ? null : idOfTag(values.driven_by),
      })
      .where('device_id', '=', id)
      .execute();
  }
  if (rowClass === 'time_switch') {
    await db.deleteFrom('time_switch_program').where('time_switch_id', '=', id).execute();
    for (const [position, span] of (values.programme ? programmeSpans(values.programme) : []).entries())
      await db
        .insertInto('time_switch_program')
        .values({
          time_switch_id: id,
          position,
          weekdays: span.days,
          from_time: span.from,
          to_time: span.to,
          air_state: span.state,
        })
        .execute();
    await db.deleteFrom('holiday').where('time_switch_id', '=', id).execute();
    const dates = values.holidays?.split('|') ?? [];
    if (dates.length > 0)
      await db
        .insertInto('holiday')
        .values(dates.map((on_date) => ({ time_switch_id: id, on_date })))
        .execute();
  }
  if (rowClass === 'main') {
    await db.deleteFrom('main_season').where('main_id', '=', id).execute();
    for (const [position, season] of (values.seasons ? seasonsOf(values.seasons) : []).entries())
      await db
        .insertInto('main_season')
        .values({
          main_id: id,
          position,
          from_month_day: season.from,
          to_month_day: season.to,
          air_state: season.state,
        })
        .execute();
  }
}

async function writeSetpoint(db: BookDb, values: RowValues, controllerId: number): Promise<void> {
  const role = values.role as SetpointTable['role'];
  const controller = await db
    .selectFrom('device as d')
    .innerJoin('controller as c', 'c.device_id', 'd.id')
    .select(['d.retired_on', 'c.controller_kind'])
    .where('d.id', '=', controllerId)
    .executeTakeFirstOrThrow();
  const testPointId = await writeTestPoint(db, {
    device_id: controllerId,
    kind: 'setpoint',
    role,
    nominal_milli: milli(values, 'dial'),
    unit: scaleUnitOf(
      controller.controller_kind,
      (values.temperature_unit ?? null) as TemperatureUnit | null,
    ),
    tolerance_milli: milli(values, 'tolerance'),
    interval_days: integer(values, 'interval_days'),
    minutes: integer(values, 'minutes'),
    active: controller.retired_on ? 0 : 1,
  });
  const own: Record<string, string | number | null> = {};
  const skip = new Set([
    'class',
    'tag',
    'role',
    'pressure_unit',
    'temperature_unit',
    'tolerance',
    'interval_days',
    'minutes',
  ]);
  for (const column of columnsOf('setpoint'))
    if (!skip.has(column.name)) own[storedName(column)] = toStored(column, values);
  const setpoint = { ...own, note: values.note ?? '' } as unknown as Omit<
    Insertable<SetpointTable>,
    'test_point_id' | 'role'
  >;
  await db
    .insertInto('setpoint')
    .values({ test_point_id: testPointId, role, ...setpoint })
    .onConflict((oc) => oc.column('test_point_id').doUpdateSet({ ...setpoint }))
    .execute();
}

/**
 * Writes rows in the order that references need. Every tag that a row refers to is in the book or among the
 * rows; the checker has seen to that. `tick` is called for every row and may throw to give up. Answers the ids
 * of the devices that were written.
 */
export async function writeRegisterRows(
  db: BookDb,
  rows: readonly RegisterRow[],
  tick: () => void = () => {},
): Promise<number[]> {
  for (const rowClass of ['building', 'level', 'room'] as const)
    for (const row of rows)
      if (row.rowClass === rowClass) {
        tick();
        await writePlace(db, row);
      }
  const written: { id: number; rowClass: DeviceClass; values: RowValues }[] = [];
  for (const row of rows) {
    if (!isDeviceClass(row.rowClass)) continue;
    tick();
    const id = await writeDevice(db, row.rowClass, row.values);
    written.push({ id, rowClass: row.rowClass, values: row.values });
  }
  const tags = new Map(
    (await db.selectFrom('device').select(['id', 'tag']).execute()).map((row) => [row.tag, row.id]),
  );
  const idOfTag = (tag: string): number => {
    const id = tags.get(tag);
    if (id === undefined) throw new Error(`no device has the tag ${tag}`);
    return id;
  };
  for (const device of written) await writeLinks(db, device, idOfTag);
  const touched = new Set(written.map((one) => one.id));
  for (const row of rows) {
    if (row.rowClass !== 'setpoint') continue;
    tick();
    const controllerId = idOfTag(row.values.tag);
    await writeSetpoint(db, row.values, controllerId);
    touched.add(controllerId);
  }
  return [...touched];
}
