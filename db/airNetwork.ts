/** The air side of the register, and the newest figures that were read of it, in one pass: what findings and the tree are worked out from. */
import { minutesOfClock } from '../shared/dates/plainDate.ts';
import type {
  AirNetwork,
  Measured,
  NetworkBase,
  NetworkNode,
  OwnBleed,
  PointFacts,
} from '../shared/register/findings/network.ts';
import { intervalOf } from '../shared/trade/due.ts';
import { convertTemperature, differenceLabel, fromMilli } from '../shared/units/units.ts';
import type { Unit } from '../shared/units/units.ts';
import type { BookDb } from './book.ts';
import {
  figureOf,
  gaugeLimits,
  newestError,
  pointRows,
  psi,
  psiOrNull,
  ratioOf,
  setpointOf,
  toleranceMilliOf,
} from './newestPoints.ts';
import type { PointRow } from './newestPoints.ts';
import { dewPoints, measuredBleeds, measuredCapacities, newestQuality, newestRuns } from './stationFacts.ts';

/** scim; null where neither the sheet of a device, in thousandths, nor a test says it. */
function ownBleedOf(sheetMilli: number | null, measured: Measured | null): OwnBleed | null {
  if (sheetMilli === null && measured === null) return null;
  return { sheet: sheetMilli === null ? null : fromMilli(sheetMilli), measured };
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
  const limits = await gaugeLimits(db);

  const transmitters = byId(
    await db
      .selectFrom('transmitter')
      .select(['device_id', 'bleed_scim_milli'])
      .where((eb) => (ids === null ? eb.lit(true) : eb('device_id', 'in', [...ids])))
      .execute(),
  );
  const sheetOf = (id: number): number | null =>
    (controllers.get(id) ?? actuators.get(id) ?? transmitters.get(id) ?? relays.get(id))?.bleed_scim_milli ??
    null;

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
        ownBleed: ownBleedOf(sheetOf(id), bleeds.get(id) ?? null),
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
          oil: oils.get(id) ?? null,
          particle: particles.get(id) ?? null,
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
