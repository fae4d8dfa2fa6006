/** The whole register as one CSV file that loads back identically. */
import type { BookDb } from '../../db/book.ts';
import { allRegisterRows } from '../../db/registerRows.ts';
import { columns } from '../../shared/register/columns.ts';
import { writeCsv } from '../csv/writeCsv.ts';

/** Bytes of register.csv: UTF-8, comma, point decimals, ISO dates, every row in its own units. */
export async function registerCsv(db: BookDb): Promise<Uint8Array<ArrayBuffer>> {
  const rows = await allRegisterRows(db);
  return writeCsv(
    columns.map((column) => column.name),
    rows.map((row) => row.values),
  );
}
