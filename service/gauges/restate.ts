/**
 * A record as it would read had the instrument shown the truth. `bias` is what the instrument showed too much, in
 * its own unit; every figure that was read from it is taken down by that. Nothing in the book is changed.
 */
import type { CardValues } from '../../shared/cards/card.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import type { InstrumentKind } from '../../shared/cards/instruments.ts';
import type { Measure } from '../../shared/cards/card.ts';
import type { DecisionRule } from '../../shared/trade/doubt.ts';
import { limitsOf, verdictInDoubt } from '../../shared/trade/doubt.ts';
import { actionSign, gainOf } from '../../shared/trade/proportional.ts';
import { foundVerdict, leftVerdict } from '../../shared/trade/setpointCard.ts';
import {
  convertPressure,
  convertTemperatureDifference,
  fromMilli,
  toMilli,
} from '../../shared/units/units.ts';
import type { PressureUnit, TemperatureUnit, Unit } from '../../shared/units/units.ts';
import { cardSnapshotOf, entryOfRecord, figuresOf, judgeEntry } from '../bench/cardRecord.ts';
import { errorFrom, factsOfRecord } from '../records/recompute.ts';
import type { StoredCalibration, StoredReading } from '../records/recompute.ts';

export type Bias = { kind: InstrumentKind; milli: number; unit: Unit };
export type RestatedFigures = {
  found: number | null;
  verdictFound: string | null;
  left: number | null;
  verdictLeft: string | null;
};

/** Measures whose figures are read from each kind of instrument; a difference of two readings keeps no bias. */
const measuresOf: Record<InstrumentKind, readonly Measure[]> = {
  pressure: ['pressure', 'supply pressure'],
  temperature: ['scale', 'medium temperature'],
  humidity: ['scale'],
};

/** A bias in thousandths of another unit of the same kind; never an offset. */
function biasIn(bias: Bias, unit: Unit): number {
  if (bias.unit === unit) return bias.milli;
  const value = fromMilli(bias.milli);
  return toMilli(
    bias.kind === 'pressure'
      ? convertPressure(value, bias.unit as PressureUnit, unit as PressureUnit)
      : convertTemperatureDifference(value, bias.unit as TemperatureUnit, unit as TemperatureUnit),
  );
}

function unitOfKind(facts: CardFacts, kind: InstrumentKind): Unit {
  if (kind === 'pressure') return facts.pressureUnit;
  return kind === 'humidity' ? 'percent' : facts.temperatureUnit;
}

function shiftedValues(facts: CardFacts, values: CardValues, bias: Bias): CardValues {
  const shift = biasIn(bias, unitOfKind(facts, bias.kind));
  const shifted: Record<string, number | string> = { ...values };
  for (const { fields } of descriptionOf(facts).steps)
    for (const field of fields) {
      const value = values[field.key];
      if (field.kind !== 'figure' || typeof value !== 'number') continue;
      const isDewPoint = facts.card === 'air_station' && field.key.startsWith('dewPoint');
      if (measuresOf[bias.kind].includes(field.measure) || (isDewPoint && bias.kind === 'temperature'))
        // A gauge at rest shows its bias: the truth is nothing, not less.
        shifted[field.key] = bias.kind === 'pressure' ? Math.max(0, value - shift) : value - shift;
    }
  if (facts.card === 'setpoint' && bias.kind === 'pressure' && facts.calibrationPressureMilli !== null)
    // By the dial method the branch stood at the calibration pressure as the gauge showed it.
    for (const [sought, dial, branch] of [
      ['foundDialAtCalibration', 'foundDial', 'foundBranch'],
      ['leftDialAtCalibration', 'leftDial', 'leftBranch'],
    ] as const) {
      const at = values[sought];
      if (at === undefined) continue;
      delete shifted[sought];
      shifted[dial] = at;
      shifted[branch] = facts.calibrationPressureMilli - shift;
    }
  return shifted;
}

function restateCard(
  stored: StoredCalibration,
  cardReadings: readonly StoredReading[],
  bias: Bias,
): RestatedFigures | null {
  const snapshot = cardSnapshotOf(stored.row.snapshot_json);
  const point = snapshot?.facts.points.find(({ testPointId }) => testPointId === stored.row.test_point_id);
  if (!snapshot || !point) return null;
  const entry = entryOfRecord(snapshot, cardReadings);
  const values = shiftedValues(snapshot.facts, entry.values, bias);
  const judgement = judgeEntry(
    snapshot.facts,
    { ...entry, values },
    {
      instruments: snapshot.instruments,
      rule: stored.row.decision_rule as DecisionRule,
      doneOn: stored.row.done_on,
    },
  );
  const figures = figuresOf(judgement, point.key, snapshot.outcome);
  return {
    found: figures.error_found_milli,
    verdictFound: figures.verdict_found,
    left: figures.error_left_milli,
    verdictLeft: figures.verdict_left,
  };
}

/** Records from files and from before there were cards: setpoints by their readings, everything else by its value. */
function restatePlain(stored: StoredCalibration, bias: Bias): RestatedFigures | null {
  const { row, readings } = stored;
  const held = factsOfRecord(row.snapshot_json);
  if (held) {
    const { snapshot, facts } = held;
    const pressure = bias.kind === 'pressure' ? fromMilli(biasIn(bias, snapshot.pressureUnit)) : 0;
    const degrees = bias.kind !== 'pressure' ? fromMilli(biasIn(bias, snapshot.temperatureUnit)) : 0;
    const gain = gainOf(facts.outputLow, facts.outputHigh, facts.throttlingRange);
    // Each way of coming to the error is straight in both figures: e loses the thermometer's bias, and gains a b/G.
    const moved = (milli: number | null): number | null =>
      milli === null
        ? null
        : toMilli(fromMilli(milli) - degrees + (actionSign(facts.action) * pressure) / gain);
    const foundIs = errorFrom(stored, snapshot, facts, 'found');
    const found = moved(row.error_found_milli);
    const left = moved(row.error_left_milli);
    const relation = foundIs?.relation ?? ((row.found_relation ?? '=') as '=');
    const verdictFound =
      found === null ? null : foundVerdict(facts, { error: fromMilli(found), relation, method: 'M2' });
    // What was held was left as it was found, and is judged as such.
    if (row.outcome === 'held') return { found, verdictFound, left: found, verdictLeft: verdictFound };
    return {
      found,
      verdictFound,
      left,
      verdictLeft:
        left === null ? null : leftVerdict(facts, { error: fromMilli(left), relation: '=', method: 'M2' }),
    };
  }
  const snapshot = JSON.parse(row.snapshot_json) as { toleranceMilli?: number; unit?: Unit };
  const value = readings.find(({ quantity }) => quantity === 'value');
  if (!value || row.error_found_milli === null || snapshot.unit === undefined) return null;
  const isOfKind =
    bias.kind === 'pressure'
      ? value.unit === 'psi' || value.unit === 'kPa'
      : value.unit === 'degF' || value.unit === 'degC';
  if (!isOfKind) return null;
  const shift = biasIn(bias, value.unit as Unit);
  const verdict = (milli: number | null): string | null =>
    milli === null
      ? null
      : verdictInDoubt(
          { error: fromMilli(milli), relation: '=' },
          limitsOf(fromMilli(snapshot.toleranceMilli ?? 0)),
          0,
        );
  const found = row.error_found_milli - shift;
  const left = row.error_left_milli === null ? null : row.error_left_milli - shift;
  return { found, verdictFound: verdict(found), left, verdictLeft: verdict(left) };
}

/** The figures of one record re-stated; null when its readings do not say enough. */
export function restate(
  stored: StoredCalibration,
  cardReadings: readonly StoredReading[],
  bias: Bias,
): RestatedFigures | null {
  return cardSnapshotOf(stored.row.snapshot_json)
    ? restateCard(stored, cardReadings, bias)
    : restatePlain(stored, bias);
}
