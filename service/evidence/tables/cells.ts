/** Cells of the tables of a pack. */
import { formatMilli } from '../../../shared/units/units.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';

export type Cells = Record<string, string>;

export const text = (value: string | number | null | undefined): string =>
  value == null ? '' : String(value);
export const milli = (value: number | null | undefined): string => (value == null ? '' : formatMilli(value));
/** Six significant digits. */
export const figure = (value: number): string => String(Number(value.toPrecision(6)));

export async function* once(rows: readonly Cells[]): CsvRows {
  yield rows;
}

export function isWithin(day: string, { scope }: Resolved): boolean {
  return (scope.from === null || day >= scope.from) && (scope.to === null || day <= scope.to);
}
