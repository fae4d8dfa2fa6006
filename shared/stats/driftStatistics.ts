/**
 * What may be said of the newest series of one test point, by the number of its readings, and when it leaves tolerance.
 * Values in plain units of the point, times in Julian years since the first reading of the series; dates by the first date
 * plus whole days. Which figure is given from how many readings on is our own choice, with its reasons in the docs.
 */
import { JULIAN_YEAR, julianYearsBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import { mean } from 'simple-statistics';
import { individualsChart } from './controlChart.ts';
import type { IndividualsChart } from './controlChart.ts';
import { isFoundOutside, limitMilli } from './driftSeries.ts';
import type { DriftPoint, Side } from './driftSeries.ts';
import { GIVEN_FROM } from './givenFrom.ts';
import { rateOfIncrements } from './increments.ts';
import type { Increment, Rate } from './increments.ts';
import { leastSquares, meanSpan, slopeSpan, valueAt } from './leastSquares.ts';
import type { Fit, Span } from './leastSquares.ts';
import { dayAfter, leavingByIncrements, leavingByLine } from './leaving.ts';
import type { Leaving, Standing } from './leaving.ts';
import { mannKendall } from './mannKendall.ts';
import type { KendallTest, Ordered } from './mannKendall.ts';
import { lagOne } from './serial.ts';
import { bendChance } from './terms.ts';
import { theilSen } from './theilSen.ts';
import type { MedianSlope } from './theilSen.ts';
import { driftDirection, nextReadingSpan, wanderingLine } from './wanderingLine.ts';
import type { WanderingLine } from './wanderingLine.ts';

const CONFIDENCE = 0.95;
const SURE = 0.05;
const BAND_POINTS = 24;

export type BandPoint = {
  date: PlainDate;
  line: number;
  mean: Span | null;
  reading: Span | null;
};

export type DriftStatistics = {
  series: number;
  side: Side;
  firstOn: PlainDate | null;
  lastOn: PlainDate | null;
  /** Dates with a value in the newest series, supply right; readings of one day count once. */
  count: number;
  /** Readings of that series that are only bounds. */
  bounds: number;
  isAdjusted: boolean;
  median: MedianSlope | null;
  kendall: KendallTest | null;
  /** Null under five readings and bounds. */
  trend: TrendWord | null;
  /** Of a device that was never adjusted: its direction, and the chance to get there by wandering alone. */
  wander: { sign: 1 | -1; chance: number } | null;
  fit: Fit | null;
  slope: Span | null;
  /** Chance that the line bends by luck; a small one says that a straight line forecasts badly. */
  bend: number | null;
  serial: number | null;
  /** The two slopes lie further apart than half of the limits of the line's: one reading pulls it. */
  disagrees: boolean;
  rate: Rate | null;
  leaving: Leaving;
  /** For the chart, where it is asked for. */
  band: BandPoint[];
  /** Of the drifts between visits, or of their rates where the intervals differ. */
  control: (IndividualsChart & { of: 'drift' | 'rate'; values: number[]; isProvisional: boolean }) | null;
  lastDriftMilli: number | null;
  lastRatePerYear: number | null;
  /** What it stands at now, as left, in units, and since when; null where that is not known. */
  standing: number | null;
  standingOn: PlainDate | null;
};

/** With the line itself, for who asks for chances on other days. */
export type DriftFindings = DriftStatistics & { line: WanderingLine | null };

type Usable = { date: PlainDate; value: number };

/** Values of one day become their mean: two of them form no pair in time. */
function byDay(points: readonly { date: PlainDate; value: number }[]): Usable[] {
  const days = new Map<PlainDate, number[]>();
  for (const { date, value } of points) days.set(date, [...(days.get(date) ?? []), value]);
  return [...days].map(([date, values]) => ({ date, value: mean(values) }));
}

/** Intervals that differ by more than a tenth ask for rates in place of drifts. */
function controlOf(points: readonly DriftPoint[]): DriftStatistics['control'] {
  const used = points.filter(
    ({ driftMilli, days, driftFlagged }) => driftMilli !== null && days && !driftFlagged,
  );
  if (used.length < 2) return null;
  const days = used.map((one) => one.days ?? 0);
  const of = Math.max(...days) > 1.1 * Math.min(...days) ? 'rate' : 'drift';
  const values = used.map((one) => (of === 'rate' ? (one.ratePerYear ?? 0) : (one.driftMilli ?? 0) / 1000));
  const chart = individualsChart(values);
  return chart && { ...chart, of, values, isProvisional: values.length < 8 };
}

/**
 * What moved over what time. Between two readings of one day it moved over no time: half of that goes to the stretch
 * before and half to the one after, so that the day counts with its mean.
 */
function incrementsOf(points: readonly DriftPoint[]): Increment[] {
  const increments: Increment[] = [];
  let half = 0;
  for (const { driftMilli, days, driftFlagged } of points) {
    if (driftMilli === null || days === null || driftFlagged) continue;
    if (days > 0) {
      increments.push({ moved: driftMilli / 1000 + half, years: days / JULIAN_YEAR });
      half = 0;
      continue;
    }
    const before = increments.at(-1);
    if (before) before.moved += driftMilli / 2000;
    half += driftMilli / 2000;
  }
  return increments;
}

/**
 * Where the newest series stands now, by its last visit with the supply right; null where that is not known. A visit with
 * the supply wrong that adjusted nothing leaves it where it was.
 */
function standingOf(points: readonly DriftPoint[]): Standing | null {
  for (const { date, found, leftMilli, adjustmentMilli, supplyFlagged } of points.toReversed()) {
    if (found === null && leftMilli === null) continue;
    if (!supplyFlagged) return leftMilli === null ? null : { value: leftMilli / 1000, on: date };
    if (adjustmentMilli !== 0) return null;
  }
  return null;
}

/** The last reading with the supply right is a bound that lies outside by itself, and nobody moved it. */
function isBoundOutside(points: readonly DriftPoint[], toleranceMilli: number, side: Side): boolean {
  const last = points.findLast(({ found, supplyFlagged }) => found !== null && !supplyFlagged);
  return (
    last?.found != null && last.isLeftAsBound && isFoundOutside(last.found, toleranceMilli, side) === true
  );
}

/** The step to which the readings were noted, in units: the greatest that divides all their differences. */
function stepOf(points: readonly DriftPoint[]): number {
  const values = points.map(({ unadjustedMilli }) => unadjustedMilli ?? 0);
  let step = 0;
  for (const value of values) {
    let [a, b] = [step, Math.abs(value - values[0])];
    while (b !== 0) [a, b] = [b, a % b];
    step = a;
  }
  return step / 1000;
}

/** What is compared for a trend: each day once, as if never adjusted, bounds with the rest. */
function orderedOf(members: readonly DriftPoint[]): Ordered[] {
  const days = new Map<PlainDate, Ordered[]>();
  for (const { date, found, adjustedBeforeMilli, supplyFlagged } of members) {
    if (found === null || supplyFlagged) continue;
    const one = { value: (found.milli - adjustedBeforeMilli) / 1000, relation: found.relation };
    days.set(date, [...(days.get(date) ?? []), one]);
  }
  return [...days.values()].map((ofDay) => {
    const exact = ofDay.filter(({ relation }) => relation === '=');
    return exact.length === 0 ? ofDay[0] : { value: mean(exact.map(({ value }) => value)) };
  });
}

export type TrendWord = 'rises' | 'falls' | 'none';

/**
 * Which way it goes, as the tests say. A device that is adjusted goes by the limits of its rate: what is summed up between
 * adjustments wanders by itself. Any other needs both: order by more than chance, and more than a walk would do.
 */
function trendOf(kendall: KendallTest, rate: Rate | null, line: WanderingLine | null): TrendWord {
  if (rate !== null)
    return rate.span === null ? 'none' : rate.span.low > 0 ? 'rises' : rate.span.high < 0 ? 'falls' : 'none';
  if ((kendall.exactP ?? kendall.p) > SURE) return 'none';
  const direction = line && driftDirection(line);
  if (direction && (direction.chance > SURE || direction.sign !== Math.sign(kendall.s))) return 'none';
  return kendall.s > 0 ? 'rises' : 'falls';
}

/**
 * The line with its limits over the readings, and ahead of them the limits of the next reading. Adjusted readings do not
 * scatter about a line on their own, and a line through them says nothing of where the device will stand.
 */
function bandOf(
  fit: Fit,
  line: WanderingLine | null,
  { own, isAdjusted }: { own: readonly Usable[]; isAdjusted: boolean },
): BandPoint[] {
  const [firstOn, lastOn] = [own[0].date, own[own.length - 1].date];
  const span = julianYearsBetween(firstOn, lastOn);
  const isKnown = own.length >= GIVEN_FROM.trend && !isAdjusted;
  const at = (x: number, isAhead: boolean): BandPoint => ({
    date: dayAfter(firstOn, x),
    line: valueAt(fit, x),
    mean: isKnown ? meanSpan(fit, x, CONFIDENCE) : null,
    reading: isKnown && isAhead && line ? nextReadingSpan(line, x, CONFIDENCE) : null,
  });
  const steps = Array.from({ length: BAND_POINTS + 1 }, (_, index) => index / BAND_POINTS);
  return [
    ...steps.map((share) => at(share * span, false)),
    ...(isAdjusted ? [] : steps.map((share) => at((1 + share / 2) * span, true))),
  ];
}

/**
 * Statistics of the newest series of a test point; the limit is its tolerance, in thousandths, both sides. `sureness`: the
 * share that shall still be found in tolerance when somebody is there at the latest; `noise`: the standard deviation of
 * one reading in units, where it is known of many like it. `isShown`: band and dates for a person to look at are
 * worked out too, not only when to be there at the latest. `side` above: only what lies above the limit is outside.
 */
export function driftStatistics(
  points: readonly DriftPoint[],
  toleranceMilli: number,
  {
    sureness = CONFIDENCE,
    noise = 0,
    isShown = false,
    side = 'both',
  }: { sureness?: number; noise?: number; isShown?: boolean; side?: Side } = {},
): DriftFindings {
  const counted = points.filter((point) => !point.isBeforeService);
  const lastRead = counted.findLast(({ found, leftMilli }) => found !== null || leftMilli !== null);
  // After a replacement, a repair or an adjusted bound the newest series is one that has no reading yet.
  const newest = lastRead === undefined ? 0 : lastRead.series + (lastRead.closes === 'no' ? 0 : 1);
  const members = counted.filter((point) => point.series === newest);
  const used = members.filter((one) => one.unadjustedMilli !== null && !one.supplyFlagged);
  const own = byDay(
    used.map(({ date, unadjustedMilli }) => ({ date, value: (unadjustedMilli ?? 0) / 1000 })),
  );
  const bounds = members.filter(({ found }) => found !== null && found.relation !== '=').length;
  const x = own.map(({ date }) => julianYearsBetween(own[0].date, date));
  const y = own.map(({ value }) => value);
  const isGiven = (from: keyof typeof GIVEN_FROM): boolean => own.length >= GIVEN_FROM[from];
  const fit = isGiven('lines') ? leastSquares(x, y) : null;
  const slope = fit && isGiven('trend') ? slopeSpan(fit, CONFIDENCE) : null;
  const slopes = isGiven('lines') ? theilSen(x, y, CONFIDENCE) : null;
  // Ties narrow the ranks until limits seem to exist; with so few readings there are none.
  const median = slopes && !isGiven('slopeLimits') ? { ...slopes, span: null } : slopes;
  const rate = rateOfIncrements(incrementsOf(members));
  const isTouched = ({ adjustmentMilli }: DriftPoint): boolean =>
    adjustmentMilli !== null && adjustmentMilli !== 0;
  const isAdjusted = members.some(isTouched);
  const [firstOn, lastOn] = [own[0]?.date ?? null, own.at(-1)?.date ?? null];
  const now = lastRead?.closes === 'from what was left' ? standingOf([lastRead]) : standingOf(members);
  const limit = limitMilli(toleranceMilli, side) / 1000;
  const kendall =
    own.length + bounds < GIVEN_FROM.trend
      ? null
      : bounds === 0
        ? mannKendall(y.map((value) => ({ value })))
        : mannKendall(orderedOf(members));
  const line = isGiven('trend') && !isAdjusted ? wanderingLine(x, y, stepOf(used) ** 2 / 12) : null;
  const trend = kendall === null ? null : trendOf(kendall, isAdjusted ? rate : null, line);
  const leaving = (): Leaving => {
    if (
      now === null
        ? isBoundOutside(members, toleranceMilli, side)
        : now.value > limit || (side === 'both' && now.value < -limit)
    )
      return { kind: 'outside now' };
    if (!fit || !firstOn || !isGiven('trend')) return { kind: 'too few', readings: own.length };
    if (now === null) return { kind: 'not dated' };
    const isAway = isAdjusted && rate ? rate.rate < 0 : trend === 'falls';
    if (side === 'above' && isAway) return { kind: 'no trend' };
    if (isAdjusted && rate)
      return leavingByIncrements(rate, now, {
        limit,
        sureness,
        noise,
        stretches: members.filter(isTouched).length + 1,
        firstOn,
        isShown,
      });
    if (!line || trend === null || trend === 'none') return { kind: 'no trend' };
    return leavingByLine(
      { line, fit, firstOn, lastRead: julianYearsBetween(firstOn, lastRead?.date ?? firstOn) },
      { limit, side: trend === 'rises' ? 1 : -1, sureness, isOneSided: side === 'above' },
    );
  };
  const drifts = members.filter(({ driftMilli, driftFlagged }) => driftMilli !== null && !driftFlagged);
  const residuals = fit ? y.map((value, index) => value - valueAt(fit, x[index])) : [];
  return {
    series: newest,
    side,
    firstOn,
    lastOn,
    count: own.length,
    bounds,
    isAdjusted,
    median,
    kendall,
    trend,
    wander: line && driftDirection(line),
    line,
    fit,
    slope,
    // A walk bends by itself: a bend says something of a line that is one, and that nobody adjusted.
    bend:
      isGiven('bend') && !isAdjusted && (trend === 'rises' || trend === 'falls') ? bendChance(x, y) : null,
    serial: isGiven('serial') ? lagOne(residuals) : null,
    disagrees:
      fit !== null && median !== null && slope !== null
        ? Math.abs(fit.slope - median.slope) > (slope.high - slope.low) / 2
        : false,
    rate,
    leaving: leaving(),
    band: isShown && fit && firstOn !== lastOn ? bandOf(fit, line, { own, isAdjusted }) : [],
    control: controlOf(members),
    lastDriftMilli: drifts.at(-1)?.driftMilli ?? null,
    lastRatePerYear: drifts.at(-1)?.ratePerYear ?? null,
    standing: now?.value ?? null,
    standingOn: now?.on ?? null,
  };
}
