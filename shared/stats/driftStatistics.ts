/**
 * What may be said of the newest series of one test point, by the number of its readings, and when it leaves tolerance.
 * Values in plain units of the point, times in Julian years since the first reading of the series; dates by the first date
 * plus whole days. Which figure is given from how many readings on is our own choice, with its reasons in the docs.
 */
import { addDays, julianYearsBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import { mean } from 'simple-statistics';
import { crossingOf } from './crossing.ts';
import type { Crossing } from './crossing.ts';
import { individualsChart } from './controlChart.ts';
import type { IndividualsChart } from './controlChart.ts';
import type { DriftPoint } from './driftSeries.ts';
import { normalQuantile } from './dist/normal.ts';
import { passageQuantile } from './firstPassage.ts';
import { GIVEN_FROM } from './givenFrom.ts';
import { rateOfIncrements } from './increments.ts';
import type { Increment, Rate } from './increments.ts';
import { leastSquares, meanSpan, predictionSpan, slopeSpan, valueAt } from './leastSquares.ts';
import type { Fit, Span } from './leastSquares.ts';
import { mannKendall } from './mannKendall.ts';
import type { KendallTest } from './mannKendall.ts';
import { lagOne } from './serial.ts';
import { bendChance } from './terms.ts';
import { theilSen } from './theilSen.ts';
import type { MedianSlope } from './theilSen.ts';

const CONFIDENCE = 0.95;
const JULIAN_YEAR = 365.25;
const BAND_POINTS = 24;

/** When the error leaves +- limit, if nobody touches it. */
export type Leaving =
  | { kind: 'too few'; readings: number }
  | { kind: 'no trend' }
  /** It moves, but how fast is known too badly for a date. */
  | { kind: 'not dated' }
  | { kind: 'outside now' }
  | {
      kind: 'dated';
      /** A line through the readings, or the rate between adjustments. */
      by: 'line' | 'increments';
      on: PlainDate;
      from: PlainDate;
      to: PlainDate;
      /** When to be there at the latest: until then a reading is found inside, by the one-sided bound asked for. */
      earliest: PlainDate;
      /** The date lies further ahead than the readings reach back. */
      isBeyondSpan: boolean;
    };

export type BandPoint = {
  date: PlainDate;
  line: number;
  mean: Span | null;
  reading: Span | null;
};

export type DriftStatistics = {
  series: number;
  firstOn: PlainDate | null;
  lastOn: PlainDate | null;
  /** Dates with a value in the newest series, supply right; readings of one day count once. */
  count: number;
  /** Readings of that series that are only bounds. */
  bounds: number;
  isAdjusted: boolean;
  median: MedianSlope | null;
  kendall: KendallTest | null;
  fit: Fit | null;
  slope: Span | null;
  /** Chance that the line bends by luck; a small one says that a straight line forecasts badly. */
  bend: number | null;
  serial: number | null;
  /** The two slopes lie further apart than half of the limits of the line's: one reading pulls it. */
  disagrees: boolean;
  rate: Rate | null;
  leaving: Leaving;
  band: BandPoint[];
  /** Of the drifts between visits, or of their rates where the intervals differ. */
  control: (IndividualsChart & { of: 'drift' | 'rate'; values: number[]; isProvisional: boolean }) | null;
  lastDriftMilli: number | null;
  lastRatePerYear: number | null;
  /** What it stands at now, as left, in units; null where that is not known. */
  standing: number | null;
};

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

function incrementsOf(points: readonly DriftPoint[]): Increment[] {
  return points.flatMap(({ driftMilli, days, driftFlagged }) =>
    driftMilli === null || !days || driftFlagged
      ? []
      : [{ moved: driftMilli / 1000, years: days / JULIAN_YEAR }],
  );
}

/** Where the newest series stands now, by its last visit; null where the as-left is not known. */
function standingOf(points: readonly DriftPoint[]): number | null {
  const last = points.findLast(({ found, leftMilli }) => found !== null || leftMilli !== null);
  return last?.leftMilli === null || last === undefined ? null : last.leftMilli / 1000;
}

function onDay(firstOn: PlainDate, years: number): PlainDate {
  // A date within the calendar's four digits, however flat the line.
  return addDays(firstOn, Math.floor(Math.min(years, 400) * JULIAN_YEAR));
}

function leavingByLine(fit: Fit, own: readonly Usable[], limits: Span, sureness: number): Leaving {
  const answer = crossingOf(fit, limits, CONFIDENCE, sureness);
  if (answer.kind !== 'crossing') return { kind: answer.kind === 'none' ? 'no trend' : 'not dated' };
  const { at, reading, earliest }: Crossing = answer.crossing;
  const [firstOn, span] = [own[0].date, julianYearsBetween(own[0].date, own[own.length - 1].date)];
  return {
    kind: 'dated',
    by: 'line',
    on: onDay(firstOn, at),
    from: onDay(firstOn, Math.max(0, reading.low)),
    to: onDay(firstOn, reading.high),
    earliest: onDay(firstOn, Math.max(0, earliest)),
    isBeyondSpan: at > 2 * span,
  };
}

function leavingByIncrements(
  rate: Rate,
  { now, lastOn, firstOn }: { now: number; lastOn: PlainDate; firstOn: PlainDate },
  {
    limit,
    sureness,
    noise,
    stretches,
  }: { limit: number; sureness: number; noise: number; stretches: number },
): Leaving {
  if (rate.rate === 0 && rate.sigma === 0) return { kind: 'no trend' };
  if (rate.span === null || rate.sigma === null || (rate.span.low <= 0 && rate.span.high >= 0))
    return { kind: 'not dated' };
  // Left at the very limit it leaves at once.
  const distance = Math.max(1e-9, rate.rate > 0 ? limit - now : limit + now);
  const passage = { distance, rate: Math.abs(rate.rate), sigma: rate.sigma };
  const [from, on, to] = [0.025, 0.5, 0.975].map((p) => passageQuantile(passage, p));
  const earliest = surelyInside(rate, { distance, noise, sureness, stretches });
  return {
    kind: 'dated',
    by: 'increments',
    on: onDay(lastOn, on),
    from: onDay(lastOn, from),
    to: onDay(lastOn, to),
    earliest: onDay(lastOn, earliest),
    isBeyondSpan: on > julianYearsBetween(firstOn, lastOn),
  };
}

/**
 * Years for which a reading is found inside with some sureness: what moved scatters by its own noise, which grows with the
 * time, by the reading at both ends, which does not, and by how little is known of the rate: between two adjustments the
 * readings in the middle cancel, so that only those at the ends of each such stretch count.
 */
function surelyInside(
  rate: Rate,
  {
    distance,
    noise,
    sureness,
    stretches,
  }: { distance: number; noise: number; sureness: number; stretches: number },
): number {
  const z = normalQuantile(sureness);
  const speed = Math.abs(rate.rate);
  const perYear = Math.max(0, (rate.sigma ?? 0) ** 2 - (2 * noise ** 2 * rate.count) / rate.years);
  const error =
    noise === 0
      ? (rate.error ?? 0)
      : Math.sqrt(perYear * rate.years + 2 * noise ** 2 * stretches) / rate.years;
  const room = (years: number): number =>
    distance - speed * years - z * Math.sqrt(perYear * years + 2 * noise ** 2 + (error * years) ** 2);
  if (room(0) <= 0) return 0;
  let [low, high] = [0, distance / speed];
  for (let round = 0; round < 60; round += 1) {
    const middle = (low + high) / 2;
    if (room(middle) > 0) low = middle;
    else high = middle;
  }
  return low;
}

/** Adjusted readings do not scatter about a line on their own: a line through them has no limits that hold. */
function bandOf(fit: Fit, own: readonly Usable[], isAdjusted: boolean): BandPoint[] {
  const [firstOn, lastOn] = [own[0].date, own[own.length - 1].date];
  // Of an adjusted device no line is drawn ahead: it says nothing of where the device will stand.
  const years = (isAdjusted ? 1 : 1.5) * julianYearsBetween(firstOn, lastOn);
  return Array.from({ length: BAND_POINTS + 1 }, (_, index) => {
    const x = (index / BAND_POINTS) * years;
    const isKnown = own.length >= GIVEN_FROM.trend && !isAdjusted;
    return {
      date: onDay(firstOn, x),
      line: valueAt(fit, x),
      mean: isKnown ? meanSpan(fit, x, CONFIDENCE) : null,
      reading: isKnown ? predictionSpan(fit, x, CONFIDENCE) : null,
    };
  });
}

/**
 * Statistics of the newest series of a test point; the limit is its tolerance, in thousandths, both sides. `sureness`: the
 * share that shall still be found in tolerance when somebody is there at the latest; `noise`: the standard deviation of
 * one reading in units, where it is known of many like it.
 */
export function driftStatistics(
  points: readonly DriftPoint[],
  limitMilli: number,
  { sureness = CONFIDENCE, noise = 0 }: { sureness?: number; noise?: number } = {},
): DriftStatistics {
  const counted = points.filter((point) => !point.isBeforeService);
  const lastRead = counted.findLast(({ found, leftMilli }) => found !== null || leftMilli !== null);
  // After a replacement or a repair the newest series is one that has no reading yet.
  const newest = lastRead === undefined ? 0 : lastRead.series + (lastRead.event === 'none' ? 0 : 1);
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
  const median = isGiven('lines') ? theilSen(x, y, CONFIDENCE) : null;
  const rate = rateOfIncrements(incrementsOf(members));
  const isTouched = ({ adjustmentMilli }: DriftPoint): boolean =>
    adjustmentMilli !== null && adjustmentMilli !== 0;
  const isAdjusted = members.some(isTouched);
  const [firstOn, lastOn] = [own[0]?.date ?? null, own.at(-1)?.date ?? null];
  const now = standingOf(members);
  const limit = limitMilli / 1000;
  const kendallOf = (): KendallTest | null => {
    if (own.length + bounds < GIVEN_FROM.trend) return null;
    if (bounds === 0) return mannKendall(y.map((value) => ({ value })));
    // With bounds the readings themselves are compared: how far a bound was adjusted nobody knows.
    return mannKendall(
      members.flatMap(({ found, supplyFlagged }) =>
        found === null || supplyFlagged ? [] : [{ value: found.milli / 1000, relation: found.relation }],
      ),
    );
  };
  const leaving = (): Leaving => {
    if (now !== null && Math.abs(now) > limit) return { kind: 'outside now' };
    if (!fit || !firstOn || !lastOn || !isGiven('trend')) return { kind: 'too few', readings: own.length };
    if (now === null) return { kind: 'not dated' };
    if (isAdjusted && rate)
      return leavingByIncrements(
        rate,
        { now, firstOn, lastOn: lastRead?.date ?? lastOn },
        { limit, sureness, noise, stretches: members.filter(isTouched).length + 1 },
      );
    // The series as if never adjusted stands off by what was adjusted before; here by the first as-left only.
    const off = now - (y.at(-1) ?? now);
    return leavingByLine(fit, own, { low: -limit - off, high: limit - off }, sureness);
  };
  const drifts = members.filter(({ driftMilli, driftFlagged }) => driftMilli !== null && !driftFlagged);
  const residuals = fit ? y.map((value, index) => value - valueAt(fit, x[index])) : [];
  return {
    series: newest,
    firstOn,
    lastOn,
    count: own.length,
    bounds,
    isAdjusted,
    median,
    kendall: kendallOf(),
    fit,
    slope,
    bend: isGiven('bend') ? bendChance(x, y) : null,
    serial: isGiven('serial') ? lagOne(residuals) : null,
    disagrees:
      fit !== null && median !== null && slope !== null
        ? Math.abs(fit.slope - median.slope) > (slope.high - slope.low) / 2
        : false,
    rate,
    leaving: leaving(),
    band: fit && isGiven('lines') && firstOn !== lastOn ? bandOf(fit, own, isAdjusted) : [],
    control: controlOf(members),
    lastDriftMilli: drifts.at(-1)?.driftMilli ?? null,
    lastRatePerYear: drifts.at(-1)?.ratePerYear ?? null,
    standing: now,
  };
}
