/**
 * Ordinary least squares of one line, y = a + b x, with everything that may be said of it. Centred sums; formulas of any
 * regression text, checked in the tests against certified data sets (NIST/ITL StRD) and R. x and y in any unit; confidence
 * as a share, such as 0.95.
 */
import { mean } from 'simple-statistics';
import { tQuantile, tTwoSided } from './dist/studentT.ts';

export type Line = { slope: number; intercept: number };

export type Fit = Line & {
  count: number;
  xMean: number;
  yMean: number;
  /** Sum of squares of x about its mean. */
  sxx: number;
  /** Residual standard deviation, n - 2 degrees of freedom; 0 for two points. */
  s: number;
  slopeError: number;
  interceptError: number;
  /** Share of the variation explained; 1 where y does not vary. */
  rSquared: number;
  /** Two-sided chance of so steep a slope where there is none; null without a degree of freedom or without scatter. */
  p: number | null;
};

export type Span = { low: number; high: number };

/** Null under two points or when all x are equal. Throws RangeError when x and y differ in length. */
export function leastSquares(x: readonly number[], y: readonly number[]): Fit | null {
  if (x.length !== y.length) throw new RangeError('a line needs a y for each x');
  if (x.length < 2) return null;
  const [xMean, yMean] = [mean([...x]), mean([...y])];
  let [sxx, sxy, syy] = [0, 0, 0];
  for (let i = 0; i < x.length; i += 1) {
    sxx += (x[i] - xMean) ** 2;
    sxy += (x[i] - xMean) * (y[i] - yMean);
    syy += (y[i] - yMean) ** 2;
  }
  if (sxx === 0) return null;
  const slope = sxy / sxx;
  const intercept = yMean - slope * xMean;
  const rss = x.reduce((sum, at, i) => sum + (y[i] - yMean - slope * (at - xMean)) ** 2, 0);
  const degrees = x.length - 2;
  // Below this what is left over is rounding.
  const isExact = rss <= 1e-24 * (syy + x.length * yMean * yMean);
  const s = degrees === 0 || isExact ? 0 : Math.sqrt(rss / degrees);
  const slopeError = s / Math.sqrt(sxx);
  return {
    slope,
    intercept,
    count: x.length,
    xMean,
    yMean,
    sxx,
    s,
    slopeError,
    interceptError: s * Math.sqrt(1 / x.length + (xMean * xMean) / sxx),
    rSquared: syy === 0 ? 1 : 1 - rss / syy,
    p: degrees === 0 || s === 0 ? null : tTwoSided(slope / slopeError, degrees),
  };
}

/** Quantile of t for a two-sided confidence; null without a degree of freedom. */
export function tOfFit({ count }: Pick<Fit, 'count'>, confidence: number): number | null {
  return count < 3 ? null : tQuantile((1 + confidence) / 2, count - 2);
}

function about(value: number, half: number | null): Span | null {
  return half === null ? null : { low: value - half, high: value + half };
}

/** Limits of the slope; null without a degree of freedom. */
export function slopeSpan(fit: Fit, confidence: number): Span | null {
  const t = tOfFit(fit, confidence);
  return about(fit.slope, t === null ? null : t * fit.slopeError);
}

/** The line's value at x. */
export function valueAt({ slope, intercept }: Line, x: number): number {
  return intercept + slope * x;
}

function spread(fit: Fit, x: number, own: 0 | 1): number {
  return fit.s * Math.sqrt(own + 1 / fit.count + (x - fit.xMean) ** 2 / fit.sxx);
}

/** Limits of the true line at x; null without a degree of freedom. */
export function meanSpan(fit: Fit, x: number, confidence: number): Span | null {
  const t = tOfFit(fit, confidence);
  return about(valueAt(fit, x), t === null ? null : t * spread(fit, x, 0));
}

/** Limits of one more reading at x; null without a degree of freedom. */
export function predictionSpan(fit: Fit, x: number, confidence: number): Span | null {
  const t = tOfFit(fit, confidence);
  return about(valueAt(fit, x), t === null ? null : t * spread(fit, x, 1));
}

export type OriginFit = { count: number; slope: number; s: number; slopeError: number };

/** Least squares of y = b x, through the origin. Null under two points or when all x are 0. */
export function throughOrigin(x: readonly number[], y: readonly number[]): OriginFit | null {
  if (x.length !== y.length) throw new RangeError('a line needs a y for each x');
  const sxx = x.reduce((sum, at) => sum + at * at, 0);
  if (x.length < 2 || sxx === 0) return null;
  const slope = x.reduce((sum, at, i) => sum + at * y[i], 0) / sxx;
  const rss = x.reduce((sum, at, i) => sum + (y[i] - slope * at) ** 2, 0);
  const s = Math.sqrt(rss / (x.length - 1));
  return { count: x.length, slope, s, slopeError: s / Math.sqrt(sxx) };
}
