/**
 * The drift of one test point from visit to visit. Errors and drifts are integer thousandths of a degree (or of the
 * point's unit), so that equal values are equal; rates are units per Julian year, unrounded.
 *
 *   drift      d_n = found_n - left_(n-1), only when left_(n-1) is known and the device is the same
 *   adjustment     = left_n - found_n
 *   unadjusted v_n = found_n - sum of the adjustments before n: the series as if nobody had touched it
 *
 * A series breaks at a replacement and at a repair, where the as-left is missing, and at a change of the action, of the
 * calibration pressure or of the gain over which older readings cannot be re-expressed. What is found and left at a break
 * stays on the basis of its day; the next drift counts from the as-left told on the basis that follows, and where that
 * cannot be told from nothing. A bound (at least, at most) takes part in no drift. What was read before the device was in
 * service belongs to no series.
 */
import { JULIAN_YEAR, daysBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import type { Relation } from '../trade/setpointError.ts';
import { errorOnBasis, isSameBasis } from './reexpress.ts';
import type { Basis } from './reexpress.ts';

export type DriftVisit = {
  date: PlainDate;
  found: { milli: number; relation: Relation } | null;
  leftMilli: number | null;
  /** A bound that was left as it was found: what it stands at is not known, but nobody moved it. */
  isLeftAsBound?: boolean;
  /** `replaced`: another device hangs there when the technician leaves. `changed`: repaired, its drift begins anew. */
  event: 'none' | 'replaced' | 'changed';
  /** The device was replaced before the next visit: what was left here says nothing of the next one. */
  isLastOfDevice?: boolean;
  /** True when the supply was found wrong at this visit: the value is kept and marked. */
  supplyFlagged: boolean;
  /** How the error was read, and what it refers to; null for points whose error is a plain difference. */
  method?: string | null;
  basis?: Basis | null;
  /** The dial or setting of the day; a change of it is flagged, and breaks nothing. */
  nominalMilli?: number | null;
  /** Read before the device was in service by the register of today. */
  isBeforeService?: boolean;
};

export type DriftPoint = Pick<DriftVisit, 'date' | 'found' | 'leftMilli' | 'event' | 'supplyFlagged'> & {
  series: number;
  /** By how much the as-found (without one the as-left) was moved to be told on the newest basis of the series; both are moved. */
  reexpressedMilli: number;
  /** What the next visit's drift counts from: the newest as-left, on the basis of what follows; null where it counts from nothing. */
  carriedMilli: number | null;
  nominalChanged: boolean;
  isBeforeService: boolean;
  isLeftAsBound: boolean;
  /** This visit closes its series: the next one begins from what was left here, or from nothing that is known. */
  closes: 'no' | 'from what was left' | 'anew';
  /** Days and years since the visit that the drift is counted from; null without such a visit. */
  days: number | null;
  driftMilli: number | null;
  /** True where the supply was wrong at either end of the drift. */
  driftFlagged: boolean;
  ratePerYear: number | null;
  adjustmentMilli: number | null;
  /** Sum of the drifts of this series up to here; null while no drift of the series is known. */
  cumulativeMilli: number | null;
  unadjustedMilli: number | null;
  /** Sum of the adjustments of its series before this visit: by so much a bound, too, is moved. */
  adjustedBeforeMilli: number;
};

type Prepared = DriftVisit & {
  reexpressedMilli?: number;
  /** The as-left on the basis of what follows, where that is another one than this visit's own. */
  carriedMilli?: number | null;
  /** What stands here cannot be told on the basis of what follows. */
  isLost?: boolean;
};

type Last = { date: PlainDate; leftMilli: number | null; isLeftAsBound: boolean; flagged: boolean };
type Running = {
  series: number;
  /** Last visit with a reading in this series. */
  last: Last | null;
  cumulativeMilli: number;
  adjustedMilli: number;
};

function freshSeries(series: number, last: Running['last']): Running {
  return { series, last, cumulativeMilli: 0, adjustedMilli: 0 };
}

/** Nothing that follows is counted from this visit: its device is gone, or was repaired, and what was left is not known of it. */
const isLastOfSeries = ({ isLastOfDevice, event, leftMilli }: DriftVisit): boolean =>
  isLastOfDevice === true || (event !== 'none' && leftMilli === null);

/** Visits told on the newest basis of their series as far back as that goes; where it does not, the visit before is a break. */
function onNewestBasis(visits: readonly DriftVisit[]): readonly Prepared[] {
  // Most histories have one basis throughout: nothing is moved.
  const first = visits[0]?.basis ?? null;
  if (visits.every(({ basis: own }) => (own ?? null) === first)) return visits;
  const prepared: Prepared[] = [];
  // Undefined where what follows is another device, or counts from nothing: then each visit is told on its own.
  let basis: Basis | null | undefined;
  for (const visit of visits.toReversed()) {
    if (isLastOfSeries(visit)) basis = undefined;
    const own = visit.basis ?? null;
    const isRead = hasReading(visit);
    const method = visit.method ?? null;
    const target = basis;
    if (!isRead || target === undefined || isSameBasis(own, target)) {
      if (isRead) basis = own;
      prepared.push({ ...visit, reexpressedMilli: 0 });
      continue;
    }
    const move = (milli: number): number | null => errorOnBasis(milli, method, own, target);
    const found = visit.found === null ? null : move(visit.found.milli);
    const left = visit.leftMilli === null ? null : move(visit.leftMilli);
    const isLost = (visit.found !== null && found === null) || (visit.leftMilli !== null && left === null);
    if (visit.event !== 'none' || isLost) {
      // Nothing after is compared with what was found here, only with what was left: the visit keeps its own basis.
      basis = own;
      const event = visit.event === 'none' ? 'changed' : visit.event;
      prepared.push({ ...visit, event, carriedMilli: left, isLost, reexpressedMilli: 0 });
      continue;
    }
    const [before, after] = found === null ? [visit.leftMilli, left] : [visit.found?.milli ?? null, found];
    prepared.push({
      ...visit,
      found: visit.found && found !== null ? { ...visit.found, milli: found } : null,
      leftMilli: left,
      reexpressedMilli: (after ?? 0) - (before ?? 0),
    });
  }
  return prepared.toReversed();
}

/** Visits in date order to drift points. Throws RangeError when the dates run backwards. */
export function driftPoints(visits: readonly DriftVisit[]): DriftPoint[] {
  const points: DriftPoint[] = [];
  let running = freshSeries(0, null);
  let nominal: number | null = null;
  for (const [index, visit] of onNewestBasis(visits).entries()) {
    if (index > 0 && visits[index - 1].date > visit.date)
      throw new RangeError(
        `visits must be in date order; ${visit.date} comes after ${visits[index - 1].date}`,
      );
    const own = visit.nominalMilli ?? null;
    const head = {
      date: visit.date,
      found: visit.found,
      leftMilli: visit.leftMilli,
      event: visit.event,
      supplyFlagged: visit.supplyFlagged,
      reexpressedMilli: visit.reexpressedMilli ?? 0,
      carriedMilli: null as number | null,
      nominalChanged: nominal !== null && own !== null && own !== nominal,
      isBeforeService: visit.isBeforeService ?? false,
      isLeftAsBound: visit.isLeftAsBound ?? false,
      closes: 'no' as DriftPoint['closes'],
    };
    if (head.isBeforeService) {
      points.push({ ...head, series: running.series, ...nothing });
      continue;
    }
    nominal = own ?? nominal;
    const value = visit.found?.relation === '=' ? visit.found.milli : null;
    if (
      visit.found !== null &&
      running.last !== null &&
      running.last.leftMilli === null &&
      !running.last.isLeftAsBound
    )
      running = freshSeries(running.series + 1, null);
    const { last } = running;
    const driftMilli =
      value !== null && last !== null && last.leftMilli !== null ? value - last.leftMilli : null;
    if (driftMilli !== null) running.cumulativeMilli += driftMilli;
    const days = last === null ? null : daysBetween(last.date, visit.date);
    const elapsedYears = (days ?? 0) / JULIAN_YEAR;
    const startsHere = last === null && visit.found === null && visit.leftMilli !== null;
    points.push({
      ...head,
      series: running.series,
      days,
      driftMilli,
      driftFlagged: driftMilli !== null && (visit.supplyFlagged || (last?.flagged ?? false)),
      ratePerYear: driftMilli === null || elapsedYears === 0 ? null : driftMilli / 1000 / elapsedYears,
      adjustmentMilli:
        value === null || visit.leftMilli === null || visit.event === 'replaced'
          ? null
          : visit.leftMilli - value,
      cumulativeMilli: driftMilli === null ? null : running.cumulativeMilli,
      adjustedBeforeMilli: running.adjustedMilli,
      unadjustedMilli: value === null ? (startsHere ? visit.leftMilli : null) : value - running.adjustedMilli,
    });
    const before = running.series;
    running = afterVisit(running, visit, value);
    const point = points[points.length - 1];
    point.carriedMilli = running.last?.leftMilli ?? null;
    if (running.series !== before) point.closes = running.last === null ? 'anew' : 'from what was left';
  }
  return points;
}

const nothing = {
  days: null,
  driftMilli: null,
  driftFlagged: false,
  ratePerYear: null,
  adjustmentMilli: null,
  cumulativeMilli: null,
  unadjustedMilli: null,
  adjustedBeforeMilli: 0,
} as const;

const hasReading = ({ found, leftMilli }: DriftVisit): boolean => found !== null || leftMilli !== null;

function afterVisit(running: Running, visit: Prepared, value: number | null): Running {
  const last = hasReading(visit)
    ? {
        date: visit.date,
        leftMilli: visit.carriedMilli === undefined ? visit.leftMilli : visit.carriedMilli,
        isLeftAsBound: visit.isLeftAsBound ?? false,
        flagged: visit.supplyFlagged,
      }
    : running.last;
  // What was left on a device that is gone, or on a basis that nothing tells of, says nothing of what comes.
  if (visit.isLost || isLastOfSeries(visit)) return freshSeries(running.series + 1, null);
  if (visit.event !== 'none') return freshSeries(running.series + 1, last);
  if (value === null && visit.leftMilli !== null && (visit.found !== null || running.last !== null))
    // A bound, or nothing as found, says nothing of how far it was adjusted: the series starts again at the as-left.
    return freshSeries(running.series + 1, last);
  const adjustment = value === null || visit.leftMilli === null ? 0 : visit.leftMilli - value;
  return { ...running, last, adjustedMilli: running.adjustedMilli + adjustment };
}

export type ToleranceTally = { outside: number; known: number };

/** Out-of-tolerance count of the as-found values: a bound counts when it proves `outside`, else it is unknown. */
export function toleranceTally(
  visits: readonly Pick<DriftVisit, 'found'>[],
  toleranceMilli: number,
  side: Side = 'both',
): ToleranceTally {
  let outside = 0;
  let known = 0;
  for (const { found } of visits) {
    if (found === null) continue;
    const isOutside = isFoundOutside(found, toleranceMilli, side);
    if (isOutside) outside += 1;
    if (isOutside !== null) known += 1;
  }
  return { outside, known };
}

/**
 * On which side of zero a tolerance ends: a dew point that lies below what it may be at most is no fault. Above, zero itself
 * is the limit: a tolerance only scales what is shown.
 */
export type Side = 'both' | 'above';

/** The upper limit in thousandths. */
export function limitMilli(toleranceMilli: number, side: Side): number {
  return side === 'above' ? 0 : toleranceMilli;
}

/** Whether an as-found value lies outside +- tolerance, or above it; null for a bound that does not prove it. */
export function isFoundOutside(
  { milli, relation }: NonNullable<DriftVisit['found']>,
  toleranceMilli: number,
  side: Side = 'both',
): boolean | null {
  const most = limitMilli(toleranceMilli, side);
  const isBelow = side === 'both' && milli < -toleranceMilli;
  if (relation === '=') return milli > most || isBelow;
  const proves = relation === '>=' ? milli > most : isBelow;
  return proves ? true : null;
}
