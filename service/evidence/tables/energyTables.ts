/** energy_ranking.csv and energy.csv: what drifted setpoints and faults cost, and the bills. */
import type { BookDb } from '../../../db/book.ts';
import { energyBills } from '../../../db/energy.ts';
import type { EnergyAmounts, EnergyRanking } from '../../../shared/contract/energy.ts';
import type { CsvRows } from '../packWriter.ts';
import { figure, inPieces, milli, once } from './cells.ts';
import type { Cells } from './cells.ts';

const bandNames = ['low', 'central', 'high'] as const;
const amountNames = {
  degreeHours: 'degF_h',
  therms: 'therms',
  kwh: 'kwh',
  money: 'money',
} as const satisfies Record<keyof EnergyAmounts, string>;
const amountColumns = (before: string): string[] =>
  Object.values(amountNames).flatMap((name) => bandNames.map((end) => `${before}_${name}_${end}`));

export const rankingColumns = [
  'rank',
  'kind',
  'asset',
  'role',
  'building',
  'main',
  'error_degF',
  'outside_tolerance',
  ...amountColumns('alone'),
  ...amountColumns('in_order'),
  'period_degF_h',
  'period_therms',
  'period_known_days',
  'minutes',
  'method',
  'base',
  'confidence',
  'what',
];

function amountCells(before: string, amounts: EnergyAmounts): Cells {
  const cells: Cells = {};
  for (const [key, name] of Object.entries(amountNames) as [keyof EnergyAmounts, string][]) {
    const band = amounts[key];
    if (band) for (const end of bandNames) cells[`${before}_${name}_${end}`] = figure(band[end]);
  }
  return cells;
}

/** One row an entry of the ranking; `alone`: a year of it by itself, `in_order`: after what stands before it was mended. */
export function rankingTable({ entries }: EnergyRanking): CsvRows {
  return inPieces(entries, (entry) => [
    {
      rank: String(entry.rank),
      kind: entry.kind,
      asset: entry.tag,
      role: entry.role,
      building: entry.building ?? '',
      main: entry.main ?? '',
      error_degF: entry.errorDegF === null ? '' : figure(entry.errorDegF),
      outside_tolerance: entry.isOutside === null ? '' : entry.isOutside ? 'yes' : 'no',
      ...amountCells('alone', entry.alone),
      ...amountCells('in_order', entry.inOrder),
      period_degF_h: entry.period === null ? '' : figure(entry.period.degreeHours),
      period_therms: entry.period?.therms == null ? '' : figure(entry.period.therms),
      period_known_days: entry.period === null ? '' : String(entry.period.knownDays),
      minutes: entry.minutes === null ? '' : String(entry.minutes),
      method: entry.method,
      base: entry.base,
      confidence: entry.confidence,
      what: entry.words,
    },
  ]);
}

export const billColumns = ['meter', 'month', 'use', 'unit', 'cost'];

/** energy.csv: the bills as they were loaded; `energy bills load` takes them. */
export async function billTable(
  db: BookDb,
  days: { from: string | null; to: string | null },
): Promise<CsvRows> {
  const isIn = (month: string): boolean =>
    (days.from === null || month >= days.from.slice(0, 7)) &&
    (days.to === null || month <= days.to.slice(0, 7));
  return once(
    (await energyBills(db))
      .filter(({ month }) => isIn(month))
      .map(({ meter, month, use_milli, unit, cost_milli }) => ({
        meter,
        month,
        use: milli(use_milli),
        unit,
        cost: milli(cost_milli),
      })),
  );
}
