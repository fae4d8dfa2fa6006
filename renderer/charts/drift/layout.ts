/** Geometry of one setpoint's drift: as found and as left over the years, the tolerance band, the unadjusted series, two lines. */
import { scaleLinear } from 'd3-scale';
import { addDays, daysBetween, julianYearsBetween } from '../../../shared/dates/plainDate.ts';
import type { DriftSeries } from '../../../shared/contract/drift.ts';

type Point = DriftSeries['points'][number];
export type Mark = { x: number; y: number; date: string; label: string; relation: string; flagged: boolean };
export type DriftLayout = {
  found: Mark[];
  left: Mark[];
  adjustments: { x: number; from: number; to: number; label: string }[];
  replacements: { x: number; date: string }[];
  unadjusted: string[];
  theilSen: string | null;
  leastSquares: string | null;
  band: { top: number; bottom: number };
  zero: number;
  yTicks: { value: number; y: number }[];
  xTicks: { label: string; x: number }[];
  plot: { left: number; right: number; top: number; bottom: number };
};

const MARGIN = { left: 52, right: 16, top: 14, bottom: 28 };

function values(series: DriftSeries): number[] {
  const own = series.points
    .flatMap((point) => [point.foundMilli, point.leftMilli, point.unadjustedMilli])
    .filter((milli) => milli !== null);
  return [...own.map((milli) => milli / 1000), series.toleranceMilli / 1000, -series.toleranceMilli / 1000];
}

function span(points: readonly Point[]): { from: string; to: string } {
  const from = points[0]?.date ?? '2020-01-01';
  const to = points.at(-1)?.date ?? from;
  const pad = Math.max(60, Math.round(daysBetween(from, to) * 0.04));
  return { from: addDays(from, -pad), to: addDays(to, pad) };
}

/** Lays a series out in a box. A series without points gives an empty plot with its tolerance band. */
export function layoutDrift(series: DriftSeries, size: { width: number; height: number }): DriftLayout {
  const plot = {
    left: MARGIN.left,
    right: size.width - MARGIN.right,
    top: MARGIN.top,
    bottom: size.height - MARGIN.bottom,
  };
  const all = values(series);
  const y = scaleLinear([Math.min(...all) - 0.3, Math.max(...all) + 0.3], [plot.bottom, plot.top]).nice();
  const { from, to } = span(series.points);
  const x = scaleLinear([0, Math.max(1, daysBetween(from, to))], [plot.left, plot.right]);
  const at = (date: string): number => x(daysBetween(from, date));
  const mark = (point: Point, milli: number, label: string): Mark => ({
    x: at(point.date),
    y: y(milli / 1000),
    date: point.date,
    label,
    relation: label === 'as found' ? (point.foundRelation ?? '=') : '=',
    flagged: point.supplyFlagged,
  });
  const { summary } = series;
  const lineOf = (line: { slope: number; intercept: number } | null): string | null => {
    if (line === null || summary.firstOn === null) return null;
    const first = summary.firstOn;
    const last = series.points.at(-1)?.date ?? first;
    const value = (date: string): number => line.intercept + line.slope * julianYearsBetween(first, date);
    return `M${at(first)} ${y(value(first))}L${at(last)} ${y(value(last))}`;
  };
  const runs = [...new Set(series.points.map((point) => point.series))].map((run) =>
    series.points.filter((point) => point.series === run && point.unadjustedMilli !== null),
  );
  const firstYear = Number(from.slice(0, 4)) + 1;
  const lastYear = Number(to.slice(0, 4));
  const every = Math.max(1, Math.ceil((lastYear - firstYear + 1) / 12));
  return {
    found: series.points.flatMap((point) =>
      point.foundMilli === null ? [] : [mark(point, point.foundMilli, 'as found')],
    ),
    left: series.points.flatMap((point) =>
      point.leftMilli === null ? [] : [mark(point, point.leftMilli, 'as left')],
    ),
    adjustments: series.points.flatMap((point) =>
      point.foundMilli === null ||
      point.leftMilli === null ||
      point.adjustmentMilli === null ||
      point.adjustmentMilli === 0
        ? []
        : [
            {
              x: at(point.date),
              from: y(point.foundMilli / 1000),
              to: y(point.leftMilli / 1000),
              label: point.date,
            },
          ],
    ),
    replacements: series.points
      .filter((point) => point.event === 'replaced')
      .map((point) => ({ x: at(point.date), date: point.date })),
    unadjusted: runs
      .filter((run) => run.length > 1)
      .map((run) =>
        run
          .map(
            (point, index) =>
              `${index === 0 ? 'M' : 'L'}${at(point.date)} ${y((point.unadjustedMilli ?? 0) / 1000)}`,
          )
          .join(''),
      ),
    theilSen: lineOf(summary.theilSen),
    leastSquares: lineOf(summary.leastSquares),
    band: { top: y(series.toleranceMilli / 1000), bottom: y(-series.toleranceMilli / 1000) },
    zero: y(0),
    yTicks: y.ticks(6).map((value) => ({ value, y: y(value) })),
    xTicks: Array.from({ length: Math.max(0, lastYear - firstYear + 1) }, (_, index) => firstYear + index)
      .filter((_, index) => index % every === 0)
      .map((year) => ({ label: String(year), x: at(`${year}-01-01`) })),
    plot,
  };
}
