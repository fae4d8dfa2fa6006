/**
 * How urgent a check is, from the chance that its test point will be found outside: by its own line where it was never
 * adjusted, by its rate between adjustments otherwise. The planner's price of a day late is the weight of the class times a
 * factor between a half and two: one where the chance is what the target allows, a half where there is none, two from three
 * times as much on. A choice of this program; without a record that says anything the class's weight stands.
 */
import { julianYearsBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import { normalCdf } from './dist/normal.ts';
import type { DriftFindings } from './driftStatistics.ts';
import { limitMilli } from './driftSeries.ts';
import { GIVEN_FROM } from './givenFrom.ts';
import { chanceBelow } from './wanderingLine.ts';

/** Chance, 0 to 1, of a reading outside its tolerance (units) on a day; null where the record says nothing of it. */
export function outsideChance(statistics: DriftFindings, tolerance: number, on: PlainDate): number | null {
  const { count, line, rate, firstOn, isAdjusted, standing, standingOn, side } = statistics;
  const limit = limitMilli(tolerance, side);
  if (count < GIVEN_FROM.trend || !firstOn || standing === null || standingOn === null) return null;
  if (!isAdjusted) {
    if (line === null) return null;
    const x = julianYearsBetween(firstOn, on);
    return (side === 'both' ? chanceBelow(line, x, -limit) : 0) + 1 - chanceBelow(line, x, limit);
  }
  if (rate?.sigma == null || rate.error === null) return null;
  const years = Math.max(0, julianYearsBetween(standingOn, on));
  const spread = Math.sqrt(rate.sigma ** 2 * years + (rate.error * years) ** 2);
  const value = standing + rate.rate * years;
  const isTwoSided = side === 'both';
  if (spread === 0) return Number(value > limit || (isTwoSided && value < -limit));
  return (isTwoSided ? normalCdf((-limit - value) / spread) : 0) + normalCdf((value - limit) / spread);
}

/** The factor on the weight for a chance, with the share that the target allows to be outside. */
export function urgencyFactor(chance: number, target: number): number {
  return Math.min(2, 0.5 + (0.5 * chance) / (1 - target));
}

/** Weight of a task, a whole number from 1 to 10; the class's own where nothing is known. */
export function urgentWeight(classWeight: number, chance: number | null, target: number): number {
  const factor = chance === null ? 1 : urgencyFactor(chance, target);
  return Math.min(10, Math.max(1, Math.round(classWeight * factor)));
}
