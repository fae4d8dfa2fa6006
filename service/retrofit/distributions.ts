/** How errors are spread, as an auditor asks for it (air-energy reference 5.3). degF. */
import { median, quantile } from 'simple-statistics';
import type { RetrofitQuantities } from '../../shared/contract/retrofit.ts';

/** Equal within a thousandth: what lies on a limit is within it. */
const SLACK = 1e-9;

export function medianOf(values: readonly number[]): number | null {
  return values.length === 0 ? null : median([...values]);
}

/** Shares within 1 and 2 degrees and beyond 3, both limits included in the inner one; median and 90th percentile of the size. */
export function distributionOf(errors: readonly number[]): RetrofitQuantities['distributions']['newest'] {
  const count = errors.length;
  const sizes = errors.map(Math.abs);
  const share = (is: (size: number) => boolean): number | null =>
    count === 0 ? null : sizes.filter(is).length / count;
  return {
    count,
    within1: share((size) => size <= 1 + SLACK),
    within2: share((size) => size <= 2 + SLACK),
    beyond3: share((size) => size > 3 + SLACK),
    medianAbsolute: medianOf(sizes),
    absolute90: count === 0 ? null : quantile(sizes, 0.9),
    warmShare: count === 0 ? null : errors.filter((one) => one > 0).length / count,
  };
}
