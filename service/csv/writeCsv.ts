/** Writes CSV by RFC 4180 (CRLF, quotes doubled), with a guard against cells that a spreadsheet would run. */
import { stringify } from 'csv-stringify/sync';

/** Puts an apostrophe before a cell that begins like a formula and is not a plain number. */
export function withFormulaGuard(cell: string): string {
  if (/^-?\d+(\.\d+)?$/.test(cell)) return cell;
  return /^['=+\-@\t\r]/.test(cell) ? `'${cell}` : cell;
}

/** Rows of cells by column name as the bytes of a CSV file in UTF-8. */
export function writeCsv(
  columns: readonly string[],
  rows: readonly Readonly<Record<string, string>>[],
): Uint8Array<ArrayBuffer> {
  const records = rows.map((row) => columns.map((column) => withFormulaGuard(row[column] ?? '')));
  return new TextEncoder().encode(
    stringify([[...columns], ...records], { record_delimiter: '\r\n', quoted_match: /[\r\n]/ }),
  );
}
