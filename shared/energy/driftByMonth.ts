/**
 * How far a setpoint stood off in each month, from its visits: between two visits on a line from what was left to what was
 * found, a step where it was adjusted or replaced, after the last visit as it was left. Degrees; each month by the mean over its days.
 */
import { addDays, daysBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';

/** Errors at a visit; null where it is not known. */
export type VisitError = { on: PlainDate; found: number | null; left: number | null };

/** The error on a day; null before the first visit and where nothing is known. */
export function errorOn(visits: readonly VisitError[], on: PlainDate): number | null {
  const after = visits.findIndex((visit) => visit.on > on);
  const before = visits[(after < 0 ? visits.length : after) - 1];
  if (!before) return null;
  const start = before.left ?? before.found;
  const next = after < 0 ? null : visits[after];
  if (start === null || next === null || next.found === null) return start;
  return start + ((next.found - start) * daysBetween(before.on, on)) / daysBetween(before.on, next.on);
}

export type MonthError = { month: string; days: number; known: number; mean: number | null };

/** Months of a period, both days included, with the mean error over the days on which it is known. */
export function driftByMonth(
  visits: readonly VisitError[],
  period: { from: PlainDate; to: PlainDate },
): MonthError[] {
  const months: { month: string; errors: (number | null)[] }[] = [];
  for (let day = period.from; day <= period.to; day = addDays(day, 1)) {
    const month = day.slice(0, 7);
    const last = months.at(-1);
    const error = errorOn(visits, day);
    if (last?.month === month) last.errors.push(error);
    else months.push({ month, errors: [error] });
  }
  return months.map(({ month, errors }) => {
    const known = errors.filter((one) => one !== null);
    return {
      month,
      days: errors.length,
      known: known.length,
      mean: known.length === 0 ? null : known.reduce((sum, one) => sum + one, 0) / known.length,
    };
  });
}
