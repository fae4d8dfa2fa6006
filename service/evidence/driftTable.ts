/** drift.csv: what each visit says of drift, by the rules of docs/drift.md, and each series with its slope. */
import type { BookDb } from '../../db/book.ts';
import { driftPointsQuery, everywhere } from '../../db/driftPoints.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { formatMilli } from '../../shared/units/units.ts';
import { historiesByStretch } from '../drift/walk.ts';
import type { Walked } from '../drift/walk.ts';
import type { CsvRows } from './packWriter.ts';
import type { Resolved } from './scope.ts';
import { boundText, milli } from './tables/cells.ts';
import { ucumOfDifference } from './units.ts';

export const driftColumns = [
  'asset',
  'test_point',
  'role',
  'record_id',
  'observed_on',
  'unit',
  'series',
  'event',
  'supply_flagged',
  'reexpressed',
  'error_found',
  'found_relation',
  'error_left',
  'carried',
  'adjustment',
  'days',
  'drift',
  'rate_per_year',
  'unadjusted',
] as const;

export const seriesColumns = [
  'asset',
  'test_point',
  'role',
  'unit',
  'tolerance',
  'newest_series',
  'readings',
  'bounds',
  'first_on',
  'last_on',
  'adjusted',
  'median_slope_per_year',
  'slope_low',
  'slope_high',
  'rate_between_adjustments',
  'trend',
  'trend_p',
  'standing',
] as const;

/** Nine significant digits. */
const figure = (value: number | null | undefined): string =>
  value == null || !Number.isFinite(value) ? '' : String(Number(value.toPrecision(9)));

/** What lies after the scope is not known to it; what lies before is, or its first drift would be lost. */
async function* walked(db: BookDb, { pointIds, scope }: Resolved): AsyncGenerator<Walked[]> {
  const rows = (await driftPointsQuery(db, everywhere).execute()).filter(
    ({ id }) => pointIds === null || pointIds.has(id),
  );
  yield* historiesByStretch(db, rows, { upTo: scope.to });
}

/** One row a visit that counts, corrected records left out; those of the scope's days. */
export async function* driftRows(db: BookDb, resolved: Resolved): CsvRows {
  const { from } = resolved.scope;
  for await (const piece of walked(db, resolved))
    yield piece.flatMap(({ row, records, points }) =>
      points.flatMap((point, index) =>
        from !== null && point.date < from
          ? []
          : [
              {
                asset: row.tag,
                test_point: row.kind,
                role: row.role,
                record_id: String(records[index].id),
                observed_on: point.date,
                unit: ucumOfDifference(row.unit),
                series: point.isBeforeService ? '' : String(point.series),
                event: point.event === 'none' ? '' : point.event,
                supply_flagged: point.supplyFlagged ? 'yes' : '',
                reexpressed: point.reexpressedMilli === 0 ? '' : formatMilli(point.reexpressedMilli),
                error_found: milli(point.found?.milli ?? null),
                found_relation: boundText(point.found?.relation),
                error_left: milli(point.leftMilli),
                carried: milli(point.carriedMilli),
                adjustment: milli(point.adjustmentMilli),
                days: point.days === null ? '' : String(point.days),
                drift: milli(point.driftMilli),
                rate_per_year: figure(point.ratePerYear),
                unadjusted: milli(point.unadjustedMilli),
              },
            ],
      ),
    );
}

/** One row a test point: its newest series. */
export async function* seriesRows(db: BookDb, resolved: Resolved): CsvRows {
  for await (const piece of walked(db, resolved))
    yield piece.map(({ row, points, side, toleranceMilli: tolerance }) => {
      const statistics = driftStatistics(points, tolerance, { side });
      const { median, rate, kendall, isAdjusted, standing } = statistics;
      return {
        asset: row.tag,
        test_point: row.kind,
        role: row.role,
        unit: ucumOfDifference(row.unit),
        tolerance: formatMilli(tolerance),
        newest_series: String(statistics.series),
        readings: String(statistics.count),
        bounds: String(statistics.bounds),
        first_on: statistics.firstOn ?? '',
        last_on: statistics.lastOn ?? '',
        adjusted: isAdjusted ? 'yes' : 'no',
        median_slope_per_year: figure(median?.slope),
        slope_low: figure(median?.span?.low),
        slope_high: figure(median?.span?.high),
        rate_between_adjustments: isAdjusted ? figure(rate?.rate) : '',
        trend: statistics.trend ?? '',
        trend_p: figure(kendall?.exactP ?? kendall?.p),
        standing: figure(standing),
      };
    });
}
