/**
 * Geometry of one test point's drift: as found and as left over the years, the tolerance of each day, the action limit, the
 * series as if never adjusted, two lines with their limits, and when it leaves tolerance.
 */
import { scaleLinear } from 'd3-scale';
import { addDays, daysBetween, julianYearsBetween } from '../../../shared/dates/plainDate.ts';
import { limitMilli } from '../../../shared/stats/driftSeries.ts';
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
  /** Outlines of where the line lies, and of where the next reading will. */
  meanBand: string | null;
  readingBand: string | null;
  /** Tolerance of the day, from one visit to the next. */
  bands: { x: number; width: number; top: number; bottom: number }[];
  actions: number[];
  /** Where it leaves tolerance, if that lies within the plot. */
  leaving: { x: number; label: string } | null;
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
  const widest =
    Math.max(series.actionLimitMilli, ...series.points.map((one) => one.toleranceMilli ?? 0)) / 1000;
  const known = [...own.map((milli) => milli / 1000), widest, -widest];
  // The limits of a forecast are shown as far as twice what was read: beyond, they would press everything else flat.
  const most = 2 * Math.max(...known.map(Math.abs));
  const ahead = series.statistics.band
    .flatMap(({ line, reading }) => [line, reading?.low ?? line, reading?.high ?? line])
    .map((value) => Math.min(most, Math.max(-most, value)));
  return [...known, ...ahead];
}

function span(series: DriftSeries): { from: string; to: string } {
  const { points, statistics } = series;
  const from = points[0]?.date ?? '2020-01-01';
  const last = points.at(-1)?.date ?? from;
  const ahead = statistics.band.at(-1)?.date ?? last;
  const reach = addDays(last, Math.round(daysBetween(from, last) / 2));
  const { leaving } = statistics;
  const leaves = leaving.kind === 'dated' && leaving.on !== null && leaving.on <= reach ? leaving.on : last;
  const to = [ahead, last, leaves].toSorted().at(-1) ?? last;
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
  const { from, to } = span(series);
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
  const { statistics } = series;
  const { firstOn, band } = statistics;
  const clamped = (value: number): number => Math.min(plot.bottom, Math.max(plot.top, y(value)));
  const lineOf = (line: { slope: number; intercept: number } | null): string | null => {
    if (line === null || firstOn === null) return null;
    const last = band.at(-1)?.date ?? statistics.lastOn ?? firstOn;
    const value = (date: string): number => line.intercept + line.slope * julianYearsBetween(firstOn, date);
    return `M${at(firstOn)} ${y(value(firstOn))}L${at(last)} ${y(value(last))}`;
  };
  const outlineOf = (of: 'mean' | 'reading'): string | null => {
    const there = band.flatMap((one) => {
      const limits = one[of];
      return limits === null
        ? []
        : [{ x: at(one.date), low: clamped(limits.low), high: clamped(limits.high) }];
    });
    if (there.length < 2) return null;
    const upper = there.map(({ x: where, high }) => `${where} ${high}`);
    const lower = there.toReversed().map(({ x: where, low }) => `${where} ${low}`);
    return `M${[...upper, ...lower].join('L')}Z`;
  };
  const bandAt = (left: number, right: number, toleranceMilli: number) => ({
    x: left,
    width: Math.max(0, right - left),
    top: y(limitMilli(toleranceMilli, series.statistics.side) / 1000),
    bottom: series.statistics.side === 'above' ? plot.bottom : y(-toleranceMilli / 1000),
  });
  const tolerances = series.points.map((point, index) => {
    const next = series.points[index + 1];
    return bandAt(
      index === 0 ? plot.left : at(point.date),
      next ? at(next.date) : plot.right,
      point.toleranceMilli ?? series.toleranceMilli,
    );
  });
  const { leaving } = statistics;
  const leavesAt = leaving.kind === 'dated' && leaving.on !== null ? at(leaving.on) : null;
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
    theilSen: lineOf(statistics.median),
    leastSquares: lineOf(statistics.fit),
    meanBand: outlineOf('mean'),
    readingBand: outlineOf('reading'),
    bands: tolerances.length === 0 ? [bandAt(plot.left, plot.right, series.toleranceMilli)] : tolerances,
    actions:
      series.actionLimitMilli > series.toleranceMilli
        ? [
            series.actionLimitMilli,
            ...(series.statistics.side === 'above' ? [] : [-series.actionLimitMilli]),
          ].map((milli) => y(milli / 1000))
        : [],
    leaving:
      leaving.kind === 'dated' && leavesAt !== null && leavesAt <= plot.right && leavesAt >= plot.left
        ? { x: leavesAt, label: `leaves about ${leaving.on}` }
        : null,
    zero: y(0),
    yTicks: y.ticks(6).map((value) => ({ value, y: y(value) })),
    xTicks: Array.from({ length: Math.max(0, lastYear - firstYear + 1) }, (_, index) => firstYear + index)
      .filter((_, index) => index % every === 0)
      .map((year) => ({ label: String(year), x: at(`${year}-01-01`) })),
    plot,
  };
}
