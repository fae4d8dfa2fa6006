/**
 * Trend estimators for short series. Least squares in its centred form (any regression text; checked
 * against a reference data set in the tests); Theil-Sen as the median of pairwise slopes with Conover's
 * intercept. Both take x and y of equal length and answer null where the estimate does not exist.
 */

export type Line = { slope: number; intercept: number };

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Median; for an even count the mean of the two middle values. Throws RangeError on an empty list. */
export function median(values: readonly number[]): number {
  if (values.length === 0) throw new RangeError('the median of nothing does not exist');
  const sorted = values.toSorted((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

/** Ordinary least squares y = a + b x. Null under two points or when all x are equal. */
export function leastSquares(x: readonly number[], y: readonly number[]): Line | null {
  if (x.length < 2 || x.length !== y.length) return null;
  const xMean = mean(x);
  const yMean = mean(y);
  let sxx = 0;
  let sxy = 0;
  for (let i = 0; i < x.length; i += 1) {
    sxx += (x[i] - xMean) ** 2;
    sxy += (x[i] - xMean) * (y[i] - yMean);
  }
  if (sxx === 0) return null;
  const slope = sxy / sxx;
  return { slope, intercept: yMean - slope * xMean };
}

/** Theil-Sen slope with Conover's intercept median(y) - b median(x). Pairs with equal x are left out. */
export function theilSen(x: readonly number[], y: readonly number[]): Line | null {
  if (x.length < 2 || x.length !== y.length) return null;
  const slopes: number[] = [];
  for (let i = 0; i < x.length; i += 1)
    for (let j = i + 1; j < x.length; j += 1) if (x[i] !== x[j]) slopes.push((y[j] - y[i]) / (x[j] - x[i]));
  if (slopes.length === 0) return null;
  const slope = median(slopes);
  return { slope, intercept: median(y) - slope * median(x) };
}
