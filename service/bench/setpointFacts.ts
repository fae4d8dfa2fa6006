/** What the book knows of a controller's setpoints, ready for the card: all figures in the controller's units. */
import type { BookDb } from '../../db/book.ts';
import { testPointsOfDevice } from '../../db/registerQueries.ts';
import type { Changeover } from '../../shared/trade/cardSetting.ts';
import { calibrationPressure } from '../../shared/trade/proportional.ts';
import type { CalibrationBasis, ControllerAction } from '../../shared/trade/proportional.ts';
import { convertPressure, fromMilli, toMilli } from '../../shared/units/units.ts';
import type { PressureUnit, ScaleUnit } from '../../shared/units/units.ts';
import { scaleUnitOf } from '../../shared/register/testPoints.ts';

export type Spring = { startMilli: number; endMilli: number; tag: string };

export type StoredSetpoint = {
  testPointId: number;
  role: string;
  airState: 'low' | 'high' | null;
  action: ControllerAction;
  dialMilli: number;
  throttlingRangeMilli: number;
  outputLowMilli: number;
  outputHighMilli: number;
  calibrationBasis: CalibrationBasis;
  calibrationPressureMilli: number | null;
  spring: Spring | null;
  toleranceMilli: number;
  toleranceLeftMilli: number;
  actionLimitMilli: number;
  pressureUnit: PressureUnit;
  /** Unit of dial, room and error: percent on a humidity controller. */
  temperatureUnit: ScaleUnit;
  /** Setting of the main in the state that the setpoint asks for; null when not known. */
  mainPressureMilli: number | null;
  dueOn: string | null;
  active: boolean;
};

/** Thousandths of one pressure unit in another: untouched when they are the same. */
export function convertPressureMilli(milli: number, from: PressureUnit, to: PressureUnit): number {
  return from === to ? milli : toMilli(convertPressure(fromMilli(milli), from, to));
}

/** The first actuator that a controller feeds governs its calibration where the basis is the spring. */
async function governingSpring(db: BookDb, controllerId: number, unit: PressureUnit): Promise<Spring | null> {
  const row = await db
    .selectFrom('supplies as s')
    .innerJoin('device as d', 'd.id', 's.to_id')
    .innerJoin('actuator as a', 'a.device_id', 'd.id')
    .select(['d.tag', 'd.pressure_unit', 'a.spring_start_milli', 'a.spring_end_milli'])
    .where('s.from_id', '=', controllerId)
    .where('d.retired_on', 'is', null)
    .orderBy('d.tag')
    .limit(1)
    .executeTakeFirst();
  if (!row) return null;
  const own = row.pressure_unit ?? 'psi';
  return {
    startMilli: convertPressureMilli(row.spring_start_milli, own, unit),
    endMilli: convertPressureMilli(row.spring_end_milli, own, unit),
    tag: row.tag,
  };
}

/** The setpoints of a controller by role; empty for a device that has none. */
export async function setpointFactsOf(db: BookDb, deviceId: number): Promise<StoredSetpoint[]> {
  const device = await db
    .selectFrom('device as d')
    .leftJoin('main as m', 'm.device_id', 'd.main_id')
    .leftJoin('device as md', 'md.id', 'd.main_id')
    .leftJoin('controller as c', 'c.device_id', 'd.id')
    .select([
      'c.controller_kind',
      'd.pressure_unit',
      'd.temperature_unit',
      'm.main_kind',
      'm.low_pressure_milli',
      'm.high_pressure_milli',
      'md.pressure_unit as main_unit',
    ])
    .where('d.id', '=', deviceId)
    .executeTakeFirst();
  if (!device) return [];
  const pressureUnit = device.pressure_unit ?? 'psi';
  const temperatureUnit = scaleUnitOf(device.controller_kind ?? '', device.temperature_unit);
  const spring = await governingSpring(db, deviceId, pressureUnit);
  const points = new Map((await testPointsOfDevice(db, deviceId)).map((point) => [point.id, point]));
  const rows = await db
    .selectFrom('setpoint as s')
    .innerJoin('test_point as tp', 'tp.id', 's.test_point_id')
    .select([
      's.test_point_id',
      's.role',
      's.action',
      's.dial_milli',
      's.throttling_range_milli',
      's.output_low_milli',
      's.output_high_milli',
      's.calibration_basis',
      's.calibration_pressure_milli',
    ])
    .where('tp.device_id', '=', deviceId)
    .orderBy('s.test_point_id')
    .execute();
  return rows.flatMap((row) => {
    const point = points.get(row.test_point_id);
    if (!point) return [];
    const stated = row.calibration_pressure_milli;
    const pressure = calibrationPressure({
      basis: row.calibration_basis,
      outputLow: fromMilli(row.output_low_milli),
      outputHigh: fromMilli(row.output_high_milli),
      spring: spring ? { start: fromMilli(spring.startMilli), end: fromMilli(spring.endMilli) } : null,
      stated: stated === null ? null : fromMilli(stated),
    });
    const inState = point.air_state === 'high' ? device.high_pressure_milli : device.low_pressure_milli;
    // On a main with two pressures a setpoint that asks for no state may find either.
    const main = point.air_state === null && device.main_kind === 'two-pressure' ? null : inState;
    return [
      {
        testPointId: row.test_point_id,
        role: row.role,
        airState: point.air_state,
        action: row.action,
        dialMilli: row.dial_milli,
        throttlingRangeMilli: row.throttling_range_milli,
        outputLowMilli: row.output_low_milli,
        outputHighMilli: row.output_high_milli,
        calibrationBasis: row.calibration_basis,
        calibrationPressureMilli: pressure === null ? null : toMilli(pressure),
        spring,
        toleranceMilli: point.tolerance_milli ?? 1000,
        toleranceLeftMilli: point.tolerance_left_milli ?? point.tolerance_milli ?? 1000,
        actionLimitMilli: point.action_limit_milli ?? 2 * (point.tolerance_milli ?? 1000),
        pressureUnit,
        temperatureUnit,
        mainPressureMilli:
          main === null ? null : convertPressureMilli(main, device.main_unit ?? 'psi', pressureUnit),
        dueOn: point.due_on,
        active: point.active === 1,
      },
    ];
  });
}

/** What a controller's row says of its changeover, in thousandths of its own unit. */
export type ChangeoverColumns = {
  rated_low_milli: number | null;
  rated_high_milli: number | null;
  trip_falling_milli: number | null;
  trip_rising_milli: number | null;
};

/** What is known of a controller's changeover. */
export function changeoverOf(row: ChangeoverColumns): Changeover {
  const {
    rated_low_milli: low,
    rated_high_milli: high,
    trip_falling_milli: falling,
    trip_rising_milli: rising,
  } = row;
  return {
    rated: low === null || high === null ? null : { lowMilli: low, highMilli: high },
    measuredTrips:
      falling === null || rising === null ? null : { fallingMilli: falling, risingMilli: rising },
  };
}

/** What a record keeps of the register at the moment it is closed; later edits never reach it. */
export function snapshotOf(tag: string, stored: StoredSetpoint): Record<string, unknown> {
  return {
    tag,
    kind: 'setpoint',
    role: stored.role,
    action: stored.action,
    airState: stored.airState,
    dialMilli: stored.dialMilli,
    throttlingRangeMilli: stored.throttlingRangeMilli,
    outputLowMilli: stored.outputLowMilli,
    outputHighMilli: stored.outputHighMilli,
    calibrationBasis: stored.calibrationBasis,
    calibrationPressureMilli: stored.calibrationPressureMilli,
    spring: stored.spring,
    toleranceMilli: stored.toleranceMilli,
    toleranceLeftMilli: stored.toleranceLeftMilli,
    pressureUnit: stored.pressureUnit,
    temperatureUnit: stored.temperatureUnit,
  };
}
