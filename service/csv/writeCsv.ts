/** Writes CSV by RFC 4180 (CRLF, quotes doubled), with a guard against cells that a spreadsheet would run. */
import { stringify } from 'csv-stringify/sync';

/** Puts an apostrophe before a cell that begins like a formula and is not a plain number. */
export function withFormulaGuard(cell: string): string {
  // Nearly every cell: begins with a letter or a digit, or is empty.
  const first = cell.charCodeAt(0);
  if (!(first <= 45 || first === 61 || first === 64)) return cell;
  if (/^-?\d+(\.\d+)?$/.test(cell)) return cell;
  return /^['=+\-@\t\r]/.test(cell) ? `'${cell}` : cell;
}

export type CsvCells = Readonly<Record<string, string>>;

/** Rows of cells by column name as CSV text, with the line of titles or, for a later piece of a file, without it. */
export function csvText(columns: readonly string[], rows: readonly CsvCells[], hasTitles = true): string {
  const records = rows.map((row) => columns.map((column) => withFormulaGuard(row[column] ?? '')));
  return stringify(hasTitles ? [[...columns], ...records] : records, {
    record_delimiter: '\r\n',
    quoted_match: /[\r\n]/,
  });
}

/** A whole CSV file in UTF-8. */
export function writeCsv(columns: readonly string[], rows: readonly CsvCells[]): Uint8Array<ArrayBuffer> {
  return new TextEncoder().encode(csvText(columns, rows));
}
