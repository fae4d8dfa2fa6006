/** The air side of the register, and the newest figures that were read of it, in one pass: what findings and the tree are worked out from. */
import { sql } from 'kysely';
import { limitOf } from '../shared/cards/instruments.ts';
import { minutesOfClock } from '../shared/dates/plainDate.ts';
import type {
  AirNetwork,
  Figure,
  NetworkBase,
  NetworkNode,
  OwnBleed,
  PointFacts,
  SetpointFacts,
} from '../shared/register/findings/network.ts';
import { intervalOf } from '../shared/trade/due.ts';
import {
  convertPressure,
  convertScaleDifference,
  convertTemperature,
  differenceLabel,
  fromMilli,
} from '../shared/units/units.ts';
import type { PressureUnit, ScaleUnit, Unit } from '../shared/units/units.ts';
import type { BookDb } from './book.ts';
import { dewPoints, measuredBleeds, measuredCapacities, newestQuality, newestRuns } from './stationFacts.ts';
import type { Measured } from './stationFacts.ts';

function psi(milli: number, unit: string | null): number {
  return convertPressure(fromMilli(milli), (unit ?? 'psi') as PressureUnit, 'psi');
}

function psiOrNull(milli: number | null, unit: string | null): number | null {
  return milli === null ? null : psi(milli, unit);
}

/**
 * What a pressure was held against on the day of its newest record, as the record keeps it, of a card or of a file: a later
 * edit of the register does not move what was read.
 */
const nominalOfDay = sql<
  number | null
>`case when tp.unit in ('psi', 'kPa') and c.id is not null then coalesce(
  (select json_extract(p.value, '$.nominalMilli') from json_each(c.snapshot_json, '$.facts.points') as p
    where json_extract(p.value, '$.testPointId') = tp.id),
  json_extract(c.snapshot_json, '$.nominalMilli')) end`;

type PointRow = Awaited<ReturnType<typeof pointRows>>[number];

/** Active test points with the newest record that has an exact figure. */
async function pointRows(db: BookDb, ids: readonly number[] | null) {
  return db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .leftJoin('setpoint as s', 's.test_point_id', 'tp.id')
    .leftJoin('calibration as c', (join) =>
      join.on(
        'c.id',
        '=',
        sql<number>`(select n.id from calibration n where n.test_point_id = tp.id
          and (n.left_relation = '=' or n.found_relation = '=')
          and not exists (select 1 from correction x where x.replaced_id = n.id)
          order by n.done_on desc, n.id desc limit 1)`,
      ),
    )
    .select([
      'tp.id',
      'tp.device_id as deviceId',
      'tp.kind',
      'tp.role',
      'tp.unit',
      'tp.nominal_milli as nominal',
      'tp.tolerance_milli as ownTolerance',
      'tp.interval_days as ownInterval',
      'tp.last_done_on as lastDoneOn',
      'd.interval_days as deviceInterval',
      'd.pressure_unit as pressureUnit',
      'cd.tolerance_milli as classTolerance',
      'cd.interval_days as classInterval',
      'c.done_on as readOn',
      nominalOfDay.as('nominalOfDay'),
      'c.error_found_milli as found',
      'c.found_relation as foundRelation',
      'c.error_left_milli as left',
      'c.left_relation as leftRelation',
      'c.pressure_gauge_id as pressureGauge',
      'c.temperature_gauge_id as temperatureGauge',
      's.action',
      's.throttling_range_milli as throttlingRange',
      's.output_low_milli as outputLow',
      's.output_high_milli as outputHigh',
      's.calibration_basis as basis',
      's.calibration_pressure_milli as stated',
    ])
    .where('tp.active', '=', 1)
    .where('d.retired_on', 'is', null)
    .where((eb) => (ids === null ? eb.lit(true) : eb('tp.device_id', 'in', [...ids])))
    .orderBy('tp.id')
    .execute();
}

type GaugeLimit = { limit: number; unit: string };

async function gaugeLimits(db: BookDb): Promise<Map<number, GaugeLimit>> {
  const rows = await db
    .selectFrom('gauge')
    .select([
      'id',
      'unit',
      'range_low_milli as rangeLowMilli',
      'range_high_milli as rangeHighMilli',
      'accuracy_form as accuracyForm',
      'accuracy_milli as accuracyMilli',
      'accuracy_grade as accuracyGrade',
    ])
    .execute();
  return new Map(
    rows.flatMap((row) => {
      const limit = limitOf(row, row.unit);
      return limit === null ? [] : [[row.id, { limit, unit: row.unit }] as const];
    }),
  );
}

function toleranceMilliOf(row: PointRow): number | null {
  return row.ownTolerance ?? row.classTolerance;
}

/** Tolerance over what the instruments of the newest record may err by; null where that is not known. */
function ratioOf(row: PointRow, limits: ReadonlyMap<number, GaugeLimit>): number | null {
  const tolerance = toleranceMilliOf(row);
  if (tolerance === null || tolerance === 0 || row.readOn === null) return null;
  const ratios: number[] = [];
  const gauge = row.pressureGauge === null ? undefined : limits.get(row.pressureGauge);
  const thermometer = row.temperatureGauge === null ? undefined : limits.get(row.temperatureGauge);
  const own = fromMilli(tolerance);
  const isPressure = row.unit === 'psi' || row.unit === 'kPa';
  if (gauge) {
    const limit = convertPressure(gauge.limit, gauge.unit as PressureUnit, 'psi');
    if (isPressure) ratios.push(convertPressure(own, row.unit as PressureUnit, 'psi') / limit);
    else {
      const gain = gainOf(row);
      if (gain !== null) ratios.push(own / (limit / gain));
    }
  }
  if (
    thermometer &&
    !isPressure &&
    row.kind === 'setpoint' &&
    (row.unit === 'percent') === (thermometer.unit === 'percent')
  )
    ratios.push(
      own / convertScaleDifference(thermometer.limit, thermometer.unit as ScaleUnit, row.unit as ScaleUnit),
    );
  const known = ratios.filter((one) => Number.isFinite(one));
  return known.length === 0 ? null : Math.min(...known);
}

/** psi a unit of the scale; null on what is no setpoint. */
function gainOf(row: PointRow): number | null {
  const { outputLow, outputHigh, throttlingRange, pressureUnit } = row;
  if (outputLow === null || outputHigh === null || throttlingRange === null || throttlingRange <= 0)
    return null;
  return (psi(outputHigh, pressureUnit) - psi(outputLow, pressureUnit)) / fromMilli(throttlingRange);
}

/** The error of the newest record in thousandths, as left, else as found; null where it is none, or only a bound. */
function newestError(row: PointRow): number | null {
  if (row.leftRelation === '=' && row.left !== null) return row.left;
  return row.foundRelation === '=' ? row.found : null;
}

/** The newest figure of a pressure point beside its nominal one. */
function figureOf(nominal: number, row: PointRow | undefined): Figure {
  if (!row) return { nominal, measured: null, tolerance: 0 };
  const tolerance = psi(toleranceMilliOf(row) ?? 0, row.unit);
  const error = newestError(row);
  return error === null || row.readOn === null || row.nominal === null
    ? { nominal, measured: null, tolerance }
    : {
        nominal,
        measured: { value: psi((row.nominalOfDay ?? row.nominal) + error, row.unit), on: row.readOn },
        tolerance,
      };
}

function setpointOf(row: PointRow): SetpointFacts | null {
  const { action, outputLow, outputHigh, basis, stated, pressureUnit } = row;
  const gain = gainOf(row);
  if (action === null || outputLow === null || outputHigh === null || basis === null || gain === null)
    return null;
  return {
    role: row.role,
    action,
    gain,
    unit: row.unit as SetpointFacts['unit'],
    outputLow: psi(outputLow, pressureUnit),
    outputHigh: psi(outputHigh, pressureUnit),
    basis,
    stated: psiOrNull(stated, pressureUnit),
  };
}

function quality<T>(measured: Measured | undefined, as: (value: number, on: string) => T): T | null {
  return measured ? as(measured.value, measured.on) : null;
}

function ownBleedOf(sheet: number | undefined, measured: Measured | undefined): OwnBleed | null {
  return sheet === undefined && measured === undefined
    ? null
    : { sheet: sheet ?? null, measured: measured ?? null };
}

/** scim by the devices' own sheets, where the register holds one. */
async function bleedsOfSheets(db: BookDb, ids: readonly number[] | null): Promise<Map<number, number>> {
  const sheets = new Map<number, number>();
  for (const table of ['controller', 'transmitter', 'actuator', 'switchover_relay'] as const) {
    const rows = await db
      .selectFrom(table)
      .select(['device_id', 'bleed_scim_milli'])
      .where('bleed_scim_milli', 'is not', null)
      .where((eb) => (ids === null ? eb.lit(true) : eb('device_id', 'in', [...ids])))
      .execute();
    for (const { device_id, bleed_scim_milli } of rows)
      sheets.set(device_id, fromMilli(Number(bleed_scim_milli)));
  }
  return sheets;
}

function byId<T extends { device_id: number }>(rows: readonly T[]): Map<number, T> {
  return new Map(rows.map((row) => [row.device_id, row]));
}

/** More devices than this are not named one by one: the statement has no room for them, and all are read as fast. */
const MOST_NAMED = 10_000;

/**
 * Reads it all, or what some devices need: what they hang on has to be among them. Of very many it reads all. What is
 * retired is left out.
 */
export async function airNetwork(db: BookDb, wanted: readonly number[] | null = null): Promise<AirNetwork> {
  const ids = wanted !== null && wanted.length > MOST_NAMED ? null : wanted;
  const devices = await db
    .selectFrom('device')
    .select(['id', 'tag', 'class', 'in_service_on', 'pressure_unit', 'temperature_unit'])
    .where('retired_on', 'is', null)
    .where((eb) => (ids === null ? eb.lit(true) : eb('id', 'in', [...ids])))
    .orderBy('id')
    .execute();
  const supplies = await db
    .selectFrom('supplies')
    .select(['from_id', 'to_id', 'port'])
    .where((eb) => (ids === null ? eb.lit(true) : eb('to_id', 'in', [...ids])))
    .orderBy('to_id')
    .orderBy('position')
    .execute();
  const stations = byId(await db.selectFrom('air_station').selectAll().execute());
  const regulators = byId(await db.selectFrom('regulator').selectAll().execute());
  const relays = byId(await db.selectFrom('switchover_relay').selectAll().execute());
  const clocks = byId(await db.selectFrom('time_switch').select(['device_id', 'rest_state']).execute());
  const programmes = await db
    .selectFrom('time_switch_program')
    .select(['time_switch_id', 'weekdays', 'from_time', 'to_time', 'air_state'])
    .orderBy('position')
    .execute();
  const holidays = await db
    .selectFrom('holiday')
    .select(['time_switch_id', 'on_date'])
    .orderBy('on_date')
    .execute();
  const mains = byId(
    await db
      .selectFrom('main')
      .select(['natural_state', 'held'])
      .select([
        'device_id',
        'main_kind',
        'low_means',
        'high_means',
        'low_pressure_milli',
        'high_pressure_milli',
      ])
      .execute(),
  );
  const seasons = await db
    .selectFrom('main_season')
    .select(['main_id', 'from_month_day', 'to_month_day', 'air_state'])
    .orderBy('position')
    .execute();
  const controllers = byId(
    await db
      .selectFrom('controller')
      .selectAll()
      .where((eb) => (ids === null ? eb.lit(true) : eb('device_id', 'in', [...ids])))
      .execute(),
  );
  const actuators = byId(
    await db
      .selectFrom('actuator')
      .selectAll()
      .where((eb) => (ids === null ? eb.lit(true) : eb('device_id', 'in', [...ids])))
      .execute(),
  );
  const dews = await dewPoints(db);
  const capacities = await measuredCapacities(db);
  const runs = await newestRuns(db);
  const oils = await newestQuality(db, 'oil');
  const particles = await newestQuality(db, 'largest particle');
  const bleeds = await measuredBleeds(db);
  const sheets = await bleedsOfSheets(db, ids);
  const limits = await gaugeLimits(db);

  const live = new Set(devices.map(({ id }) => id));
  const bases = new Map<number, NetworkBase>(
    devices.map(({ id, tag, class: kind, in_service_on }) => [
      id,
      {
        id,
        tag,
        class: kind,
        inServiceOn: in_service_on,
        feeders: [],
        fed: [],
        ownBleed: ownBleedOf(sheets.get(id), bleeds.get(id)),
      },
    ]),
  );
  const pilotOf = new Map<number, number>();
  const pilots = new Map<number, number[]>();
  for (const { from_id, to_id, port } of supplies) {
    if (!live.has(from_id) || !live.has(to_id)) continue;
    if (port === 'pilot') {
      pilotOf.set(to_id, from_id);
      pilots.set(from_id, [...(pilots.get(from_id) ?? []), to_id]);
      continue;
    }
    bases.get(to_id)?.feeders.push(from_id);
    bases.get(from_id)?.fed.push(to_id);
  }
  const pointsOf = new Map<number, PointRow[]>();
  const points: PointFacts[] = [];
  for (const row of await pointRows(db, ids)) {
    const own = pointsOf.get(row.deviceId);
    if (own) own.push(row);
    else pointsOf.set(row.deviceId, [row]);
    points.push({
      deviceId: row.deviceId,
      kind: row.kind,
      role: row.role,
      toleranceText: `±${fromMilli(toleranceMilliOf(row) ?? 0)} ${differenceLabel(row.unit as Unit)}`,
      ratio: ratioOf(row, limits),
      intervalDays: intervalOf(row),
      lastDoneOn: row.lastDoneOn,
      isRead: row.lastDoneOn !== null || row.readOn !== null,
    });
  }
  const nodes = new Map<number, NetworkNode>();
  for (const { id, pressure_unit: unit, temperature_unit: temperatureUnit } of devices) {
    const base = bases.get(id) as NetworkBase;
    const ownPoints = pointsOf.get(id) ?? [];
    const point = (kind: string): PointRow | undefined => ownPoints.find((one) => one.kind === kind);
    switch (base.class) {
      case 'air_station': {
        const row = stations.get(id);
        const dew = dews.get(id);
        nodes.set(id, {
          ...base,
          class: base.class,
          capacity: {
            nominal: row?.capacity_scfm_milli == null ? null : fromMilli(row.capacity_scfm_milli),
            measured: capacities.get(id) ?? null,
          },
          coldestDegF:
            row?.coldest_place_milli == null
              ? null
              : convertTemperature(fromMilli(row.coldest_place_milli), temperatureUnit ?? 'degF', 'degF'),
          dewPoint:
            dew === undefined || dew.degF === null || dew.psi === null
              ? null
              : { degF: dew.degF, psi: dew.psi, on: dew.on },
          run: runs.get(id) ?? null,
          oil: quality(oils.get(id), (mg, on) => ({ mg, on })),
          particle: quality(particles.get(id), (um, on) => ({ um, on })),
        });
        break;
      }
      case 'regulator': {
        const row = regulators.get(id);
        if (!row) break;
        nodes.set(id, {
          ...base,
          class: base.class,
          kind: row.regulator_kind,
          low: psi(row.low_pressure_milli, unit),
          high: psiOrNull(row.high_pressure_milli, unit),
          relief: psiOrNull(row.relief_pressure_milli, unit),
          pilotBy: pilotOf.get(id) ?? null,
        });
        break;
      }
      case 'switchover_relay': {
        const row = relays.get(id);
        if (!row) break;
        nodes.set(id, {
          ...base,
          class: base.class,
          ports: { no: row.no_port, nc: row.nc_port },
          energisedState: row.energised_state,
          powerLossState: row.power_loss_state,
          drivenBy: row.driven_kind,
          timeSwitchId: row.time_switch_id,
          pilots: pilots.get(id) ?? [],
        });
        break;
      }
      case 'time_switch': {
        const clock = point('clock');
        const error = clock ? newestError(clock) : null;
        nodes.set(id, {
          ...base,
          class: base.class,
          ahead:
            error === null || clock?.readOn == null ? null : { minutes: fromMilli(error), on: clock.readOn },
          restState: clocks.get(id)?.rest_state ?? null,
          spans: programmes
            .filter((one) => one.time_switch_id === id)
            .map(({ weekdays, from_time, to_time, air_state }) => ({
              weekdays,
              from: minutesOfClock(from_time) ?? 0,
              to: minutesOfClock(to_time) ?? 1440,
              state: air_state,
            })),
          holidays: holidays.filter((one) => one.time_switch_id === id).map(({ on_date }) => on_date),
        });
        break;
      }
      case 'main': {
        const row = mains.get(id);
        if (!row) break;
        nodes.set(id, {
          ...base,
          class: base.class,
          kind: row.main_kind,
          lowMeans: row.low_means,
          highMeans: row.high_means,
          low: figureOf(psi(row.low_pressure_milli, unit), point('main low')),
          high:
            row.high_pressure_milli === null
              ? null
              : figureOf(psi(row.high_pressure_milli, unit), point('main high')),
          seasons: seasons
            .filter((one) => one.main_id === id)
            .map(({ from_month_day, to_month_day, air_state }) => ({
              from: from_month_day,
              to: to_month_day,
              state: air_state,
            })),
          naturalState: row.natural_state ?? 'low',
          isHeld: row.held === 'yes',
        });
        break;
      }
      case 'controller': {
        const row = controllers.get(id);
        if (!row) break;
        const { rated_low_milli: low, rated_high_milli: high } = row;
        const { trip_rising_milli: rising, trip_falling_milli: falling } = row;
        nodes.set(id, {
          ...base,
          class: base.class,
          kind: row.controller_kind,
          rated: low === null || high === null ? null : { low: psi(low, unit), high: psi(high, unit) },
          trips:
            rising === null || falling === null
              ? null
              : { rising: psi(rising, unit), falling: psi(falling, unit) },
          pipes: row.pipes,
          setpoints: ownPoints.flatMap((one) => setpointOf(one) ?? []),
        });
        break;
      }
      case 'actuator': {
        const row = actuators.get(id);
        if (!row) break;
        nodes.set(id, {
          ...base,
          class: base.class,
          start: figureOf(psi(row.spring_start_milli, unit), point('spring start')),
          end: figureOf(psi(row.spring_end_milli, unit), point('spring end')),
          normal: row.normal_position,
          duty: row.duty,
          positioner: row.positioner,
        });
        break;
      }
      default:
        nodes.set(id, { ...base, class: 'transmitter' });
    }
  }
  return { nodes, points };
}
