/**
 * Reads a CSV file that a person made: declared encoding, comma, semicolon or tab, quoted line breaks. All
 * that is wrong with the file itself is answered as problems with file and line; nothing is guessed but the
 * delimiter, which the header decides.
 */
import { CsvError, parse } from 'csv-parse/sync';
import type { InputProblem } from '../../shared/contract/errors.ts';
import type { FileStyle } from '../../shared/contract/register.ts';

export type CsvRow = { file: string; line: number; cells: Record<string, string> };
export type CsvFile = { name: string; bytes: Uint8Array };

const delimiters = [',', ';', '\t'] as const;

function decode(file: CsvFile, encoding: FileStyle['encoding']): string | InputProblem {
  const fail = (line: number, value: string, reason: string): InputProblem => ({
    file: file.name,
    line,
    column: '',
    value,
    reason,
  });
  if (file.bytes.length === 0) return fail(1, '', 'the file is empty');
  const nul = file.bytes.indexOf(0);
  if (nul >= 0)
    return fail(lineOfByte(file.bytes, nul), `byte ${nul}`, 'not a text file: it holds a zero byte');
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(file.bytes);
  } catch {
    const at = firstBadByte(file.bytes);
    return fail(
      lineOfByte(file.bytes, at),
      `byte ${at}`,
      'not UTF-8; if the file was saved in Windows-1252, declare that encoding',
    );
  }
}

function lineOfByte(bytes: Uint8Array, position: number): number {
  let line = 1;
  for (let i = 0; i < position; i += 1) if (bytes[i] === 10) line += 1;
  return line;
}

/** Position of the first byte that makes the text undecodable as UTF-8: the longest sound prefix, by halving. */
function firstBadByte(bytes: Uint8Array): number {
  let sound = 0;
  let broken = bytes.length;
  while (broken - sound > 1) {
    const middle = (sound + broken) >> 1;
    try {
      new TextDecoder('utf-8', { fatal: true }).decode(bytes.subarray(0, middle), { stream: true });
      sound = middle;
    } catch {
      broken = middle;
    }
  }
  return sound;
}

/** The delimiter under which the header names the most known columns; a tie goes to the comma. */
function chooseDelimiter(header: string, known: ReadonlySet<string>): string {
  const count = (delimiter: string): number =>
    header.split(delimiter).filter((name) => known.has(name.trim().replace(/^"|"$/g, ''))).length;
  return delimiters.reduce<string>((best, one) => (count(one) > count(best) ? one : best), ',');
}

/** Undoes the guard that our own exports put before a cell that a spreadsheet would run as a formula. */
export function withoutFormulaGuard(cell: string): string {
  return /^'['=+\-@\t\r]/.test(cell) ? cell.slice(1) : cell;
}

/** How many lines a record takes, quoted line breaks of every kind included. */
function linesOf(raw: string): number {
  return 1 + (raw.replace(/[\r\n]$/, '').match(/\r\n|\r|\n/g)?.length ?? 0);
}

/** Reads one file into rows of cells by column name. `known` are the columns that may stand in the header. */
export function readCsv(
  file: CsvFile,
  encoding: FileStyle['encoding'],
  known: ReadonlySet<string>,
): { rows: CsvRow[]; problems: InputProblem[] } {
  const text = decode(file, encoding);
  if (typeof text !== 'string') return { rows: [], problems: [text] };
  const problems: InputProblem[] = [];
  const firstLine = text.split(/\r?\n/, 1)[0].replace(/^\uFEFF/, '');
  const delimiter = chooseDelimiter(firstLine, known);
  let records: { record: string[]; raw: string }[];
  try {
    records = parse(text, {
      bom: true,
      delimiter,
      record_delimiter: ['\r\n', '\n', '\r'],
      relax_column_count: true,
      raw: true,
      skip_empty_lines: false,
    }) as unknown as typeof records;
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    const line = typeof error.lines === 'number' ? error.lines : 1;
    return {
      rows: [],
      problems: [
        {
          file: file.name,
          line,
          column: '',
          value: '',
          reason: `quotation marks do not pair up (${error.code})`,
        },
      ],
    };
  }
  const header = records[0]?.record.map((name) => name.trim()) ?? [];
  const seen = new Set<string>();
  for (const name of header) {
    if (name === '')
      problems.push({
        file: file.name,
        line: 1,
        column: '',
        value: '',
        reason: 'a column of the header has no name',
      });
    else if (!known.has(name))
      problems.push({ file: file.name, line: 1, column: name, value: name, reason: 'unknown column' });
    else if (seen.has(name))
      problems.push({
        file: file.name,
        line: 1,
        column: name,
        value: name,
        reason: 'the column stands twice in the header',
      });
    seen.add(name);
  }
  if (!header.some((name) => known.has(name)))
    return {
      rows: [],
      problems: [
        {
          file: file.name,
          line: 1,
          column: '',
          value: firstLine.slice(0, 80),
          reason: 'no header: the first line names none of the known columns',
        },
      ],
    };
  const rows: CsvRow[] = [];
  let line = 1 + linesOf(records[0]?.raw ?? '');
  for (const { record, raw } of records.slice(1)) {
    const start = line;
    line += linesOf(raw);
    if (record.every((cell) => cell.trim() === '') && record.length <= 1) continue;
    if (record.length !== header.length) {
      problems.push({
        file: file.name,
        line: start,
        column: '',
        value: `${record.length} cells`,
        reason: `the header has ${header.length} columns`,
      });
      continue;
    }
    rows.push({
      file: file.name,
      line: start,
      cells: Object.fromEntries(header.map((name, index) => [name, withoutFormulaGuard(record[index])])),
    });
  }
  if (rows.length === 0 && problems.length === 0)
    problems.push({
      file: file.name,
      line: 1,
      column: '',
      value: '',
      reason: 'the file has a header but no rows',
    });
  return { rows, problems };
}
