/**
 * How sure is a verdict? A measured value with its doubt against limits (JCGM 106:2012, 7.3, 7.4 and 8.3). All
 * values in one unit; u is the standard uncertainty, half of the expanded one (k = 2).
 */
import { normalCdf } from './dist/normal.ts';

/** Limits of what is in tolerance; leave out the one that there is not. */
export type Limits = { low?: number; high?: number };

export type Estimate = { value: number; u: number };

/**
 * Probability, 0 to 1, that what was measured lies within the limits, with nothing else known of it:
 * Phi((high - value)/u) - Phi((low - value)/u). Without doubt (u = 0) it is 0 or 1, the limits counted in.
 */
export function conformance({ value, u }: Estimate, { low = -Infinity, high = Infinity }: Limits): number {
  if (u === 0) return value >= low && value <= high ? 1 : 0;
  // Of two small tails the difference is exact, of two numbers near 1 it is not.
  if (low > value) return normalCdf((value - low) / u) - normalCdf((value - high) / u);
  return normalCdf((high - value) / u) - normalCdf((low - value) / u);
}

/** What is known of a value after reading it, when something was known before: normal, weighted by 1/u^2 (JCGM 106, 7.2). */
export function posterior(before: Estimate, reading: Estimate): Estimate {
  const weight = 1 / before.u ** 2 + 1 / reading.u ** 2;
  const value = (before.value / before.u ** 2 + reading.value / reading.u ** 2) / weight;
  return { value, u: Math.sqrt(1 / weight) };
}
