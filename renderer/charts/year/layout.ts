/** The year of a round as months of week columns, for day cells and for the lanes of the mains. */
import { addDays, daysBetween, monthOf, weekday, weekStart } from '../../../shared/dates/plainDate.ts';

export type DayCell = { date: string; column: number; row: number };
export type YearLayout = { cells: DayCell[]; columns: number; months: { month: string; column: number }[] };

/** One column a week from the week of `from`, one row a weekday (0 = Monday). */
export function layoutYear(from: string, to: string): YearLayout {
  const start = weekStart(from);
  const cells: DayCell[] = [];
  const months: { month: string; column: number }[] = [];
  for (let date = from; date <= to; date = addDays(date, 1)) {
    const column = Math.floor(daysBetween(start, date) / 7);
    cells.push({ date, column, row: weekday(date) - 1 });
    if (months.at(-1)?.month !== monthOf(date)) months.push({ month: monthOf(date), column });
  }
  return { cells, columns: (cells.at(-1)?.column ?? 0) + 1, months };
}

/** How full a day is, as a step from 0 (nothing planned) to 5 (more than its capacity). */
export function loadStep(loadMinutes: number, capacityMinutes: number): number {
  if (loadMinutes === 0) return 0;
  if (loadMinutes > capacityMinutes) return 5;
  return Math.min(4, 1 + Math.floor((4 * loadMinutes) / Math.max(1, capacityMinutes + 1)));
}
