/**
 * The weather of a site, and degree days by the best that is known of it: daily temperatures, else normals at several bases,
 * else monthly means (Erbs). Temperatures degF, degree days degF.day, months 0 to 11. Unrounded.
 */
import { betweenBases, byDailyMeans, byMonthlyMeans } from './degreeDays.ts';
import type { Season } from './degreeDays.ts';

/** February has 28: a normal year. */
export const MONTH_DAYS: readonly number[] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
/** A month of daily temperatures with fewer days than this says nothing. */
export const LEAST_DAYS = 20;

export type Weather = {
  name: string;
  source: string;
  /** Daily means, of one year or of many. */
  daily: readonly { on: string; degF: number }[];
  /** Degree days of the twelve months at a base. */
  bases: readonly { season: Season; base: number; months: readonly number[] }[];
  /** Twelve monthly means; empty where they are not known. */
  means: readonly number[];
};

export const degreeDayMethods = [
  'daily temperatures',
  'normals at several bases',
  'monthly means (Erbs)',
] as const;
export type DegreeDayMethod = (typeof degreeDayMethods)[number];

export type Climate = {
  /** Twelve monthly means. */
  means: readonly number[];
  degreeDays: (month: number, base: number, season: Season) => number;
  /** How a month's degree days at a base come about. */
  methodAt: (base: number, season: Season) => DegreeDayMethod;
};

function monthsOf(daily: Weather['daily']): number[][] {
  const months: number[][] = Array.from({ length: 12 }, () => []);
  for (const { on, degF } of daily) months[Number(on.slice(5, 7)) - 1]?.push(degF);
  return months;
}

const mean = (values: readonly number[]): number => values.reduce((sum, one) => sum + one, 0) / values.length;

/** A climate by the daily means of each month. */
export function climateByDays(days: readonly (readonly number[])[]): Climate {
  return {
    means: days.map(mean),
    methodAt: () => 'daily temperatures',
    degreeDays: (month, base, season) =>
      (byDailyMeans(days[month], base, season) / days[month].length) * MONTH_DAYS[month],
  };
}

/** A climate from what is known. Throws RangeError where neither daily temperatures of every month nor twelve means are known. */
export function climateOf({ daily, bases, means }: Weather): Climate {
  const days = monthsOf(daily);
  if (days.every((month) => month.length >= LEAST_DAYS)) return climateByDays(days);
  if (means.length !== 12) throw new RangeError('daily temperatures of every month, or twelve monthly means');
  const months = means.map((degF, month) => ({ degF, days: MONTH_DAYS[month] }));
  const known = (season: Season): { base: number; months: readonly number[] }[] =>
    bases.filter((one) => one.season === season).toSorted((a, b) => a.base - b.base);
  const byBase = { heating: known('heating'), cooling: known('cooling') };
  const isBetween = (base: number, season: Season): boolean => {
    const own = byBase[season];
    return own.length > 0 && base >= own[0].base && base <= own[own.length - 1].base;
  };
  // The months of one base are asked for one after another: the last of them is kept, and no more of a large site.
  let last: { base: number; season: Season; months: readonly number[] } | null = null;
  const byMeans = (base: number, season: Season): readonly number[] => {
    if (last?.base !== base || last.season !== season)
      last = { base, season, months: byMonthlyMeans(months, base, season) };
    return last.months;
  };
  return {
    means,
    methodAt: (base, season) =>
      isBetween(base, season) ? 'normals at several bases' : 'monthly means (Erbs)',
    degreeDays: (month, base, season) =>
      isBetween(base, season)
        ? betweenBases(
            byBase[season].map((one) => ({ base: one.base, degreeDays: one.months[month] })),
            base,
          )
        : byMeans(base, season)[month],
  };
}

/** Degree days of a year. */
export function yearOf(climate: Climate, base: number, season: Season): number {
  return MONTH_DAYS.reduce((sum, _, month) => sum + climate.degreeDays(month, base, season), 0);
}
