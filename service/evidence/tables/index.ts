/** The tables of a pack that are not records: each a CSV file, most of them a sheet of the workbook as well. */
import type { BookDb } from '../../../db/book.ts';
import type { EnergyRanking } from '../../../shared/contract/energy.ts';
import type { RetrofitQuantities } from '../../../shared/contract/retrofit.ts';
import { columns as registerColumns } from '../../../shared/register/columns.ts';
import { seriesColumns, seriesRows } from '../driftTable.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';
import { leakColumns, leakTable, stationColumns, stationTable } from './airTables.ts';
import { billColumns, billTable, rankingColumns, rankingTable } from './energyTables.ts';
import { eventColumns, eventTable } from './eventTable.ts';
import { intendedColumns, intendedTable } from './intendedTable.ts';
import { assetColumns, assetTable, registerTable } from './registerTables.ts';
import {
  actuatorColumns,
  actuatorTable,
  partColumns,
  retrofitColumns,
  retrofitTable,
} from './retrofitTables.ts';

export type PackTable = {
  file: string;
  /** Of the workbook; null: too long for one, or of no use to people. */
  sheet: string | null;
  columns: readonly string[];
  /** Columns whose cells are numbers in the workbook. */
  figures: readonly string[];
  /** The rows, from the first: asked for once a file. */
  rows: () => Promise<CsvRows> | CsvRows;
};

const isQuantity = new Set(['pressure', 'temperature', 'temperature difference', 'decimal', 'integer']);

export function siteTables(
  db: BookDb,
  resolved: Resolved,
  { energy, retrofit }: { energy: EnergyRanking; retrofit: RetrofitQuantities },
): PackTable[] {
  return [
    {
      file: 'register.csv',
      sheet: 'Register',
      columns: registerColumns.map(({ name }) => name),
      figures: registerColumns.filter(({ kind }) => isQuantity.has(kind)).map(({ name }) => name),
      rows: async () => registerTable(db, resolved),
    },
    {
      file: 'assets.csv',
      sheet: 'Assets',
      columns: assetColumns,
      figures: ['steady_air_use_scim', 'open_follow_ups'],
      rows: async () => assetTable(db, resolved),
    },
    {
      file: 'setpoints.csv',
      sheet: 'Intended values',
      columns: intendedColumns,
      figures: ['value'],
      rows: async () => intendedTable(db, resolved),
    },
    {
      file: 'series.csv',
      sheet: 'Drift',
      columns: seriesColumns,
      figures: seriesColumns.filter(
        (name) =>
          !['asset', 'test_point', 'role', 'unit', 'first_on', 'last_on', 'adjusted', 'trend'].includes(name),
      ),
      rows: () => seriesRows(db, resolved),
    },
    {
      file: 'events.csv',
      sheet: 'Events',
      columns: eventColumns,
      figures: ['count'],
      rows: async () => eventTable(db, resolved),
    },
    {
      file: 'leaks.csv',
      sheet: 'Leaks',
      columns: leakColumns,
      figures: ['diameter', 'pressure', 'coefficient', 'flow_low_scfm', 'flow_scfm', 'flow_high_scfm'],
      rows: async () => leakTable(db, resolved),
    },
    {
      file: 'air_station.csv',
      sheet: 'Air stations',
      columns: stationColumns,
      figures: ['value', 'flow_scfm', 'run_share'],
      rows: async () => stationTable(db, resolved),
    },
    {
      file: 'energy_ranking.csv',
      sheet: 'Energy ranking',
      columns: rankingColumns,
      figures: rankingColumns.filter((name) => /^(rank|error|alone|in_order|period|minutes)/u.test(name)),
      rows: () => rankingTable(energy),
    },
    {
      file: 'energy.csv',
      sheet: 'Bills',
      columns: billColumns,
      figures: ['use', 'cost'],
      rows: async () => billTable(db, resolved.scope),
    },
    {
      file: 'actuators.csv',
      sheet: 'Actuators',
      columns: actuatorColumns,
      figures: ['spring_start_psi', 'spring_end_psi', 'measured_start_psi', 'measured_end_psi'],
      rows: () => actuatorTable(retrofit),
    },
    {
      file: 'retrofit.csv',
      sheet: 'Retrofit',
      columns: retrofitColumns,
      figures: ['units', 'actuators', ...partColumns],
      rows: () => retrofitTable(retrofit),
    },
  ];
}
