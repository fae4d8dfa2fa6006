/**
 * Recomputes what a stored calibration derived from its readings, from the record alone: its snapshot and its
 * raw readings. The register as it is today plays no part.
 */
import type { ControllerAction } from '../../shared/trade/proportional.ts';
import { errorOf, foundVerdict, leftVerdict } from '../../shared/trade/setpointCard.ts';
import type { SetpointFacts } from '../../shared/trade/setpointCard.ts';
import type { SetpointError } from '../../shared/trade/setpointError.ts';
import type { DecisionRule } from '../../shared/trade/doubt.ts';
import { CARD_VERSION } from '../../shared/cards/index.ts';
import { METHOD_VERSION } from '../../shared/trade/words.ts';
import { cardSnapshotOf, entryOfRecord, figuresOf, judgeEntry } from '../bench/cardRecord.ts';
import type { CardSnapshot } from '../bench/cardRecord.ts';
import { convertPressure, convertScale, fromMilli, toMilli } from '../../shared/units/units.ts';
import type { PressureUnit, ScaleUnit } from '../../shared/units/units.ts';

export type StoredReading = {
  phase: string;
  quantity: string;
  value_milli?: number | null;
  value_text?: string | null;
  unit: string;
};
export type StoredCalibration = {
  row: {
    test_point_id: number;
    done_on: string;
    decision_rule: string;
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

export type Snapshot = {
  kind: string;
  action: ControllerAction;
  throttlingRangeMilli: number;
  outputLowMilli: number;
  outputHighMilli: number;
  calibrationPressureMilli: number | null;
  toleranceMilli: number;
  toleranceLeftMilli: number;
  pressureUnit: PressureUnit;
  temperatureUnit: ScaleUnit;
};

function reading(
  stored: StoredCalibration,
  snapshot: Snapshot,
  phase: string,
  quantity: string,
): number | null {
  const found = stored.readings.find((one) => one.phase === phase && one.quantity === quantity);
  if (typeof found?.value_milli !== 'number') return null;
  const value = fromMilli(found.value_milli);
  if (found.unit === 'psi' || found.unit === 'kPa')
    return convertPressure(value, found.unit, snapshot.pressureUnit);
  if (found.unit === 'degF' || found.unit === 'degC')
    return convertScale(value, found.unit, snapshot.temperatureUnit);
  return value;
}

/** The error that a record's own readings give; null when they give none. */
export function errorFrom(
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

/** The facts that a record from a file, or from before there were cards, was judged by; null where there are none. */
export function factsOfRecord(snapshotJson: string): { snapshot: Snapshot; facts: SetpointFacts } | null {
  const snapshot = JSON.parse(snapshotJson) as Snapshot;
  if (snapshot.kind !== 'setpoint' || snapshot.calibrationPressureMilli === null) return null;
  return {
    snapshot,
    facts: {
      action: snapshot.action,
      calibrationPressure: fromMilli(snapshot.calibrationPressureMilli),
      outputLow: fromMilli(snapshot.outputLowMilli),
      outputHigh: fromMilli(snapshot.outputHighMilli),
      throttlingRange: fromMilli(snapshot.throttlingRangeMilli),
      spring: null,
      toleranceFound: fromMilli(snapshot.toleranceMilli),
      toleranceLeft: fromMilli(snapshot.toleranceLeftMilli),
      endClearance: 0,
    },
  };
}

const cardFigures = [
  'method',
  'error_found_milli',
  'found_relation',
  'verdict_found',
  'doubt_milli',
  'conformance_found_ppm',
  'error_left_milli',
  'left_relation',
  'verdict_left',
  'doubt_left_milli',
  'conformance_left_ppm',
] as const;

/** What of a card's record does not follow from the readings of the whole card; null when all does. */
function cardProblem(
  row: Record<string, unknown> & StoredCalibration['row'],
  snapshot: CardSnapshot,
  cardReadings: readonly StoredReading[],
): string | null {
  const entry = entryOfRecord(snapshot, cardReadings);
  const judgement = judgeEntry(snapshot.facts, entry, {
    instruments: snapshot.instruments,
    rule: row.decision_rule as DecisionRule,
    doneOn: row.done_on,
  });
  const point = snapshot.facts.points.find(({ testPointId }) => testPointId === row.test_point_id);
  if (!point) return 'its snapshot knows nothing of its test point';
  const figures = figuresOf(judgement, point.key, snapshot.outcome);
  if (figures.outcome !== row.outcome)
    return `the outcome is ${row.outcome}, its card gives ${figures.outcome}`;
  for (const name of cardFigures)
    if ((row[name] ?? null) !== figures[name])
      return `${name.replaceAll('_', ' ')} is ${JSON.stringify(row[name] ?? null)}, its readings give ${JSON.stringify(figures[name])}`;
  return null;
}

/**
 * What does not follow from the readings, in words; null when all does, or nothing can be recomputed.
 * `cardReadings` are those of all records that the same card made.
 */
export function recomputeProblem(content: unknown, cardReadings: readonly StoredReading[]): string | null {
  const stored = content as StoredCalibration;
  const { row } = stored;
  if (row.method_version === CARD_VERSION) {
    const snapshot = cardSnapshotOf(row.snapshot_json);
    return snapshot
      ? cardProblem(row as Record<string, unknown> & StoredCalibration['row'], snapshot, cardReadings)
      : 'it has no snapshot of its card';
  }
  if (row.method === null || row.method === 'typed' || row.method_version !== METHOD_VERSION) return null;
  const held = factsOfRecord(row.snapshot_json);
  if (!held) return null;
  const { snapshot, facts } = held;
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
