/**
 * Workbooks by the library exceljs, as a stream: a sheet's rows go out as they come. The same rows make the same bytes: every
 * time that a workbook holds is the one that is given. Text stays text, whatever it begins with: no cell is ever run.
 */
import { PassThrough } from 'node:stream';
import type { Writable } from 'node:stream';
import { createRequire } from 'node:module';
import type ExcelJsModule from 'exceljs';
import { isPlainDate } from '../../shared/dates/plainDate.ts';

const load = createRequire(import.meta.url);

export type Cell = string | number | null;
export type Sheet = {
  name: string;
  /** In a column of days what is a day becomes a date of the workbook, so that it sorts, filters and reckons as one. */
  columns: readonly { title: string; width?: number; isDay?: boolean }[];
  rows: AsyncIterable<readonly (readonly Cell[])[]> | Iterable<readonly (readonly Cell[])[]>;
};

/** Excel takes no sheet of more rows, and no cell of more letters. */
export const MOST_ROWS = 1_048_575;
const MOST_LETTERS = 32_767;
const USUAL_WIDTH = 14;

type Zip = { append: (source: unknown, data: Record<string, unknown>) => unknown };
type Inside = { zip: Zip; addThemes: () => Promise<void> };

/**
 * The library is some four hundred files: it is loaded when a workbook is written, not before.
 * The zip inside notes when each part was added: that would be the only thing that differs between two of the same.
 */
function timelessWriter(target: Writable, partsAt: Date): ExcelJsModule.stream.xlsx.WorkbookWriter {
  const { WorkbookWriter } = (load('exceljs') as typeof ExcelJsModule).stream.xlsx;
  class TimelessWriter extends WorkbookWriter {
    // Called by the library before it adds the first part.
    override addThemes(): Promise<void> {
      const { zip } = this as unknown as Inside;
      const append = zip.append.bind(zip);
      zip.append = (source, data) => append(source, { ...data, date: partsAt });
      return (WorkbookWriter.prototype as unknown as Inside).addThemes.call(this);
    }
  }
  return new TimelessWriter({ stream: target, useStyles: true, useSharedStrings: false });
}

/** Workbooks count days from 1900 and take that year for a leap year: days before its March stay text. */
const FIRST_DAY = '1900-03-01';

function valueOf(cell: Cell, isDay: boolean): Cell | Date {
  if (typeof cell !== 'string') return cell;
  if (isDay && isPlainDate(cell) && cell >= FIRST_DAY) return new Date(`${cell}T00:00:00Z`);
  return cell.slice(0, MOST_LETTERS);
}

/** Writes a workbook. `at` is the time that it says it was made. A sheet that is too long is cut, and says so in its last row. */
export async function writeWorkbook(
  target: Writable,
  sheets: readonly Sheet[],
  { at, title }: { at: Date; title: string },
): Promise<void> {
  const writer = timelessWriter(target, at);
  Object.assign(writer, {
    created: at,
    modified: at,
    creator: 'Setpoint Almanac',
    lastModifiedBy: '',
    title,
  });
  for (const { name, columns, rows } of sheets) {
    const sheet = writer.addWorksheet(name, {
      views: [{ state: 'frozen', ySplit: 1 }],
      pageSetup: { orientation: 'landscape', fitToPage: true, fitToWidth: 1, fitToHeight: 0 },
    });
    sheet.columns = columns.map(({ width, isDay }) => ({
      width: width ?? USUAL_WIDTH,
      style: isDay ? { numFmt: 'yyyy-mm-dd' } : {},
    }));
    const head = sheet.addRow(columns.map((one) => one.title));
    head.font = { bold: true };
    head.commit();
    let count = 0;
    for await (const piece of rows) {
      for (const row of piece) {
        count += 1;
        if (count < MOST_ROWS)
          sheet.addRow(row.map((cell, at) => valueOf(cell, columns[at].isDay ?? false))).commit();
        else if (count === MOST_ROWS) sheet.addRow(['cut here: a sheet holds no more rows']).commit();
      }
      await new Promise((resolve) => void setImmediate(resolve));
    }
    sheet.autoFilter = {
      from: { row: 1, column: 1 },
      to: { row: 1 + Math.min(count, MOST_ROWS), column: columns.length },
    };
    sheet.commit();
  }
  await writer.commit();
}

/** A small workbook as bytes. */
export async function workbookBytes(
  sheets: readonly Sheet[],
  about: { at: Date; title: string },
): Promise<Uint8Array<ArrayBuffer>> {
  const stream = new PassThrough();
  const chunks: Buffer[] = [];
  stream.on('data', (chunk: Buffer) => chunks.push(chunk));
  await writeWorkbook(stream, sheets, about);
  return new Uint8Array(Buffer.concat(chunks));
}
