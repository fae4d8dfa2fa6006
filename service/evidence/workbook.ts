/** register.xlsx: the tables that people open, as sheets of one workbook. */
import type { CsvRows } from './packWriter.ts';
import type { Cell, Sheet } from '../xlsx/writeWorkbook.ts';

/** Columns of days are named so: `found_on`, `since`. */
const isDay = /^(?:date|since|until)$|_on$/u;

/** A figure is a number in a workbook, a day a date; tags stay text. */
function cellOf(text: string, isFigure: boolean): Cell {
  if (text === '') return null;
  const value = Number(text);
  return isFigure && Number.isFinite(value) ? value : text;
}

async function* sheetRows(
  columns: readonly string[],
  figures: ReadonlySet<string>,
  rows: () => Promise<CsvRows> | CsvRows,
): AsyncGenerator<Cell[][]> {
  const isFigure = columns.map((column) => figures.has(column));
  for await (const piece of await rows())
    yield piece.map((row) => columns.map((column, index) => cellOf(row[column] ?? '', isFigure[index])));
}

/** A table as a sheet. `figures` name the columns that hold numbers. */
export function sheetOf(
  name: string,
  columns: readonly string[],
  { figures, rows }: { figures: readonly string[]; rows: () => Promise<CsvRows> | CsvRows },
): Sheet {
  return {
    name,
    columns: columns.map((title) => ({
      title,
      width: title === 'note' || title === 'what' || title === 'base' ? 40 : 15,
      isDay: isDay.test(title),
    })),
    rows: sheetRows(columns, new Set(figures), rows),
  };
}

/** The first sheet: what the workbook is. */
export function aboutSheet(lines: readonly (readonly [string, string])[]): Sheet {
  return {
    name: 'About',
    columns: [
      { title: 'what', width: 28 },
      { title: 'says', width: 90 },
    ],
    rows: [lines],
  };
}
