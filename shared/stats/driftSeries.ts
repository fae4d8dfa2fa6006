/**
 * The drift of one setpoint from visit to visit. Errors and drifts are integer thousandths of a degree, so
 * that equal values are equal; rates are degrees per Julian year, unrounded.
 *
 *   drift      d_n = found_n - left_(n-1), only when left_(n-1) is known and the device is the same
 *   adjustment     = left_n - found_n
 *   unadjusted v_n = found_n - sum of the adjustments before n: the series as if nobody had touched it
 *
 * A series breaks at a replacement, at a change of calibration pressure, throttling range or spring, and
 * where the as-left is missing.
 */
import { daysBetween, julianYearsBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import type { Relation } from '../trade/setpointError.ts';
import { leastSquares } from './leastSquares.ts';
import type { Line } from './leastSquares.ts';
import { theilSen } from './theilSen.ts';

export type DriftVisit = {
  date: PlainDate;
  found: { milli: number; relation: Relation } | null;
  leftMilli: number | null;
  /** `replaced`: another device hangs there when the technician leaves. `changed`: P_cal, TR or spring changed. */
  event: 'none' | 'replaced' | 'changed';
  /** True when the supply was found wrong at this visit: the value is kept and marked. */
  supplyFlagged: boolean;
};

export type DriftPoint = DriftVisit & {
  series: number;
  /** Days and years since the visit that the drift is counted from; null without such a visit. */
  days: number | null;
  driftMilli: number | null;
  ratePerYear: number | null;
  adjustmentMilli: number | null;
  /** Sum of the drifts of this series up to here; null while no drift of the series is known. */
  cumulativeMilli: number | null;
  unadjustedMilli: number | null;
};

type Running = {
  series: number;
  /** Last visit with a reading in this series. */
  last: { date: PlainDate; leftMilli: number | null } | null;
  cumulativeMilli: number;
  adjustedMilli: number;
};

function freshSeries(series: number, last: Running['last']): Running {
  return { series, last, cumulativeMilli: 0, adjustedMilli: 0 };
}

/** Visits in date order to drift points. Throws RangeError when the dates run backwards. */
export function driftPoints(visits: readonly DriftVisit[]): DriftPoint[] {
  const points: DriftPoint[] = [];
  let running = freshSeries(0, null);
  for (const [index, visit] of visits.entries()) {
    if (index > 0 && visits[index - 1].date > visit.date)
      throw new RangeError(
        `visits must be in date order; ${visit.date} comes after ${visits[index - 1].date}`,
      );
    const value = visit.found?.relation === '=' ? visit.found.milli : null;
    if (visit.found !== null && running.last !== null && running.last.leftMilli === null)
      running = freshSeries(running.series + 1, null);
    const { last } = running;
    const known = value !== null && last !== null && last.leftMilli !== null;
    const driftMilli = known ? value - (last.leftMilli as number) : null;
    if (driftMilli !== null) running.cumulativeMilli += driftMilli;
    const elapsedYears = last === null ? 0 : julianYearsBetween(last.date, visit.date);
    const startsHere = last === null && visit.found === null && visit.leftMilli !== null;
    points.push({
      ...visit,
      series: running.series,
      days: last === null ? null : daysBetween(last.date, visit.date),
      driftMilli,
      ratePerYear: driftMilli === null || elapsedYears === 0 ? null : driftMilli / 1000 / elapsedYears,
      adjustmentMilli:
        value === null || visit.leftMilli === null || visit.event === 'replaced'
          ? null
          : visit.leftMilli - value,
      cumulativeMilli: driftMilli === null ? null : running.cumulativeMilli,
      unadjustedMilli: value === null ? (startsHere ? visit.leftMilli : null) : value - running.adjustedMilli,
    });
    running = afterVisit(running, visit, value);
  }
  return points;
}

function afterVisit(running: Running, visit: DriftVisit, value: number | null): Running {
  const hasReading = visit.found !== null || visit.leftMilli !== null;
  const last = hasReading ? { date: visit.date, leftMilli: visit.leftMilli } : running.last;
  if (visit.event !== 'none') return freshSeries(running.series + 1, last);
  if (visit.found !== null && value === null && visit.leftMilli !== null)
    // A bound says nothing of how far it was adjusted: the unadjusted series starts again at the as-left.
    return freshSeries(running.series + 1, last);
  const adjustment = value === null || visit.leftMilli === null ? 0 : visit.leftMilli - value;
  return { ...running, last, adjustedMilli: running.adjustedMilli + adjustment };
}

export type DriftSummary = {
  /** Points of the newest series, its span and its two trend lines over years since its first point. */
  series: number;
  firstOn: PlainDate | null;
  count: number;
  theilSen: Line | null;
  leastSquares: Line | null;
  lastDriftMilli: number | null;
  lastRatePerYear: number | null;
};

/** Trend lines over the unadjusted values of the newest series; lines need three points to be shown. */
export function summariseDrift(points: readonly DriftPoint[]): DriftSummary {
  const usable = points.filter((point) => point.unadjustedMilli !== null && !point.supplyFlagged);
  const series = usable.at(-1)?.series ?? points.at(-1)?.series ?? 0;
  const own = usable.filter((point) => point.series === series);
  const firstOn = own[0]?.date ?? null;
  const x = own.map((point) => julianYearsBetween(own[0].date, point.date));
  const y = own.map((point) => (point.unadjustedMilli as number) / 1000);
  const drifts = points.filter((point) => point.driftMilli !== null);
  return {
    series,
    firstOn,
    count: own.length,
    theilSen: own.length >= 3 ? theilSen(x, y) : null,
    leastSquares: own.length >= 3 ? leastSquares(x, y) : null,
    lastDriftMilli: drifts.at(-1)?.driftMilli ?? null,
    lastRatePerYear: drifts.at(-1)?.ratePerYear ?? null,
  };
}

export type ToleranceTally = { outside: number; known: number };

/** Out-of-tolerance count of the as-found values: a bound counts when it proves `outside`, else it is unknown. */
export function toleranceTally(visits: readonly DriftVisit[], toleranceMilli: number): ToleranceTally {
  let outside = 0;
  let known = 0;
  for (const { found } of visits) {
    if (found === null) continue;
    const isOutside =
      found.relation === '='
        ? Math.abs(found.milli) > toleranceMilli
        : found.relation === '>='
          ? found.milli > toleranceMilli
          : found.milli < -toleranceMilli;
    if (isOutside) outside += 1;
    if (isOutside || found.relation === '=') known += 1;
  }
  return { outside, known };
}
