/**
 * Does a series rise or fall at all? The Mann-Kendall test: S counts the pairs that rise less those that fall. Variance
 * with ties and the normal approximation with continuity correction as in EPA QA/G-9S; the exact distribution of S, from
 * its generating function, for up to ten readings without ties.
 */
import { normalCdf } from './dist/normal.ts';

/** A value that is only known to lie at or beyond a bound carries the bound's direction. */
export type Ordered = { value: number; relation?: '=' | '<=' | '>=' };

export type KendallTest = {
  count: number;
  s: number;
  variance: number;
  z: number;
  /** Two-sided, by the normal approximation; 1 where nothing varies. */
  p: number;
  /** Two-sided, exact; null with ties, with bounds, or beyond ten readings. */
  exactP: number | null;
  /** S over the number of pairs, corrected for ties (tau-b; with bounds over all pairs). 0 where nothing varies. */
  tau: number;
};

/** The most readings for which the exact distribution is used. */
export const EXACT_UP_TO = 10;

function tieGroups(values: readonly number[]): number[] {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts.values()].filter((count) => count > 1);
}

/** Variance of S for a series with ties, where nothing rises or falls. */
export function varianceOfS(values: readonly number[]): number {
  const n = values.length;
  const ties = tieGroups(values).reduce((sum, t) => sum + t * (t - 1) * (2 * t + 5), 0);
  return (n * (n - 1) * (2 * n + 5) - ties) / 18;
}

/** Two-sided chance of |S| or more among n readings without ties. Throws RangeError under two or over thirty readings. */
export function exactChance(s: number, n: number): number {
  if (n < 2 || n > 30) throw new RangeError('the exact distribution of S is for 2 to 30 readings');
  // counts[k]: arrangements with k pairs that fall.
  let counts = [1];
  for (let k = 2; k <= n; k += 1) {
    const next = Array<number>(counts.length + k - 1).fill(0);
    for (const [at, count] of counts.entries()) for (let add = 0; add < k; add += 1) next[at + add] += count;
    counts = next;
  }
  const pairs = (n * (n - 1)) / 2;
  const all = counts.reduce((sum, count) => sum + count, 0);
  const far = counts.reduce(
    (sum, count, falls) => sum + (Math.abs(pairs - 2 * falls) >= Math.abs(s) ? count : 0),
    0,
  );
  return Math.min(1, far / all);
}

/** 1 where b surely lies above a, -1 where below, 0 where equal or not certain. */
function order(a: Ordered, b: Ordered): number {
  const [ra, rb] = [a.relation ?? '=', b.relation ?? '='];
  if (b.value > a.value && rb !== '<=' && ra !== '>=') return 1;
  if (b.value < a.value && rb !== '>=' && ra !== '<=') return -1;
  return 0;
}

/**
 * The test on values in order of time, one a date. A bound takes part only in pairs whose order is certain. Null under
 * two values.
 */
export function mannKendall(values: readonly Ordered[]): KendallTest | null {
  const n = values.length;
  if (n < 2) return null;
  let s = 0;
  for (let i = 0; i < n; i += 1) for (let j = i + 1; j < n; j += 1) s += order(values[i], values[j]);
  const hasBounds = values.some(({ relation = '=' }) => relation !== '=');
  const figures = values.map(({ value }) => value);
  const ties = tieGroups(figures);
  // Equal bounds are not known to be equal: their pairs are no ties, which errs on the side of no trend.
  const variance = hasBounds ? (n * (n - 1) * (2 * n + 5)) / 18 : varianceOfS(figures);
  const z = s === 0 || variance === 0 ? 0 : (s - Math.sign(s)) / Math.sqrt(variance);
  const isExact = !hasBounds && ties.length === 0 && n <= EXACT_UP_TO;
  return {
    count: n,
    s,
    variance,
    z,
    p: Math.min(1, 2 * normalCdf(-Math.abs(z))),
    exactP: isExact ? exactChance(s, n) : null,
    tau: hasBounds ? (2 * s) / (n * (n - 1)) : tauB([...figures.keys()], figures),
  };
}

/** Kendall's tau-b of pairs that may be tied on either side. 0 where one side does not vary. */
export function tauB(x: readonly number[], y: readonly number[]): number {
  let [s, xPairs, yPairs] = [0, 0, 0];
  for (let i = 0; i < x.length; i += 1)
    for (let j = i + 1; j < x.length; j += 1) {
      const [dx, dy] = [Math.sign(x[j] - x[i]), Math.sign(y[j] - y[i])];
      s += dx * dy;
      xPairs += dx === 0 ? 0 : 1;
      yPairs += dy === 0 ? 0 : 1;
    }
  return xPairs === 0 || yPairs === 0 ? 0 : s / Math.sqrt(xPairs * yPairs);
}
