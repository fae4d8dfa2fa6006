/**
 * The median of all slopes between two readings (Theil, Sen), with Conover's intercept median(y) - b median(x) and the
 * limits of Gilbert (1987, 16.5), as in EPA 530/R-09-007 (2009), 17.3.3: ranks M1 = (N - C)/2 and M2 + 1 = (N + C)/2 + 1 of
 * the ordered slopes, C = z sqrt(Var S).
 */
import { median } from 'simple-statistics';
import { normalQuantile } from './dist/normal.ts';
import type { Line, Span } from './leastSquares.ts';
import { varianceOfS } from './mannKendall.ts';

/** How ranks that are not whole are taken: between their neighbours, as the published limits are, or outward. */
export type RankRule = 'between' | 'outward';

export type MedianSlope = Line & {
  slopes: number;
  /** Null where so few readings give no limits: always with five or fewer at 95 %. */
  span: Span | null;
};

function atRank(sorted: readonly number[], rank: number, rule: RankRule, side: 'low' | 'high'): number {
  if (rule === 'outward') return sorted[(side === 'low' ? Math.floor(rank) : Math.ceil(rank)) - 1];
  const below = Math.floor(rank);
  const share = rank - below;
  const low = sorted[below - 1];
  return share === 0 ? low : low + share * (sorted[below] - low);
}

/** Pairs with equal x are left out. Null where no pair is left. Throws RangeError when x and y differ in length. */
export function theilSen(
  x: readonly number[],
  y: readonly number[],
  confidence: number = 0.95,
  rule: RankRule = 'between',
): MedianSlope | null {
  if (x.length !== y.length) throw new RangeError('a slope needs a y for each x');
  const slopes: number[] = [];
  for (let i = 0; i < x.length; i += 1)
    for (let j = i + 1; j < x.length; j += 1) if (x[i] !== x[j]) slopes.push((y[j] - y[i]) / (x[j] - x[i]));
  if (slopes.length === 0) return null;
  slopes.sort((a, b) => a - b);
  const slope = median(slopes);
  const c = normalQuantile((1 + confidence) / 2) * Math.sqrt(varianceOfS(y));
  const first = (slopes.length - c) / 2;
  const last = (slopes.length + c) / 2 + 1;
  const exists = first >= 1 && last <= slopes.length;
  return {
    slope,
    intercept: median([...y]) - slope * median([...x]),
    slopes: slopes.length,
    span: exists
      ? { low: atRank(slopes, first, rule, 'low'), high: atRank(slopes, last, rule, 'high') }
      : null,
  };
}
