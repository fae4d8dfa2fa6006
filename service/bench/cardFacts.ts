/** What the book knows of a device, ready for its card: figures in the device's own units. */
import type { BookDb } from '../../db/book.ts';
import { idsAbove, idsBelow } from '../../db/supplyPath.ts';
import { testPointsOfDevice } from '../../db/registerQueries.ts';
import type { BaseFacts, CardPoint } from '../../shared/cards/card.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { scaleUnitOf } from '../../shared/register/testPoints.ts';
import { MAIN_AT_DEVICE_ALLOWANCE_PSI } from '../../shared/trade/switchover.ts';
import { convertPressure, convertTemperature, fromMilli, toMilli } from '../../shared/units/units.ts';
import type { PressureUnit, TemperatureUnit } from '../../shared/units/units.ts';
import { benchRulesOf } from '../settings/benchRules.ts';
import { changeoverOf, convertPressureMilli, setpointFactsOf } from './setpointFacts.ts';

/** Holidays of a time switch that its card names. */
const HOLIDAYS_AHEAD = 8;

export type CardDevice = Awaited<ReturnType<typeof cardDevice>>;

/** A device with its place and its main. Throws `not_found`. */
export async function cardDevice(db: BookDb, deviceId: number) {
  const row = await db
    .selectFrom('device as d')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .leftJoin('device as md', 'md.id', 'd.main_id')
    .leftJoin('main as m', 'm.device_id', 'd.main_id')
    .leftJoin('controller as c', 'c.device_id', 'd.id')
    .select([
      'd.id',
      'd.tag',
      'd.name',
      'd.class',
      'd.pressure_unit',
      'd.temperature_unit',
      'd.in_service_on',
      'd.retired_on',
      'c.controller_kind',
      'c.rated_low_milli',
      'c.rated_high_milli',
      'c.trip_falling_milli',
      'c.trip_rising_milli',
      'b.code as building',
      'l.code as level',
      'r.code as room',
      'r.name as room_name',
      'md.id as main_id',
      'md.tag as main_tag',
      'md.pressure_unit as main_unit',
      'm.main_kind',
      'm.low_pressure_milli',
      'm.high_pressure_milli',
      'm.low_means',
      'm.high_means',
    ])
    .where('d.id', '=', deviceId)
    .executeTakeFirst();
  if (!row) throw new AppError('not_found', 'There is no such device.');
  return row;
}

/** The worst changeover pressures among controllers of some mains: measured ones, else rated with their allowance. */
async function changeovers(db: BookDb, mainIds: readonly number[], unit: PressureUnit) {
  const rows =
    mainIds.length === 0
      ? []
      : await db
          .selectFrom('controller as c')
          .innerJoin('device as d', 'd.id', 'c.device_id')
          .select([
            'd.pressure_unit',
            'c.rated_low_milli',
            'c.rated_high_milli',
            'c.trip_falling_milli',
            'c.trip_rising_milli',
          ])
          .where('d.main_id', 'in', [...mainIds])
          .where('d.retired_on', 'is', null)
          .where('c.controller_kind', 'in', ['two-setpoint', 'changeover'])
          .execute();
  const allowance = toMilli(convertPressure(MAIN_AT_DEVICE_ALLOWANCE_PSI, 'psi', unit));
  const pairs = rows.flatMap((row) => {
    const own = (milli: number | null): number | null =>
      milli === null ? null : convertPressureMilli(milli, row.pressure_unit ?? 'psi', unit);
    const { rated, measuredTrips } = changeoverOf(row);
    const rising = measuredTrips ? own(measuredTrips.risingMilli) : own(rated?.highMilli ?? null);
    const falling = measuredTrips ? own(measuredTrips.fallingMilli) : own(rated?.lowMilli ?? null);
    if (rising === null || falling === null) return [];
    const slack = measuredTrips ? 0 : allowance;
    return [{ rising: rising - slack, falling: falling + slack }];
  });
  const worst =
    pairs.length === 0
      ? null
      : {
          risingMilli: Math.max(...pairs.map(({ rising }) => rising)),
          fallingMilli: Math.min(...pairs.map(({ falling }) => falling)),
        };
  return { worst, count: rows.length };
}

async function mainsAmong(db: BookDb, ids: readonly number[]): Promise<number[]> {
  const rows = await db
    .selectFrom('main')
    .select('device_id')
    .where('device_id', 'in', [...ids])
    .execute();
  return rows.map((row) => row.device_id);
}

/** The wanted state on power loss of the relay that decides over a main: it feeds the main, or pilots its regulator. */
async function powerLossOfMain(db: BookDb, mainId: number): Promise<'low' | 'high' | null> {
  const rows = await db
    .selectFrom('switchover_relay')
    .select('power_loss_state as state')
    .where('device_id', 'in', await idsAbove(db, mainId))
    .execute();
  return rows.length === 1 ? rows[0].state : null;
}

type Base = BaseFacts & { deviceId: number };

async function regulatorFacts(db: BookDb, base: Base): Promise<CardFacts> {
  const row = await db
    .selectFrom('regulator')
    .select(['regulator_kind', 'low_pressure_milli', 'high_pressure_milli', 'relief_pressure_milli'])
    .where('device_id', '=', base.deviceId)
    .executeTakeFirstOrThrow();
  const mains = await mainsAmong(db, await idsBelow(db, base.deviceId));
  const isTwo = row.regulator_kind === 'two-pressure';
  const { worst } = await changeovers(db, mains, base.pressureUnit);
  return {
    ...base,
    card: 'regulator',
    isTwoPressure: isTwo,
    lowMilli: row.low_pressure_milli,
    highMilli: isTwo ? row.high_pressure_milli : null,
    reliefMilli: row.relief_pressure_milli,
    worstTrips: isTwo ? worst : null,
  };
}

async function relayFacts(db: BookDb, base: Base): Promise<CardFacts> {
  const row = await db
    .selectFrom('switchover_relay')
    .select(['coil_voltage', 'no_port', 'nc_port', 'energised_state', 'power_loss_state'])
    .where('device_id', '=', base.deviceId)
    .executeTakeFirstOrThrow();
  return {
    ...base,
    card: 'switchover_relay',
    coilVoltage: row.coil_voltage,
    noPort: row.no_port,
    ncPort: row.nc_port,
    energisedState: row.energised_state,
    wantedOnPowerLoss: row.power_loss_state,
  };
}

async function timeSwitchFacts(db: BookDb, base: Base, today: string): Promise<CardFacts> {
  const row = await db
    .selectFrom('time_switch')
    .select(['rest_state', 'reserve_hours_milli'])
    .where('device_id', '=', base.deviceId)
    .executeTakeFirstOrThrow();
  const programme = await db
    .selectFrom('time_switch_program')
    .select(['weekdays', 'from_time', 'to_time', 'air_state'])
    .where('time_switch_id', '=', base.deviceId)
    .orderBy('position')
    .execute();
  const holidays = await db
    .selectFrom('holiday')
    .select('on_date')
    .where('time_switch_id', '=', base.deviceId)
    .where('on_date', '>=', today)
    .orderBy('on_date')
    .limit(HOLIDAYS_AHEAD)
    .execute();
  const days = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'];
  const named = (digits: string): string =>
    digits
      .split('')
      .map((digit) => days[Number(digit) - 1])
      .join(' ');
  return {
    ...base,
    card: 'time_switch',
    programme: programme.map(
      (one) => `${named(one.weekdays)} ${one.from_time}-${one.to_time} ${one.air_state}`,
    ),
    restState: row.rest_state,
    holidays: holidays.map((one) => one.on_date),
    reserveHours: row.reserve_hours_milli === null ? null : fromMilli(row.reserve_hours_milli),
  };
}

async function mainFacts(db: BookDb, base: Base): Promise<CardFacts> {
  const row = await db
    .selectFrom('main')
    .select(['main_kind', 'low_pressure_milli', 'high_pressure_milli', 'low_means', 'high_means'])
    .where('device_id', '=', base.deviceId)
    .executeTakeFirstOrThrow();
  const mains = await mainsAmong(db, await idsBelow(db, base.deviceId));
  const { worst, count } = await changeovers(db, mains, base.pressureUnit);
  const isTwo = row.main_kind === 'two-pressure';
  return {
    ...base,
    card: 'main',
    isTwoPressure: isTwo,
    lowMilli: row.low_pressure_milli,
    highMilli: isTwo ? row.high_pressure_milli : null,
    lowMeans: row.low_means,
    highMeans: row.high_means,
    worstTrips: isTwo ? worst : null,
    controllers: count,
    wantedOnPowerLoss: isTwo ? await powerLossOfMain(db, base.deviceId) : null,
  };
}

async function transmitterFacts(db: BookDb, base: Base): Promise<CardFacts> {
  const row = await db
    .selectFrom('transmitter')
    .select(['span_low_milli', 'span_high_milli', 'output_low_milli', 'output_high_milli'])
    .where('device_id', '=', base.deviceId)
    .executeTakeFirstOrThrow();
  return {
    ...base,
    card: 'transmitter',
    spanLowMilli: row.span_low_milli,
    spanHighMilli: row.span_high_milli,
    outputLowMilli: row.output_low_milli,
    outputHighMilli: row.output_high_milli,
  };
}

async function actuatorFacts(db: BookDb, base: Base): Promise<CardFacts> {
  const row = await db
    .selectFrom('actuator')
    .select([
      'actuator_kind',
      'normal_position',
      'spring_start_milli',
      'spring_end_milli',
      'duty',
      'positioner',
    ])
    .where('device_id', '=', base.deviceId)
    .executeTakeFirstOrThrow();
  return {
    ...base,
    card: 'actuator',
    actuatorKind: row.actuator_kind,
    normalPosition: row.normal_position,
    startMilli: row.spring_start_milli,
    endMilli: row.spring_end_milli,
    duty: row.duty,
    hasPositioner: row.positioner === 'yes',
  };
}

async function stationFacts(db: BookDb, base: Base): Promise<CardFacts> {
  const row = await db
    .selectFrom('air_station')
    .select('coldest_place_milli')
    .where('device_id', '=', base.deviceId)
    .executeTakeFirstOrThrow();
  return { ...base, card: 'air_station', coldestMilli: row.coldest_place_milli };
}

/** The transmitter that a receiver-controller reads, in the controller's units; null when none feeds it. */
async function transmitterOf(db: BookDb, controllerId: number, base: BaseFacts) {
  const row = await db
    .selectFrom('supplies as s')
    .innerJoin('device as d', 'd.id', 's.from_id')
    .innerJoin('transmitter as t', 't.device_id', 'd.id')
    .select([
      'd.tag',
      'd.pressure_unit',
      'd.temperature_unit',
      't.span_low_milli',
      't.span_high_milli',
      't.output_low_milli',
      't.output_high_milli',
    ])
    .where('s.to_id', '=', controllerId)
    .where('d.retired_on', 'is', null)
    .orderBy('s.position')
    .orderBy('d.tag')
    .limit(1)
    .executeTakeFirst();
  if (!row) return null;
  const pressure = (milli: number): number =>
    convertPressureMilli(milli, row.pressure_unit ?? 'psi', base.pressureUnit);
  const temperature = (milli: number): number =>
    toMilli(convertTemperature(fromMilli(milli), row.temperature_unit ?? 'degF', base.temperatureUnit));
  return {
    tag: row.tag,
    spanLowMilli: temperature(row.span_low_milli),
    spanHighMilli: temperature(row.span_high_milli),
    signalLowMilli: pressure(row.output_low_milli),
    signalHighMilli: pressure(row.output_high_milli),
  };
}

async function resetOf(db: BookDb, testPointId: number) {
  const row = await db
    .selectFrom('setpoint')
    .select([
      'reset_from_at_milli as fromAt',
      'reset_from_setpoint_milli as fromSetpoint',
      'reset_to_at_milli as toAt',
      'reset_to_setpoint_milli as toSetpoint',
    ])
    .where('test_point_id', '=', testPointId)
    .executeTakeFirst();
  if (
    !row ||
    row.fromAt === null ||
    row.fromSetpoint === null ||
    row.toAt === null ||
    row.toSetpoint === null
  )
    return null;
  // A schedule of one temperature is none.
  if (row.fromAt === row.toAt) return null;
  return {
    fromAtMilli: row.fromAt,
    fromSetpointMilli: row.fromSetpoint,
    toAtMilli: row.toAt,
    toSetpointMilli: row.toSetpoint,
  };
}

async function controllerEntries(
  db: BookDb,
  device: CardDevice,
  base: Base,
  isPast: boolean,
): Promise<CardEntryFacts[]> {
  const kind = device.controller_kind ?? 'single';
  const duties = await db
    .selectFrom('supplies as s')
    .innerJoin('actuator as a', 'a.device_id', 's.to_id')
    .innerJoin('device as d', 'd.id', 's.to_id')
    .select('a.duty')
    .where('s.from_id', '=', device.id)
    .where('d.retired_on', 'is', null)
    .execute();
  const mainUnit = device.main_unit ?? 'psi';
  const own = (milli: number): number => convertPressureMilli(milli, mainUnit, base.pressureUnit);
  const { low_pressure_milli: low, high_pressure_milli: high } = device;
  const entries: CardEntryFacts[] = [];
  for (const stored of await setpointFactsOf(db, device.id)) {
    if (!stored.active && !isPast) continue;
    const points = base.points.filter((point) => point.testPointId === stored.testPointId);
    const { deviceId: _d, ...shared } = { ...base, points };
    if (kind === 'receiver')
      entries.push({
        key: stored.role,
        facts: {
          ...shared,
          card: 'receiver',
          dialMilli: stored.dialMilli,
          action: stored.action,
          calibrationPressureMilli: stored.calibrationPressureMilli,
          throttlingRangeMilli: stored.throttlingRangeMilli,
          outputLowMilli: stored.outputLowMilli,
          outputHighMilli: stored.outputHighMilli,
          transmitter: await transmitterOf(db, device.id, base),
          reset: await resetOf(db, stored.testPointId),
        },
      });
    else
      entries.push({
        key: stored.role,
        facts: {
          ...shared,
          card: 'setpoint',
          controllerKind: kind,
          role: stored.role,
          airState: stored.airState,
          action: stored.action,
          dialMilli: stored.dialMilli,
          throttlingRangeMilli: stored.throttlingRangeMilli,
          outputLowMilli: stored.outputLowMilli,
          outputHighMilli: stored.outputHighMilli,
          calibrationPressureMilli: stored.calibrationPressureMilli,
          spring: stored.spring,
          toleranceMilli: stored.toleranceMilli,
          toleranceLeftMilli: stored.toleranceLeftMilli,
          ...changeoverOf(device),
          mainMilli: stored.mainPressureMilli,
          mainPair: low !== null && high !== null ? { lowMilli: own(low), highMilli: own(high) } : null,
          isFirstOfTwo: false,
          duties: duties.flatMap(({ duty }) => (duty === null ? [] : [duty])),
        },
      });
  }
  return entries;
}

export type CardEntryFacts = { key: string; facts: CardFacts };

/** The test points of a device that are in use, or all that it ever had. */
async function pointsOf(db: BookDb, deviceId: number, isPast: boolean): Promise<CardPoint[]> {
  const rows = await testPointsOfDevice(db, deviceId);
  return rows
    .filter((row) => row.active === 1 || isPast)
    .map((row) => ({
      key: row.kind,
      testPointId: row.id,
      kind: row.kind,
      role: row.role,
      unit: row.unit,
      nominalMilli: row.nominal_milli,
      toleranceMilli: row.tolerance_milli ?? 1000,
      toleranceLeftMilli: row.tolerance_left_milli ?? row.tolerance_milli ?? 1000,
    }));
}

const factsOfClass: Record<string, (db: BookDb, base: Base, today: string) => Promise<CardFacts>> = {
  regulator: regulatorFacts,
  switchover_relay: relayFacts,
  time_switch: timeSwitchFacts,
  main: mainFacts,
  transmitter: transmitterFacts,
  actuator: actuatorFacts,
  air_station: stationFacts,
};

/**
 * The entries of a device's card: one a setpoint, one for any other device; none where it has no test point. `isPast`
 * adds the test points that are not in use any more, whose records may be corrected.
 */
export async function cardEntries(
  db: BookDb,
  device: CardDevice,
  today: string,
  isPast: boolean = device.retired_on !== null,
): Promise<CardEntryFacts[]> {
  const pressureUnit: PressureUnit = device.pressure_unit ?? 'psi';
  const temperatureUnit: TemperatureUnit = device.temperature_unit ?? 'degF';
  const { value: rules } = await benchRulesOf(db);
  const base: Base = {
    deviceId: device.id,
    pressureUnit,
    temperatureUnit,
    scaleUnit: scaleUnitOf(device.controller_kind ?? '', temperatureUnit),
    points: await pointsOf(db, device.id, isPast),
    freezeLockoutMilli: toMilli(
      convertTemperature(fromMilli(rules.freezeLockoutMilli), 'degF', temperatureUnit),
    ),
  };
  if (device.class === 'controller') return controllerEntries(db, device, base, isPast);
  const read = factsOfClass[device.class];
  if (!read || base.points.length === 0) return [];
  const { deviceId: _d, ...facts } = (await read(db, base, today)) as CardFacts & { deviceId: number };
  return [{ key: '', facts: facts as CardFacts }];
}
