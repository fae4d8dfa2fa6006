/**
 * Recomputes what a stored calibration derived from its readings, from the record alone: its snapshot and its
 * raw readings. The register as it is today plays no part.
 */
import type { ControllerAction } from '../../shared/trade/proportional.ts';
import { errorOf, foundVerdict, leftVerdict } from '../../shared/trade/setpointCard.ts';
import type { SetpointFacts } from '../../shared/trade/setpointCard.ts';
import type { SetpointError } from '../../shared/trade/setpointError.ts';
import { METHOD_VERSION } from '../../shared/trade/words.ts';
import { convertPressure, convertTemperature, fromMilli, toMilli } from '../../shared/units/units.ts';
import type { PressureUnit, TemperatureUnit } from '../../shared/units/units.ts';

type StoredReading = { phase: string; quantity: string; value_milli: number; unit: string };
type StoredCalibration = {
  row: {
    outcome: string;
    source: string;
    method: string | null;
    method_version: string;
    error_found_milli: number | null;
    found_relation: string | null;
    verdict_found: string | null;
    error_left_milli: number | null;
    verdict_left: string | null;
    snapshot_json: string;
  };
  readings: StoredReading[];
};

type Snapshot = {
  kind: string;
  action: ControllerAction;
  throttlingRangeMilli: number;
  outputLowMilli: number;
  outputHighMilli: number;
  calibrationPressureMilli: number | null;
  toleranceMilli: number;
  toleranceLeftMilli: number;
  pressureUnit: PressureUnit;
  temperatureUnit: TemperatureUnit;
};

function reading(
  stored: StoredCalibration,
  snapshot: Snapshot,
  phase: string,
  quantity: string,
): number | null {
  const found = stored.readings.find((one) => one.phase === phase && one.quantity === quantity);
  if (!found) return null;
  const value = fromMilli(found.value_milli);
  if (found.unit === 'psi' || found.unit === 'kPa')
    return convertPressure(value, found.unit, snapshot.pressureUnit);
  if (found.unit === 'degF' || found.unit === 'degC')
    return convertTemperature(value, found.unit, snapshot.temperatureUnit);
  return value;
}

function errorFrom(
  stored: StoredCalibration,
  snapshot: Snapshot,
  facts: SetpointFacts,
  phase: 'found' | 'left',
): SetpointError | null {
  const get = (quantity: string, of: string = phase): number | null =>
    reading(stored, snapshot, of, quantity);
  // A readings file states the room once; as left its dial stands at the room temperature.
  const temperature = get('room temperature') ?? get('room temperature', 'found');
  const dial = get('dial') ?? (phase === 'left' ? temperature : null);
  const branch = get('branch pressure');
  const atCalibration = get('dial at calibration pressure');
  if (temperature === null || (atCalibration === null && (branch === null || dial === null))) return null;
  return errorOf(facts, {
    mainPressure: get('main pressure', 'found') ?? 0,
    temperature,
    dial: dial ?? 0,
    branch: branch ?? 0,
    dialAtCalibrationPressure: atCalibration,
  });
}

/** What does not follow from the readings, in words; null when all does, or nothing can be recomputed. */
export function recomputeProblem(content: unknown): string | null {
  const stored = content as StoredCalibration;
  const { row } = stored;
  if (row.method === null || row.method === 'typed' || row.method_version !== METHOD_VERSION) return null;
  const snapshot = JSON.parse(row.snapshot_json) as Snapshot;
  if (snapshot.kind !== 'setpoint' || snapshot.calibrationPressureMilli === null) return null;
  const facts: SetpointFacts = {
    action: snapshot.action,
    calibrationPressure: fromMilli(snapshot.calibrationPressureMilli),
    outputLow: fromMilli(snapshot.outputLowMilli),
    outputHigh: fromMilli(snapshot.outputHighMilli),
    throttlingRange: fromMilli(snapshot.throttlingRangeMilli),
    spring: null,
    toleranceFound: fromMilli(snapshot.toleranceMilli),
    toleranceLeft: fromMilli(snapshot.toleranceLeftMilli),
    endClearance: 0,
  };
  const found = errorFrom(stored, snapshot, facts, 'found');
  if (found) {
    const milli = toMilli(found.error);
    if (milli !== row.error_found_milli)
      return `the as-found error is ${row.error_found_milli}, its readings give ${milli}`;
    const verdict = foundVerdict(facts, { ...found, error: fromMilli(milli) });
    if (verdict !== row.verdict_found)
      return `the as-found verdict is ${row.verdict_found}, its readings give ${verdict}`;
  }
  const left = row.outcome === 'held' ? null : errorFrom(stored, snapshot, facts, 'left');
  if (left) {
    const milli = toMilli(left.error);
    if (milli !== row.error_left_milli)
      return `the as-left error is ${row.error_left_milli}, its readings give ${milli}`;
    const verdict = leftVerdict(facts, { ...left, error: fromMilli(milli) });
    if (verdict !== row.verdict_left)
      return `the as-left verdict is ${row.verdict_left}, its readings give ${verdict}`;
  }
  return null;
}
