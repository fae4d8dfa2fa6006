/**
 * In-or-out results as interval statistics take them, under "renewed when adjusted": the clock runs from the last
 * adjustment, repair or replacement, and several good visits in a row are one growing interval, not several successes. So
 * a run of visits gives one result: at its end, where it was found outside, was adjusted, or is looked at today. A run
 * whose start is not known gives none.
 */
import { daysBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import type { DriftPoint } from './driftSeries.ts';
import { isFoundOutside } from './driftSeries.ts';

export type RenewalResult = { days: number; isInside: boolean; on: PlainDate };

/** The results of one test point's history against +- tolerance in thousandths. */
export function renewalResults(points: readonly DriftPoint[], toleranceMilli: number): RenewalResult[] {
  const results: RenewalResult[] = [];
  let since: PlainDate | null = null;
  let open: RenewalResult | null = null;
  const close = (): void => {
    if (open) results.push(open);
    open = null;
  };
  for (const point of points) {
    if (point.isBeforeService || (point.found === null && point.leftMilli === null)) continue;
    const isOutside =
      point.found === null || point.supplyFlagged ? null : isFoundOutside(point.found, toleranceMilli);
    const days: number = since === null ? 0 : daysBetween(since, point.date);
    if (since !== null && isOutside !== null && days > 0)
      open = { days, isInside: !isOutside, on: point.date };
    const isRenewed =
      point.event !== 'none' || (point.adjustmentMilli !== null && point.adjustmentMilli !== 0);
    const isKnownLeft = point.leftMilli !== null;
    if (isOutside === true || isRenewed || !isKnownLeft) close();
    // Found outside and left so, the clock of a good start does not run on.
    const isLeftInside = isKnownLeft && Math.abs(point.leftMilli ?? 0) <= toleranceMilli;
    if (isRenewed || since === null) since = isLeftInside ? point.date : null;
    else if (isOutside === true || !isKnownLeft) since = null;
  }
  close();
  return results;
}
