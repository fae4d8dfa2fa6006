/** A card's facts as a record keeps them that no card made: from a file, or from before there were cards. */
import type { CardFacts } from '../../shared/cards/index.ts';
import type { ControllerAction } from '../../shared/trade/proportional.ts';
import type { PressureUnit, ScaleUnit } from '../../shared/units/units.ts';

export type PlainSnapshot = {
  nominalMilli?: number | null;
  toleranceMilli?: number;
  toleranceLeftMilli?: number;
  dialMilli?: number;
  action?: ControllerAction;
  throttlingRangeMilli?: number;
  outputLowMilli?: number;
  outputHighMilli?: number;
  calibrationPressureMilli?: number | null;
  spring?: { startMilli: number; endMilli: number; tag: string } | null;
  pressureUnit?: PressureUnit;
  temperatureUnit?: ScaleUnit;
};

/**
 * The register's facts with those of the record's day in their place. The main of that day the record does not keep: what
 * it stood at is held against nothing.
 */
export function factsOfTheDay(facts: CardFacts, testPointId: number, held: PlainSnapshot): CardFacts {
  const points = facts.points.map((point) =>
    point.testPointId === testPointId
      ? {
          ...point,
          toleranceMilli: held.toleranceMilli ?? point.toleranceMilli,
          toleranceLeftMilli: held.toleranceLeftMilli ?? held.toleranceMilli ?? point.toleranceLeftMilli,
          nominalMilli: held.nominalMilli ?? held.dialMilli ?? point.nominalMilli,
        }
      : point,
  );
  if (facts.card !== 'setpoint') return { ...facts, points };
  const [point] = points;
  return {
    ...facts,
    points,
    dialMilli: held.dialMilli ?? facts.dialMilli,
    action: held.action ?? facts.action,
    throttlingRangeMilli: held.throttlingRangeMilli ?? facts.throttlingRangeMilli,
    outputLowMilli: held.outputLowMilli ?? facts.outputLowMilli,
    outputHighMilli: held.outputHighMilli ?? facts.outputHighMilli,
    calibrationPressureMilli:
      held.calibrationPressureMilli === undefined
        ? facts.calibrationPressureMilli
        : held.calibrationPressureMilli,
    spring: held.spring === undefined ? facts.spring : held.spring,
    toleranceMilli: point.toleranceMilli,
    toleranceLeftMilli: point.toleranceLeftMilli,
    pressureUnit: held.pressureUnit ?? facts.pressureUnit,
    scaleUnit: held.temperatureUnit ?? facts.scaleUnit,
    temperatureUnit:
      held.temperatureUnit === undefined || held.temperatureUnit === 'percent'
        ? facts.temperatureUnit
        : held.temperatureUnit,
    mainMilli: null,
    mainPair: null,
  };
}
