/**
 * When a line fitted to readings reaches a limit, with how sure that is: Fieller's limits, exact for a ratio of estimates.
 * All t with (a + b t - L)^2 <= tq^2 s^2 [q + 1/n + (t - mean)^2 / Sxx]; q = 0 asks when the true line crosses, q = 1 when a
 * reading will stand at the limit.
 */
import { tQuantile } from './dist/studentT.ts';
import type { Fit, Span } from './leastSquares.ts';
import { tOfFit } from './leastSquares.ts';

export type Crossing = {
  limit: number;
  /** Where the fitted line reaches the limit, on the scale of x. */
  at: number;
  /** Limits for the true line, and for a reading. */
  line: Span;
  reading: Span;
  /** The earliest x at which the one-sided bound of a reading reaches the limit: when to be there at the latest. */
  earliest: number;
  /** Fieller's g: the nearer to 1, the less the slope is known. */
  g: number;
};

type Answer = { kind: 'crossing'; crossing: Crossing } | { kind: 'none' } | { kind: 'not dated'; g: number };

/** Both roots of A u^2 + B u + C = 0 with A > 0, the smaller first; null where there is none. */
function roots(a: number, b: number, c: number): Span | null {
  const inside = b * b - 4 * a * c;
  if (inside < 0) return null;
  // The form that does not subtract like from like.
  const q = -(b + (b < 0 ? -1 : 1) * Math.sqrt(inside)) / 2;
  const [one, other] = q === 0 ? [0, 0] : [q / a, c / q];
  return { low: Math.min(one, other), high: Math.max(one, other) };
}

function fieller(fit: Fit, limit: number, tq: number, q: 0 | 1): Span | null {
  const noise = tq * tq * fit.s * fit.s;
  const gap = fit.yMean - limit;
  if (noise === 0) {
    const at = fit.xMean - gap / fit.slope;
    return { low: at, high: at };
  }
  const found = roots(
    fit.slope ** 2 - noise / fit.sxx,
    2 * fit.slope * gap,
    gap * gap - noise * (q + 1 / fit.count),
  );
  return found && { low: found.low + fit.xMean, high: found.high + fit.xMean };
}

/**
 * Where a fit reaches the limit that it moves toward. `none`: it does not move. `not dated`: the slope is not known well
 * enough, or there is no degree of freedom. A line that stands beyond the limit already crossed it in the past: `at` says
 * when. `oneSidedAt`: the confidence of the earliest x.
 */
export function crossingOf(
  fit: Fit,
  limits: { low: number; high: number },
  confidence: number = 0.95,
  oneSidedAt: number = confidence,
): Answer {
  if (fit.slope === 0) return { kind: 'none' };
  const limit = fit.slope > 0 ? limits.high : limits.low;
  const tq = tOfFit(fit, confidence);
  if (tq === null) return { kind: 'not dated', g: Infinity };
  const g = (tq * fit.slopeError) ** 2 / fit.slope ** 2;
  const oneSided = tQuantile(oneSidedAt, fit.count - 2);
  const line = fieller(fit, limit, tq, 0);
  const reading = fieller(fit, limit, tq, 1);
  const first = fieller(fit, limit, oneSided, 1);
  if (g >= 1 || !line || !reading || !first) return { kind: 'not dated', g };
  return {
    kind: 'crossing',
    crossing: {
      limit,
      at: (limit - fit.intercept) / fit.slope,
      line,
      reading,
      earliest: first.low,
      g,
    },
  };
}
