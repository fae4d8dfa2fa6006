/** A share counted as x of n, with its limits: Clopper-Pearson for statements, Wilson for charts; never x/n -+ z se. */
import { betaQuantile, binomialPmf } from './dist/beta.ts';
import { normalQuantile } from './dist/normal.ts';
import type { Span } from './leastSquares.ts';

function require(x: number, n: number): void {
  if (!Number.isInteger(x) || !Number.isInteger(n) || n < 1 || x < 0 || x > n)
    throw new RangeError(`${x} of ${n} is no share`);
}

/** Exact limits of a share (Clopper and Pearson 1934), two-sided confidence. Throws RangeError unless 0 <= x <= n, n >= 1. */
export function clopperPearson(x: number, n: number, confidence: number = 0.95): Span {
  require(x, n);
  const tail = (1 - confidence) / 2;
  return {
    low: x === 0 ? 0 : betaQuantile(tail, x, n - x + 1),
    high: x === n ? 1 : betaQuantile(1 - tail, x + 1, n - x),
  };
}

/** Score limits of a share (Wilson 1927), without continuity correction. */
export function wilson(x: number, n: number, confidence: number = 0.95): Span {
  require(x, n);
  const z = normalQuantile((1 + confidence) / 2);
  const p = x / n;
  const centre = p + (z * z) / (2 * n);
  const half = z * Math.sqrt((p * (1 - p)) / n + (z * z) / (4 * n * n));
  const width = 1 + (z * z) / n;
  return { low: Math.max(0, (centre - half) / width), high: Math.min(1, (centre + half) / width) };
}

/** Two-sided exact chance of x of n, or anything as unlikely, where the true share is p. */
export function binomialChance(x: number, n: number, p: number): number {
  require(x, n);
  const own = binomialPmf(x, n, p) * (1 + 1e-7);
  let sum = 0;
  for (let k = 0; k <= n; k += 1) {
    const chance = binomialPmf(k, n, p);
    if (chance <= own) sum += chance;
  }
  return Math.min(1, sum);
}
