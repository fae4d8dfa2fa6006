/**
 * Degree days to any base, by what is known of the weather, best first: daily means; normals at several bases, interpolated;
 * monthly means after Erbs, Klein and Beckman (1983, from memory; within 1 % of public normals where degree days are many,
 * 10 to 25 % off at low bases). Hitchin and the normal-law form stand beside for comparison. Temperatures degF, degree days
 * degF.day; heating below the base, cooling above it. Unrounded.
 */
import { normalCdf } from '../stats/dist/normal.ts';

export type Season = 'heating' | 'cooling';
/** One month's mean temperature, and its days. February has 28. */
export type MonthMean = { days: number; degF: number };

const A = 1.698;

function distance(base: number, degF: number, season: Season): number {
  return season === 'heating' ? base - degF : degF - base;
}

/** Spread of the monthly means over the year, degF: their standard deviation by twelve. */
export function yearSpread(months: readonly MonthMean[]): number {
  const mean = months.reduce((sum, { degF }) => sum + degF, 0) / months.length;
  return Math.sqrt(months.reduce((sum, { degF }) => sum + (degF - mean) ** 2, 0) / months.length);
}

/** Spread of a month's days about its mean after Erbs, degF. */
export function monthSpread(degF: number, spreadOfYear: number): number {
  return 3.54 - 0.029 * degF + 0.0664 * spreadOfYear;
}

/** Degree days of each month by twelve monthly means (Erbs). Throws RangeError on other than twelve months. */
export function byMonthlyMeans(
  months: readonly MonthMean[],
  base: number,
  season: Season = 'heating',
): number[] {
  if (months.length !== 12) throw new RangeError('twelve monthly means');
  const year = yearSpread(months);
  return months.map(({ days, degF }) => {
    const spread = monthSpread(degF, year);
    const theta = distance(base, degF, season) / (spread * Math.sqrt(days));
    // ln(e^-x + e^x) = |x| + ln(1 + e^-2|x|): nothing overflows.
    const x = Math.abs(A * theta);
    const logarithm = x + Math.log1p(Math.exp(-2 * x));
    return spread * days ** 1.5 * (theta / 2 + logarithm / (2 * A));
  });
}

/** Degree days of a stretch of daily mean temperatures. */
export function byDailyMeans(degF: readonly number[], base: number, season: Season = 'heating'): number {
  return degF.reduce((sum, one) => sum + Math.max(0, distance(base, one, season)), 0);
}

/** Degree days known at some bases, taken between two of them on a line. Throws RangeError beyond the last one. */
export function betweenBases(known: readonly { base: number; degreeDays: number }[], base: number): number {
  const sorted = known.toSorted((a, b) => a.base - b.base);
  const above = sorted.findIndex((one) => one.base >= base);
  const upper = sorted[above];
  if (upper?.base === base) return upper.degreeDays;
  const lower = sorted[above - 1];
  if (!upper || !lower)
    throw new RangeError(`a base between ${sorted[0]?.base ?? '–'} and ${sorted.at(-1)?.base ?? '–'} °F`);
  return (
    lower.degreeDays +
    ((upper.degreeDays - lower.degreeDays) * (base - lower.base)) / (upper.base - lower.base)
  );
}

/** Hitchin's form for one month, k by K (0.71 usual); mean and base degC. */
export function byHitchin(
  { days, degC }: { days: number; degC: number },
  baseDegC: number,
  k = 0.71,
): number {
  const over = baseDegC - degC;
  return Math.abs(over) < 1e-9 ? days / k : (days * over) / (1 - Math.exp(-k * over));
}

/** By a normal law of the daily means about the month's (Schoenau and Kehrig). */
export function byNormalLaw({ days, degF }: MonthMean, spread: number, base: number): number {
  const z = (base - degF) / spread;
  const density = Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI);
  return days * spread * (z * normalCdf(z) + density);
}
