/** A file of bills: `meter`, `month` (YYYY-MM), `use`, `unit` (therm or kWh), `cost` or empty. One row a meter and month. */
import type { InputProblem } from '../../shared/contract/errors.ts';
import { parseMilli } from '../../shared/units/units.ts';
import { readCsv } from '../csv/readCsv.ts';
import type { CsvFile } from '../csv/readCsv.ts';

export type Bill = {
  meter: string;
  month: string;
  use_milli: number;
  unit: 'therm' | 'kWh';
  cost_milli: number | null;
  /** Of the file. */
  line: number;
};

const MOST = 1_000_000_000;
const columns = new Set(['meter', 'month', 'use', 'unit', 'cost']);
const isUnit = (text: string): text is Bill['unit'] => text === 'therm' || text === 'kWh';

export function readBills(file: CsvFile): { bills: Bill[]; problems: InputProblem[] } {
  const csv = readCsv(file, 'utf-8', columns);
  const problems = [...csv.problems];
  const bills: Bill[] = [];
  const seen = new Map<string, number>();
  for (const { cells, line } of csv.rows) {
    const before = problems.length;
    const refuse = (column: string, reason: string): void =>
      void problems.push({ file: file.name, line, column, value: cells[column] ?? '', reason });
    const text = (column: string): string => cells[column]?.trim() ?? '';
    const amount = (column: string, isMust: boolean): number | null => {
      if (text(column) === '' && !isMust) return null;
      const milli = parseMilli(text(column));
      if (milli === null || milli < 0 || milli > MOST * 1000)
        refuse(column, `a figure from 0 to ${MOST}, with a point and up to three decimals`);
      return milli;
    };
    if (text('meter') === '' || text('meter').length > 60) refuse('meter', 'a name of 1 to 60 characters');
    if (!/^\d{4}-(0[1-9]|1[0-2])$/u.test(text('month'))) refuse('month', 'not a month of the form YYYY-MM');
    const unit = text('unit');
    if (!isUnit(unit)) refuse('unit', 'therm or kWh');
    const [use, cost] = [amount('use', true), amount('cost', false)];
    const key = `${text('meter')} ${text('month')}`;
    const first = seen.get(key);
    if (first !== undefined) refuse('month', `this meter has this month on line ${first} already`);
    seen.set(key, line);
    if (problems.length === before && isUnit(unit) && use !== null)
      bills.push({
        meter: text('meter'),
        month: text('month'),
        use_milli: use,
        unit,
        cost_milli: cost,
        line,
      });
  }
  return { bills, problems };
}
