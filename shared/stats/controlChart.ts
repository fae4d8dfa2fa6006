/**
 * Control charts of single values. Individuals and moving range, EWMA and tabular CUSUM as in the NIST/SEMATECH
 * e-Handbook, 6.3.2.2 to 6.3.2.4; run rules 1, 2 and 5 of Nelson (1984): the others cannot fire within a device's life, or
 * fire by chance over a large register. "Beyond" means >, and a value on the centre breaks a run.
 */
import { mean } from 'simple-statistics';

/** d2 and d3 of two values: mean and standard deviation of the range of two standard normal values. */
export const D2 = 2 / Math.sqrt(Math.PI);
export const D3 = Math.sqrt(2 - D2 ** 2);
/** Upper limit of the moving range by its mean. */
export const D4 = 1 + (3 * D3) / D2;

export type RunRule = 'beyond three sigma' | 'nine on one side' | 'two of three beyond two sigma';
/** A rule, and the value, counted from 0, at which it fires. */
export type Signal = { rule: RunRule; at: number };

export type IndividualsChart = {
  centre: number;
  meanRange: number;
  /** Standard deviation by the moving range. */
  sigma: number;
  upper: number;
  lower: number;
  rangeUpper: number;
  ranges: number[];
  signals: Signal[];
};

const RUN = 9;

/** Where the run rules fire. No value fires where sigma is 0, but for one that differs from the centre. */
export function runSignals(values: readonly number[], centre: number, sigma: number): Signal[] {
  const signals: Signal[] = [];
  let [side, run] = [0, 0];
  for (const [at, value] of values.entries()) {
    const off = value - centre;
    if (Math.abs(off) > 3 * sigma) signals.push({ rule: 'beyond three sigma', at });
    const own = Math.sign(off);
    run = own !== 0 && own === side ? run + 1 : own === 0 ? 0 : 1;
    side = own;
    if (run === RUN) signals.push({ rule: 'nine on one side', at });
    const last = values.slice(Math.max(0, at - 2), at + 1);
    const beyond = last.filter(
      (one) => Math.sign(one - centre) === own && Math.abs(one - centre) > 2 * sigma,
    );
    if (last.length === 3 && beyond.length >= 2 && Math.abs(off) > 2 * sigma)
      signals.push({ rule: 'two of three beyond two sigma', at });
  }
  return signals;
}

/** Individuals and moving range; null under two values. `d2` is the rounded constant where a published chart used it. */
export function individualsChart(values: readonly number[], d2: number = D2): IndividualsChart | null {
  if (values.length < 2) return null;
  const ranges = values.slice(1).map((value, index) => Math.abs(value - values[index]));
  const meanRange = mean(ranges);
  // The mean of equal values may differ from them by a rounding error, and would then lie beyond its own limits.
  const centre = meanRange === 0 ? values[0] : mean([...values]);
  const sigma = meanRange / d2;
  return {
    centre,
    meanRange,
    sigma,
    upper: centre + 3 * sigma,
    lower: centre - 3 * sigma,
    rangeUpper: D4 * meanRange,
    ranges,
    signals: runSignals(values, centre, sigma),
  };
}

export type Ewma = { value: number; upper: number; lower: number }[];

/** Exponentially weighted means, newest weight lambda (0 < lambda <= 1), with the limits of each; k sigmas wide. */
export function ewma(
  values: readonly number[],
  { lambda, target, sigma, k = 3 }: { lambda: number; target: number; sigma: number; k?: number },
): Ewma {
  let value = target;
  return values.map((one, index) => {
    value = lambda * one + (1 - lambda) * value;
    const share = (lambda / (2 - lambda)) * (1 - (1 - lambda) ** (2 * (index + 1)));
    const half = k * sigma * Math.sqrt(share);
    return { value, upper: target + half, lower: target - half };
  });
}

export type Cusum = { rows: { high: number; low: number }[]; firstSignal: number | null };

/** Tabular sums above and below a target; `slack` is half of the shift to be found, `decision` where it is told. */
export function cusum(
  values: readonly number[],
  { target, slack, decision }: { target: number; slack: number; decision: number },
): Cusum {
  let [high, low] = [0, 0];
  const rows = values.map((value) => {
    high = Math.max(0, high + value - target - slack);
    low = Math.max(0, low + target - slack - value);
    return { high, low };
  });
  const first = rows.findIndex((row) => row.high > decision || row.low > decision);
  return { rows, firstSignal: first < 0 ? null : first };
}
