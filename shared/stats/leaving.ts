/**
 * When a test point leaves its tolerance if nobody touches it: a device that was never adjusted by the line through its
 * readings, which may wander; an adjusted one by its rate between adjustments. Units of the point, years of 365.25 days.
 */
import { JULIAN_YEAR, addDays, julianYearsBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import { crossingOf } from './crossing.ts';
import { tQuantile } from './dist/studentT.ts';
import { passageQuantile, unsurePassageQuantile } from './firstPassage.ts';
import type { Rate } from './increments.ts';
import type { Fit } from './leastSquares.ts';
import { reachesAt } from './wanderingLine.ts';
import type { WanderingLine } from './wanderingLine.ts';

/** Nothing is dated further ahead than this, years. */
export const HORIZON = 50;
const CONFIDENCE = 0.95;

/** Null: later than fifty years ahead, or never. */
type Dated = {
  on: PlainDate | null;
  from: PlainDate | null;
  to: PlainDate | null;
  /** When to be there at the latest: until then a reading is found inside, by the one-sided bound asked for. */
  earliest: PlainDate | null;
  /** The date lies further ahead than the readings reach back. */
  isBeyondSpan: boolean;
};

export type Leaving =
  | { kind: 'too few'; readings: number }
  | { kind: 'no trend' }
  /** It moves, but how fast is known too badly for a date, or where it stands is not known. */
  | { kind: 'not dated' }
  | { kind: 'outside now' }
  | ({
      kind: 'dated';
      by: 'line';
      /** When the true line crosses, were it a straight one; null where even that is not known. */
      straight: { on: PlainDate; from: PlainDate; to: PlainDate } | null;
    } & Dated)
  | ({ kind: 'dated'; by: 'increments' } & Dated);

/** A day so many years, rounded down to whole days, after another. */
export function dayAfter(from: PlainDate, years: number): PlainDate {
  return addDays(from, Math.floor(years * JULIAN_YEAR));
}

function within(from: PlainDate, years: number | null): PlainDate | null {
  return years === null || years > HORIZON ? null : dayAfter(from, years);
}

/** Limits of a straight line's own crossing (Fieller), dates; null where they are not known or out of reach. */
function straightCrossing(fit: Fit, limits: { low: number; high: number }, firstOn: PlainDate, last: number) {
  const answer = crossingOf(fit, limits, CONFIDENCE);
  if (answer.kind !== 'crossing') return null;
  const { at, line } = answer.crossing;
  if (line.low < 0 || line.high > last + HORIZON) return null;
  return { on: dayAfter(firstOn, at), from: dayAfter(firstOn, line.low), to: dayAfter(firstOn, line.high) };
}

/** Never adjusted, with a trend toward `side`; `limit` on both sides of zero, or above alone. No date lies before the last look, years. */
export function leavingByLine(
  { line, fit, firstOn, lastRead }: { line: WanderingLine; fit: Fit; firstOn: PlainDate; lastRead: number },
  {
    limit,
    side,
    sureness,
    isOneSided = false,
  }: { limit: number; side: 1 | -1; sureness: number; isOneSided?: boolean },
): Leaving {
  const after = (p: number): number | null =>
    reachesAt(line, { limit: side * limit, side, p, within: HORIZON });
  const day = (x: number | null): PlainDate | null =>
    x === null ? null : dayAfter(firstOn, Math.max(x, lastRead));
  const on = after(0.5);
  return {
    kind: 'dated',
    by: 'line',
    on: day(on),
    from: day(after((1 - CONFIDENCE) / 2)),
    to: day(after((1 + CONFIDENCE) / 2)),
    earliest: day(after(1 - sureness)),
    isBeyondSpan: on === null || on > 2 * line.lastX,
    straight: straightCrossing(
      fit,
      { low: isOneSided ? Number.NEGATIVE_INFINITY : -limit, high: limit },
      firstOn,
      line.lastX,
    ),
  };
}

export type Standing = { value: number; on: PlainDate };

/**
 * Adjusted: from where it stands by its rate. `noise`: standard deviation of one reading, 0 where it is not known;
 * `stretches`: runs between adjustments.
 */
export function leavingByIncrements(
  rate: Rate,
  now: Standing,
  {
    limit,
    sureness,
    noise,
    stretches,
    firstOn,
    isShown,
  }: {
    limit: number;
    sureness: number;
    noise: number;
    stretches: number;
    firstOn: PlainDate;
    isShown: boolean;
  },
): Leaving {
  if (rate.rate === 0 && rate.sigma === 0) return { kind: 'no trend' };
  if (rate.span === null || rate.sigma === null || (rate.span.low <= 0 && rate.span.high >= 0))
    return { kind: 'not dated' };
  // Left at the very limit it leaves at once.
  const distance = Math.max(1e-9, rate.rate > 0 ? limit - now.value : limit + now.value);
  const passage = {
    distance,
    rate: Math.abs(rate.rate),
    sigma: rate.sigma,
    rateError: rate.error ?? 0,
    degrees: rate.count - 1,
  };
  // Only a person asks for more than when to be there, and the law takes its time.
  const [from, to] = isShown
    ? [0.025, 0.975].map((p) => unsurePassageQuantile(passage, p, HORIZON))
    : [null, null];
  const on = passageQuantile(passage, 0.5);
  const earliest = surelyInside(rate, { distance, noise, sureness, stretches });
  return {
    kind: 'dated',
    by: 'increments',
    on: within(now.on, on),
    from: within(now.on, from),
    to: within(now.on, to),
    earliest: within(now.on, earliest),
    isBeyondSpan: on > julianYearsBetween(firstOn, now.on),
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
  const z = tQuantile(sureness, Math.max(1, rate.count - 1));
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
