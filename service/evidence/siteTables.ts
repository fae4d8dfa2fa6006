/** The tables of a pack that are not records: devices, intended values, events, leaks, stations. */
import { sql } from 'kysely';
import { airNetwork } from '../../db/airNetwork.ts';
import { allLeaks } from '../../db/airRecords.ts';
import type { BookDb } from '../../db/book.ts';
import { allRegisterRows } from '../../db/registerRows.ts';
import { bleedKindOfNode } from '../../shared/register/air/stationUse.ts';
import { columns as registerColumns } from '../../shared/register/columns.ts';
import { bleedDefaults } from '../../shared/trade/air/budget.ts';
import { scfmOf } from '../../shared/trade/air/flow.ts';
import { formatMilli } from '../../shared/units/units.ts';
import type { CsvRows } from './packWriter.ts';
import type { Resolved } from './scope.ts';
import { codeOf } from '../records/readingColumns.ts';
import { ucumOf, ucumOfAir } from './units.ts';

type Cells = Record<string, string>;
const text = (value: string | number | null | undefined): string => (value == null ? '' : String(value));
const milli = (value: number | null | undefined): string => (value == null ? '' : formatMilli(value));
const figure = (value: number): string => String(Number(value.toPrecision(6)));

async function* once(rows: readonly Cells[]): CsvRows {
  yield rows;
}

function isWithin(day: string, { scope }: Resolved): boolean {
  return (scope.from === null || day >= scope.from) && (scope.to === null || day <= scope.to);
}

/** register.csv: places and devices as `register load` takes them; of a part of the site with what feeds it. */
export async function registerTable(db: BookDb, { deviceIds }: Resolved) {
  const rows = await allRegisterRows(db);
  const kept = deviceIds === null ? null : await withSupply(db, deviceIds);
  return {
    columns: registerColumns.map(({ name }) => name),
    rows: once(
      rows.flatMap(({ values }) =>
        kept === null || values.tag === undefined || kept.has(values.tag) ? [values] : [],
      ),
    ),
  };
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
  return once(
    devices
      .filter(({ id }) => deviceIds === null || deviceIds.has(id))
      .map((row) => {
        const node = nodes.get(row.id);
        const kind = node ? bleedKindOfNode(node) : null;
        const own = node?.ownBleed ?? null;
        const use =
          own?.measured?.value ?? own?.sheet ?? (kind === null ? null : bleedDefaults[kind].typical);
        return {
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
        };
      }),
  );
}

export const intendedColumns = [
  'asset',
  'test_point',
  'role',
  'air_state',
  'property',
  'value',
  'unit',
  'since',
  'until',
  'known_by',
];

/** What is intended of a test point, by the register's columns. */
const intended = ['dial', 'low_pressure', 'high_pressure'];

/** setpoints.csv: intended values with the dates since which they hold, from the changes that the chain holds. */
export async function intendedTable(db: BookDb, { pointIds }: Resolved): Promise<CsvRows> {
  const points = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('setpoint as s', 's.test_point_id', 'tp.id')
    .select([
      'tp.id',
      'tp.kind',
      'tp.role',
      'tp.unit',
      'tp.air_state',
      'tp.nominal_milli',
      'd.id as deviceId',
    ])
    .select(['d.tag', 'd.in_service_on', 's.dial_milli'])
    .orderBy('d.tag')
    .orderBy('tp.id')
    .execute();
  const changes = await db
    .selectFrom('setting_change')
    .select(['device_id', 'what', 'subject', 'from_value', 'to_value', 'at'])
    .where('what', 'in', intended)
    .where('device_id', 'is not', null)
    .orderBy('id')
    .execute();
  const byDevice = new Map<number, typeof changes>();
  for (const change of changes)
    byDevice.set(Number(change.device_id), [...(byDevice.get(Number(change.device_id)) ?? []), change]);
  const rows: Cells[] = [];
  for (const point of points) {
    if (pointIds !== null && !pointIds.has(point.id)) continue;
    const what =
      point.kind === 'setpoint' ? 'dial' : point.kind.endsWith('high') ? 'high_pressure' : 'low_pressure';
    const own = (byDevice.get(point.deviceId) ?? []).filter(
      (one) => one.what === what && (point.role === '' || one.subject.split(' ').includes(point.role)),
    );
    const base = {
      asset: point.tag,
      test_point: point.kind,
      role: point.role,
      air_state: text(point.air_state),
      property: point.kind === 'setpoint' ? 'dial' : 'nominal',
      unit: ucumOf(point.unit),
    };
    let since = text(point.in_service_on);
    let known = since === '' ? 'the register' : 'in service since';
    for (const change of own) {
      rows.push({
        ...base,
        value: text(change.from_value),
        since,
        until: change.at.slice(0, 10),
        known_by: known,
      });
      since = change.at.slice(0, 10);
      known = 'a change in the chain';
    }
    const now = point.kind === 'setpoint' ? point.dial_milli : point.nominal_milli;
    rows.push({ ...base, value: milli(now), since, until: '', known_by: known });
  }
  return once(rows);
}

export const eventColumns = ['date', 'kind', 'asset', 'count', 'what', 'from', 'to', 'why', 'person'];

/** events.csv: what shifts a baseline, by day. */
export async function eventTable(db: BookDb, resolved: Resolved): Promise<CsvRows> {
  const { deviceIds, pointIds } = resolved;
  const rows: Cells[] = [];
  const add = (row: Partial<Cells> & { date: string; kind: string }): void =>
    void (isWithin(row.date, resolved) && rows.push(row as Cells));
  const adjusted = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['c.done_on', 'm.tag as main', 'tp.kind', 'tp.id as pointId', sql<number>`count(*)`.as('n')])
    .where('c.outcome', '=', 'adjusted')
    .where('c.id', 'not in', db.selectFrom('correction').select('replaced_id'))
    .groupBy(['c.done_on', 'm.tag', 'tp.kind', ...(pointIds === null ? [] : (['tp.id'] as const))])
    .execute();
  const recalibrated = new Map<string, number>();
  for (const { done_on, main, kind, pointId, n } of adjusted)
    if (pointIds === null || pointIds.has(pointId)) {
      const key = JSON.stringify([done_on, main ?? '', kind]);
      recalibrated.set(key, (recalibrated.get(key) ?? 0) + n);
    }
  for (const [key, n] of recalibrated) {
    const [date, main, kind] = JSON.parse(key) as [string, string, string];
    add({ date, kind: 'recalibrated', asset: main, count: String(n), what: kind });
  }
  const isIn = (id: number | null): boolean => deviceIds === null || (id !== null && deviceIds.has(id));
  for (const row of await db
    .selectFrom('replacement as r')
    .innerJoin('device as d', 'd.id', 'r.device_id')
    .leftJoin('device as n', 'n.id', 'r.new_device_id')
    .select(['r.device_id', 'r.on_date', 'd.tag', 'n.tag as next', 'r.reason'])
    .execute())
    if (isIn(row.device_id))
      add({ date: row.on_date, kind: 'replaced', asset: row.tag, to: text(row.next), why: row.reason });
  for (const row of await db
    .selectFrom('setting_change as s')
    .leftJoin('device as d', 'd.id', 's.device_id')
    .leftJoin('person as p', 'p.id', 's.person_id')
    .select([
      's.device_id',
      's.what',
      's.subject',
      's.from_value',
      's.to_value',
      's.at',
      's.why',
      'p.initials',
      'd.tag',
    ])
    .execute())
    if (deviceIds === null || isIn(row.device_id))
      add({
        date: row.at.slice(0, 10),
        kind: 'setting changed',
        asset: row.tag ?? row.subject,
        what: row.what,
        from: text(row.from_value),
        to: text(row.to_value),
        why: row.why,
        person: text(row.initials),
      });
  for (const row of await db
    .selectFrom('leak_mended as m')
    .innerJoin('leak as k', 'k.id', 'm.leak_id')
    .innerJoin('device as d', 'd.id', 'k.device_id')
    .innerJoin('person as p', 'p.id', 'm.person_id')
    .select(['m.mended_on', 'k.device_id', 'd.tag', 'k.place', 'm.note', 'p.initials'])
    .execute())
    if (isIn(row.device_id))
      add({
        date: row.mended_on,
        kind: 'leak mended',
        asset: row.tag,
        what: row.place,
        why: row.note,
        person: row.initials,
      });
  rows.sort(
    (a, b) =>
      a.date.localeCompare(b.date) ||
      a.kind.localeCompare(b.kind) ||
      (a.asset ?? '').localeCompare(b.asset ?? '') ||
      (a.what ?? '').localeCompare(b.what ?? ''),
  );
  return once(rows);
}

export const leakColumns = [
  'leak_id',
  'asset',
  'place',
  'found_on',
  'found_by',
  'diameter',
  'diameter_unit',
  'pressure',
  'pressure_unit',
  'pressure_ref',
  'coefficient',
  'flow_low_scfm',
  'flow_scfm',
  'flow_high_scfm',
  'method_version',
  'mended_on',
  'mended_by',
  'quality',
  'supersedes',
  'note',
];

/** leaks.csv: every entry of the log, corrected ones marked. */
export async function leakTable(db: BookDb, resolved: Resolved): Promise<CsvRows> {
  const scfm = (scimMilli: number): string => figure(scfmOf(scimMilli));
  return once(
    (await allLeaks(db))
      .filter((row) => (resolved.deviceIds?.has(row.device_id) ?? true) && isWithin(row.found_on, resolved))
      .toReversed()
      .map((row) => ({
        leak_id: text(row.id),
        asset: row.tag,
        place: row.place,
        found_on: row.found_on,
        found_by: row.initials,
        diameter: String(row.diameter_micro / 1_000_000),
        diameter_unit: row.diameter_unit === 'in' ? '[in_i]' : 'mm',
        pressure: milli(row.pressure_milli),
        pressure_unit: ucumOf(row.pressure_unit),
        pressure_ref: 'gauge',
        coefficient: row.coefficient_milli === null ? '0.65' : milli(row.coefficient_milli),
        flow_low_scfm: scfm(row.low_scim_milli),
        flow_scfm: scfm(row.typical_scim_milli),
        flow_high_scfm: scfm(row.high_scim_milli),
        method_version: row.method_version,
        mended_on: text(row.mended_on),
        mended_by: text(row.mendedBy),
        quality: row.replacedBy === null ? 'ok' : 'retracted',
        supersedes: text(row.replaces_id),
        note: row.note,
      })),
  );
}

export const stationColumns = [
  'test_id',
  'asset',
  'kind',
  'done_on',
  'person',
  'gauge',
  'property',
  'value',
  'unit',
  'flow_scfm',
  'run_share',
  'method_version',
  'quality',
  'supersedes',
  'note',
];

/** air_station.csv: tests of stations and measured bleeds, one row a reading; checks of the stations are in readings.csv. */
export async function stationTable(db: BookDb, resolved: Resolved): Promise<CsvRows> {
  const rows = await db
    .selectFrom('air_test as t')
    .innerJoin('air_test_reading as r', 'r.air_test_id', 't.id')
    .innerJoin('device as d', 'd.id', 't.device_id')
    .innerJoin('person as p', 'p.id', 't.person_id')
    .leftJoin('gauge as g', 'g.id', 't.pressure_gauge_id')
    .leftJoin('air_test as n', 'n.replaces_id', 't.id')
    .select([
      't.id',
      't.device_id',
      't.kind',
      't.done_on',
      't.flow_scim_milli',
      't.share_ppm',
      't.method_version',
    ])
    .select(['t.replaces_id', 't.note', 'd.tag', 'p.initials', 'g.tag as gauge', 'n.id as by'])
    .select(['r.quantity', 'r.value_milli', 'r.unit'])
    .orderBy('t.id')
    .orderBy('r.position')
    .execute();
  return once(
    rows
      .filter((row) => (resolved.deviceIds?.has(row.device_id) ?? true) && isWithin(row.done_on, resolved))
      .map((row) => ({
        test_id: text(row.id),
        asset: row.tag,
        kind: row.kind,
        done_on: row.done_on,
        person: row.initials,
        gauge: text(row.gauge),
        property: codeOf(row.quantity),
        value: milli(row.value_milli),
        unit: ucumOfAir(row.unit),
        flow_scfm: row.flow_scim_milli === null ? '' : figure(scfmOf(row.flow_scim_milli)),
        run_share: row.share_ppm === null ? '' : String(row.share_ppm / 1_000_000),
        method_version: row.method_version,
        quality: row.by === null ? 'ok' : 'retracted',
        supersedes: text(row.replaces_id),
        note: row.note,
      })),
  );
}
