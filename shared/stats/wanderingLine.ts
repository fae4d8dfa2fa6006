/**
 * What comes next of a series that may wander: readings y = a + b x + w(x) + noise, where w is a random walk. Least squares
 * takes it that there is none, and its limits are too narrow where there is. How much it wanders nobody can tell from a
 * dozen readings, so four guesses stand beside each other, each with the weight that the readings give it: the walk's
 * variance a year is 0, 1, 10 or 100 times that of one reading. Each guess is generalised least squares of the steps
 * between readings (restricted likelihood, n - 2 degrees of freedom); with the first alone it is ordinary least squares.
 * Mixing guesses so is Bayes' rule (any text); the guesses are our own choice, held against simulations (docs/intervals.md).
 * x in years, ascending, no two equal; y in any unit.
 */
import { tCdf } from './dist/studentT.ts';
import { leastSquares } from './leastSquares.ts';
import type { Span } from './leastSquares.ts';

const WALKS = [0, 1, 10, 100] as const;
/** Guesses with less weight than this change no figure that is shown. */
const LEAST_WEIGHT = 1e-4;

type Guess = {
  weight: number;
  walk: number;
  slope: number;
  slopeError: number;
  /** Residual variance of one reading. */
  variance: number;
  /** The level now, and what makes a forecast's variance: variance (walk t + own + (t + lean)^2 / weightOfSteps). */
  now: number;
  own: number;
  lean: number;
  stepWeight: number;
};

export type WanderingLine = { guesses: Guess[]; lastX: number; degrees: number };

type Solved = { guess: Omit<Guess, 'weight'>; logWeight: number };

/** One guess: steps d over times h with covariance variance x (walk diag(h) + [2 on, -1 beside the diagonal]). */
function solve(
  h: readonly number[],
  d: readonly number[],
  { walk, last, least }: { walk: number; last: number; least: number },
): Solved {
  const count = h.length;
  const [pivots, zh, zd] = [new Float64Array(count), new Float64Array(count), new Float64Array(count)];
  let [hh, hd, logDet] = [0, 0, 0];
  for (let i = 0; i < count; i += 1) {
    const before = i === 0 ? 0 : 1 / pivots[i - 1];
    pivots[i] = walk * h[i] + 2 - before;
    zh[i] = h[i] + (i === 0 ? 0 : zh[i - 1] * before);
    zd[i] = d[i] + (i === 0 ? 0 : zd[i - 1] * before);
    hh += (zh[i] * zh[i]) / pivots[i];
    hd += (zh[i] * zd[i]) / pivots[i];
    logDet += Math.log(pivots[i]);
  }
  const slope = hd / hh;
  let rss = 0;
  for (let i = 0; i < count; i += 1) rss += (zd[i] - slope * zh[i]) ** 2 / pivots[i];
  const end = count - 1;
  rss = Math.max(rss, least * (count - 1));
  const variance = rss / (count - 1);
  return {
    guess: {
      walk,
      slope,
      slopeError: Math.sqrt(variance / hh),
      variance,
      now: last - (zd[end] - slope * zh[end]) / pivots[end],
      own: 2 - 1 / pivots[end],
      lean: zh[end] / pivots[end],
      stepWeight: hh,
    },
    logWeight: -(logDet + Math.log(hh) + (count - 1) * Math.log(rss)) / 2,
  };
}

/**
 * Null under three readings. `least`: variance that a reading has at the least, such as that of its step. A line without
 * scatter, and with none at the least, is one guess without spread. Throws RangeError on bad lengths or order.
 */
export function wanderingLine(
  x: readonly number[],
  y: readonly number[],
  least: number = 0,
): WanderingLine | null {
  if (x.length !== y.length) throw new RangeError('a line needs a y for each x');
  if (x.some((at, i) => i > 0 && !(at > x[i - 1]))) throw new RangeError('x must ascend, no two equal');
  const line = leastSquares(x, y);
  if (line === null || x.length < 3) return null;
  const h = x.slice(1).map((at, i) => at - x[i]);
  const d = y.slice(1).map((at, i) => at - y[i]);
  const [lastX, last, degrees] = [x[x.length - 1], y[y.length - 1], x.length - 2];
  const all = WALKS.map((walk) => solve(h, d, { walk, last, least }));
  if (line.s === 0 && least === 0) {
    const { slope } = line;
    const guess = { ...all[0].guess, weight: 1, slope, slopeError: 0, variance: 0, now: last };
    return { guesses: [guess], lastX, degrees };
  }
  const top = Math.max(...all.map(({ logWeight }) => logWeight));
  const weights = all.map(({ logWeight }) => Math.exp(logWeight - top));
  const sum = weights.reduce((total, one) => total + one, 0);
  const guesses = all
    .map(({ guess }, i) => ({ ...guess, weight: weights[i] / sum }))
    .filter(({ weight }) => weight >= LEAST_WEIGHT);
  const kept = guesses.reduce((total, { weight }) => total + weight, 0);
  return { guesses: guesses.map((one) => ({ ...one, weight: one.weight / kept })), lastX, degrees };
}

function spreadAt({ variance, walk, own, lean, stepWeight }: Guess, ahead: number): number {
  return Math.sqrt(variance * (walk * ahead + own + (ahead + lean) ** 2 / stepWeight));
}

/** Share of t at or below gap / spread; without spread a step, with `atZero` on its edge. */
function share(
  gap: number,
  spread: number,
  { degrees, atZero }: { degrees: number; atZero: number },
): number {
  if (spread > 0) return tCdf(gap / spread, degrees);
  return gap === 0 ? atZero : Number(gap > 0);
}

/** Chance, 0 to 1, that one more reading at x, not before the last one, is at or below a value. */
export function chanceBelow({ guesses, lastX, degrees }: WanderingLine, x: number, value: number): number {
  const ahead = Math.max(0, x - lastX);
  return guesses.reduce(
    (sum, guess) =>
      sum +
      guess.weight *
        share(value - guess.now - guess.slope * ahead, spreadAt(guess, ahead), { degrees, atZero: 1 }),
    0,
  );
}

/** Which way it goes, 1 or -1, and the two-sided chance that it goes there by wandering alone. */
export function driftDirection({ guesses, degrees }: WanderingLine): { sign: 1 | -1; chance: number } {
  const up = guesses.reduce(
    (sum, { weight, slope, slopeError }) => sum + weight * share(slope, slopeError, { degrees, atZero: 0.5 }),
    0,
  );
  return { sign: up >= 0.5 ? 1 : -1, chance: Math.min(1, 2 * Math.min(up, 1 - up)) };
}

/** Bisection of a rising function to a billionth of the bracket. */
function rootOf(of: (x: number) => number, from: number, to: number): number {
  let [low, high] = [from, to];
  for (let round = 0; round < 40; round += 1) {
    const middle = (low + high) / 2;
    if (of(middle) < 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Limits that hold one more reading at x, not before the last one, with a two-sided confidence. */
export function nextReadingSpan(line: WanderingLine, x: number, confidence: number): Span {
  const ahead = Math.max(0, x - line.lastX);
  const middles = line.guesses.map(({ now, slope }) => now + slope * ahead);
  const widest = Math.max(...line.guesses.map((guess) => spreadAt(guess, ahead)));
  const [least, most] = [Math.min(...middles), Math.max(...middles)];
  if (widest === 0) return { low: least, high: most };
  let reach = widest;
  const tail = (1 - confidence) / 2;
  while (chanceBelow(line, x, least - reach) > tail || chanceBelow(line, x, most + reach) < 1 - tail)
    reach *= 2;
  const at = (p: number): number =>
    rootOf((value) => chanceBelow(line, x, value) - p, least - reach, most + reach);
  return { low: at(tail), high: at(1 - tail) };
}

/**
 * The earliest x, not before the last reading, at which a reading lies beyond the limit with a chance of p; null where that
 * is not reached within `within` of the last reading. `side` 1: beyond is above the limit, -1: below.
 */
export function reachesAt(
  line: WanderingLine,
  { limit, side, p, within }: { limit: number; side: 1 | -1; p: number; within: number },
): number | null {
  const { lastX } = line;
  const beyond = (x: number): number => {
    const below = chanceBelow(line, x, limit);
    return (side === 1 ? 1 - below : below) - p;
  };
  if (beyond(lastX) >= 0) return lastX;
  // From step to step, so that the first crossing is found where the chance falls again.
  let [from, step] = [lastX, within / 64];
  for (let at = 0; at < 64; at += 1) {
    if (beyond(from + step) >= 0) return rootOf(beyond, from, from + step);
    from += step;
  }
  return null;
}
