/** Geometry of one quantity over the years: readings, their median line, and the limit that they shall stay within. */
import { scaleLinear } from 'd3-scale';
import { addDays, daysBetween } from '../../../shared/dates/plainDate.ts';
import type { StationTrend } from '../../../shared/contract/stations.ts';

export type TrendLayout = {
  marks: { x: number; y: number; date: string; value: number; from: 'card' | 'test'; isFresh: boolean }[];
  line: { x: number; y: number }[] | null;
  /** Null where there is none, or where it lies so far off that it would press the readings flat. */
  limit: number | null;
  yTicks: { value: number; y: number }[];
  tickText: (value: number) => string;
  xTicks: { label: string; x: number }[];
  plot: { left: number; right: number; top: number; bottom: number };
};

const MOST_YEARS = 5;
/** A limit further off than so many times the spread of the readings is told in words only. */
const FAR = 6;

/** Lays a trend with at least one reading out in a box. */
export function layoutTrend(
  { points, line, limit }: Pick<StationTrend, 'points' | 'line' | 'limit'>,
  size: { width: number; height: number },
): TrendLayout {
  const plot = { left: 44, right: size.width - 10, top: 10, bottom: size.height - 22 };
  const values = points.map(({ value }) => value);
  const [least, most] = [Math.min(...values), Math.max(...values)];
  const spread = Math.max(most - least, Math.abs(most) / 20, 0.01);
  const isNear = limit !== null && limit.value <= most + FAR * spread && limit.value >= least - FAR * spread;
  const all = [...values, ...(isNear ? [limit.value] : []), ...(line ?? []).map(({ value }) => value)];
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const pad = Math.max((high - low) * 0.08, spread * 0.1);
  const y = scaleLinear([low - pad, high + pad], [plot.bottom, plot.top]);
  const from = points[0].date;
  const last = [points[points.length - 1].date, line?.at(-1)?.date ?? from].toSorted().at(-1) ?? from;
  const margin = Math.max(30, Math.round(daysBetween(from, last) * 0.03));
  const [start, end] = [addDays(from, -margin), addDays(last, margin)];
  const x = scaleLinear([0, daysBetween(start, end)], [plot.left, plot.right]);
  const at = (date: string): number => x(daysBetween(start, date));
  const years = Array.from(
    { length: Number(end.slice(0, 4)) - Number(start.slice(0, 4)) },
    (_, index) => Number(start.slice(0, 4)) + 1 + index,
  );
  const every = Math.max(1, Math.ceil(years.length / MOST_YEARS));
  return {
    marks: points.map((point) => ({ ...point, x: at(point.date), y: y(point.value) })),
    line: line?.map(({ date, value }) => ({ x: at(date), y: y(value) })) ?? null,
    limit: isNear ? y(limit.value) : null,
    yTicks: y.ticks(4).map((value) => ({ value, y: y(value) })),
    tickText: y.tickFormat(4),
    xTicks: years
      .filter((_, index) => index % every === 0)
      .map((year) => ({ label: String(year), x: at(`${year}-01-01`) })),
    plot,
  };
}
