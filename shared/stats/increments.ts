/**
 * The rate of a device that is adjusted now and then, from what it moved between visits: d ~ N(r dt, sigma^2 dt), a Wiener
 * process with drift (degradation-model texts, from memory). Adjustments leave these increments alone, while they pull the
 * series of readings about.
 */
import { tQuantile } from './dist/studentT.ts';
import { throughOrigin } from './leastSquares.ts';
import type { Span } from './leastSquares.ts';

/** What moved, in any unit, over so many years. */
export type Increment = { moved: number; years: number };

export type Rate = {
  count: number;
  years: number;
  /** Units a year. */
  rate: number;
  /** Units by the root of a year; null under two increments. */
  sigma: number | null;
  error: number | null;
  span: Span | null;
  /** Least squares through the origin of the same increments: nearly the same where nothing is odd. */
  originRate: number | null;
};

/** Increments over no time are left out. Null where none is left. */
export function rateOfIncrements(increments: readonly Increment[], confidence: number = 0.95): Rate | null {
  const used = increments.filter(({ years }) => years > 0);
  const years = used.reduce((sum, one) => sum + one.years, 0);
  if (used.length === 0) return null;
  const rate = used.reduce((sum, one) => sum + one.moved, 0) / years;
  const origin = throughOrigin(
    used.map((one) => one.years),
    used.map((one) => one.moved),
  );
  const head = { count: used.length, years, rate, originRate: origin?.slope ?? null };
  if (used.length < 2) return { ...head, sigma: null, error: null, span: null };
  const squares = used.reduce((sum, one) => sum + (one.moved - rate * one.years) ** 2 / one.years, 0);
  const sigma = Math.sqrt(squares / (used.length - 1));
  const error = sigma / Math.sqrt(years);
  const half = tQuantile((1 + confidence) / 2, used.length - 1) * error;
  return { ...head, sigma, error, span: { low: rate - half, high: rate + half } };
}
