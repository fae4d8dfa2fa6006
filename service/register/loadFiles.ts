/** `register load`: several files at once, all problems in one list, all rows or none. */
import { writeBook } from '../../db/book.ts';
import { registerIndex } from '../../db/registerIndex.ts';
import { allRegisterRows } from '../../db/registerRows.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import type { LoadReport } from '../../shared/contract/register.ts';
import { columns } from '../../shared/register/columns.ts';
import { keyColumns, readRow, readRowClass, rowKey } from '../../shared/register/row.ts';
import type { RowValues } from '../../shared/register/row.ts';
import type { JobHandler } from '../context.ts';
import { readCsv } from '../csv/readCsv.ts';
import type { CsvFile, CsvRow } from '../csv/readCsv.ts';
import { applyRows, isSameRow } from './applyRows.ts';
import type { RowChange } from './applyRows.ts';
import { checkRows, withImpliedLevels } from './checkRows.ts';
import type { OriginRow } from './checkRows.ts';

const known = new Set(columns.map((column) => column.name));

/** Uploaded files as bytes. Throws `invalid_input` for text that is not base64. */
export function decodeFiles(files: readonly { name: string; base64: string }[]): CsvFile[] {
  return files.map(({ name, base64 }) => {
    if (!/^[A-Za-z0-9+/]*={0,2}$/.test(base64))
      throw new AppError('invalid_input', `The file ${name} did not arrive whole. Try again.`);
    return { name, bytes: new Uint8Array(Buffer.from(base64, 'base64')) };
  });
}

/** A count with its noun: `1 row`, `2 rows`. */
export function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`;
}

const VALUE_SHOWN = 80;

/** The order of problems for people: by file as given, then line; very long cells are shown by their beginning. */
export function inFileOrder(
  files: readonly { name: string }[],
  problems: readonly InputProblem[],
): InputProblem[] {
  const position = new Map(files.map((file, index) => [file.name, index]));
  return problems
    .map((problem) =>
      problem.value.length > VALUE_SHOWN
        ? {
            ...problem,
            value: `${problem.value.slice(0, VALUE_SHOWN)}… (${problem.value.length} characters)`,
          }
        : problem,
    )
    .sort(
      (a, b) =>
        (position.get(a.file ?? '') ?? 0) - (position.get(b.file ?? '') ?? 0) ||
        (a.line ?? 0) - (b.line ?? 0),
    );
}

export const loadRegister: JobHandler<'register.load'> = async (context, input, hooks) => {
  const { book, clock, personId } = context;
  const files = decodeFiles(input.files);
  const problems: InputProblem[] = [];
  const csvRows: CsvRow[] = [];
  for (const [index, file] of files.entries()) {
    hooks.progress(index, files.length, `reading ${file.name}`);
    const csv = readCsv(file, input.style.encoding, known);
    problems.push(...csv.problems);
    for (const row of csv.rows) csvRows.push(row);
  }
  const existing = new Map<string, RowValues>();
  for (const row of await allRegisterRows(book.reader))
    existing.set(rowKey(row.rowClass, row.values), row.values);
  const read: OriginRow[] = [];
  let isWhole = problems.length === 0;
  for (const [index, csvRow] of csvRows.entries()) {
    if (index % 1000 === 0) {
      hooks.progress(index, csvRows.length, 'checking rows');
      if (hooks.cancelled()) throw new AppError('cancelled', 'The load was cancelled; nothing was changed.');
    }
    const { file, line } = csvRow;
    const found = readRowClass(csvRow.cells);
    if ('problem' in found) {
      problems.push({ file, line, ...found.problem });
      isWhole = false;
      continue;
    }
    const before = existing.get(rowKey(found.rowClass, trimmed(csvRow.cells))) ?? null;
    const row = readRow(found.rowClass, csvRow.cells, input.style, before);
    problems.push(...row.problems.map((problem) => ({ file, line, ...problem })));
    const { rowClass } = found;
    if (keyColumns(rowClass).some((name) => row.values[name] === undefined)) {
      isWhole = false;
      continue;
    }
    const refused = new Set(row.problems.map((problem) => problem.column));
    read.push({ rowClass, values: row.values, file, line, refused });
  }
  const index = await registerIndex(book.reader);
  const rows = withImpliedLevels(index, read);
  problems.push(...checkRows(index, rows, isWhole));
  const changes: RowChange[] = [];
  let unchanged = 0;
  for (const { rowClass, values } of rows) {
    const before = existing.get(rowKey(rowClass, values)) ?? null;
    if (before && isSameRow(rowClass, before, values)) unchanged += 1;
    else changes.push({ rowClass, values, before });
  }
  const added = changes.filter((change) => change.before === null).length;
  const report: LoadReport = {
    dryRun: input.dryRun,
    rows: csvRows.length,
    added,
    changed: changes.length - added,
    unchanged,
    problems: inFileOrder(files, problems),
    message: '',
  };
  if (problems.length > 0)
    return {
      ...report,
      added: 0,
      changed: 0,
      message: `${counted(problems.length, 'problem')}; nothing was changed.${isWhole ? '' : ' Tags and places that others name are looked up once every row can be read.'}`,
    };
  if (changes.length === 0)
    return {
      ...report,
      message: `${unchanged === 1 ? 'The one row is' : `All ${unchanged} rows are`} in the book already; nothing was changed.`,
    };
  if (input.dryRun)
    return {
      ...report,
      message: `Dry run: ${counted(report.added, 'row')} would be added and ${report.changed} changed; nothing was changed.`,
    };
  let written = 0;
  const tick = (): void => {
    written += 1;
    if (written % 100 !== 0) return;
    hooks.progress(Math.min(written, changes.length), changes.length, 'writing');
    if (hooks.cancelled()) throw new AppError('cancelled', 'The load was cancelled; nothing was changed.');
  };
  hooks.progress(0, changes.length, 'writing');
  if (hooks.cancelled()) throw new AppError('cancelled', 'The load was cancelled; nothing was changed.');
  const why = `loaded from ${files.map((file) => file.name).join(', ')}`;
  await writeBook(book, (db) => applyRows(db, changes, { at: clock.now(), personId, why, tick }));
  hooks.progress(1, 1, 'done');
  return {
    ...report,
    message: `${counted(report.added, 'row')} added, ${report.changed} changed, ${unchanged} were in the book already.`,
  };
};

function trimmed(cells: Readonly<Record<string, string>>): RowValues {
  return Object.fromEntries(Object.entries(cells).map(([name, value]) => [name, value.trim()]));
}
