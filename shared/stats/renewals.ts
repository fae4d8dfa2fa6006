/**
 * In-or-out results as interval statistics take them, under "renewed when adjusted": the clock runs from the last
 * adjustment, repair or replacement. Each visit is one trial of the stretch since the one before: several good visits in a
 * row are one growing interval, of which each shows a part, and a run that ends outside is known to have been inside until
 * the visit before. What was found or left outside, or left unknown, starts no clock until it is renewed.
 */
import { daysBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import type { DriftPoint, Side } from './driftSeries.ts';
import { isFoundOutside } from './driftSeries.ts';

/** Found inside or not on a date, `days` after the renewal; known to be inside `since` days after it. */
export type RenewalResult = { on: PlainDate; since: number; days: number; isInside: boolean };

/** The results of one test point's history against its tolerance in thousandths. */
export function renewalResults(
  points: readonly DriftPoint[],
  toleranceMilli: number,
  side: Side = 'both',
): RenewalResult[] {
  const results: RenewalResult[] = [];
  let clock: { start: PlainDate; since: number } | null = null;
  for (const point of points) {
    if (point.isBeforeService || (point.found === null && point.leftMilli === null)) continue;
    const isOutside =
      point.found === null || point.supplyFlagged ? null : isFoundOutside(point.found, toleranceMilli, side);
    const days: number = clock === null ? 0 : daysBetween(clock.start, point.date);
    if (clock !== null && isOutside !== null && days > clock.since)
      results.push({ on: point.date, since: clock.since, days, isInside: !isOutside });
    const isLeftInside =
      point.leftMilli !== null &&
      isFoundOutside({ milli: point.leftMilli, relation: '=' }, toleranceMilli, side) === false;
    const isRenewed =
      clock === null ||
      point.event !== 'none' ||
      (point.adjustmentMilli !== null && point.adjustmentMilli !== 0);
    if (!isLeftInside) clock = null;
    else if (isRenewed) clock = { start: point.date, since: 0 };
    else if (isOutside === false && clock) clock = { start: clock.start, since: Math.max(clock.since, days) };
  }
  return results;
}
