/** Cells of the tables of a pack. */
import type { Relation } from '../../../shared/trade/setpointError.ts';
import { formatMilli } from '../../../shared/units/units.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';

export type Cells = Record<string, string>;

export const text = (value: string | number | null | undefined): string =>
  value == null ? '' : String(value);
export const milli = (value: number | null | undefined): string => (value == null ? '' : formatMilli(value));
/** Whether an error is a bound; empty for a figure. */
export const boundText = (relation: Relation | null | undefined): string =>
  relation == null || relation === '=' ? '' : relation;
/** Six significant digits. */
export const figure = (value: number): string => String(Number(value.toPrecision(6)));

/** The role of the setpoint that a change of settings is about, by its key (`setpoint TC-1/occupied`); empty for other subjects. */
export function roleOf(subject: string): string {
  return subject.startsWith('setpoint ') ? subject.slice(subject.lastIndexOf('/') + 1) : '';
}

const PIECE = 500;

/** Rows of many items, made as they are asked for: a site has many devices, and memory should hold few. */
export async function* inPieces<T>(
  items: Iterable<T> | AsyncIterable<T>,
  rowsOf: (item: T) => Cells[],
): CsvRows {
  let rows: Cells[] = [];
  for await (const item of items) {
    rows.push(...rowsOf(item));
    if (rows.length < PIECE) continue;
    yield rows;
    rows = [];
  }
  yield rows;
}

/** Rows that are few, or stand there already. */
export function once(rows: readonly Cells[]): CsvRows {
  return inPieces(rows, (row) => [row]);
}

export function isWithin(day: string, { scope }: Resolved): boolean {
  return (scope.from === null || day >= scope.from) && (scope.to === null || day <= scope.to);
}
