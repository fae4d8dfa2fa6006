/** Does one reading follow the one before? Lag-one autocorrelation, as StRD defines it. */
import { mean } from 'simple-statistics';

/** Sum of products of neighbours about the mean, over the sum of squares; null under three values or where nothing varies. */
export function lagOne(values: readonly number[]): number | null {
  if (values.length < 3) return null;
  const middle = mean([...values]);
  const off = values.map((value) => value - middle);
  const squares = off.reduce((sum, one) => sum + one * one, 0);
  if (squares === 0) return null;
  return off.slice(1).reduce((sum, one, index) => sum + one * off[index], 0) / squares;
}
