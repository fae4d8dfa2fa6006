/** Geometry of the month bars: what falls due by month, the late ones stacked below in the first month. */
import { scaleLinear } from 'd3-scale';

export type MonthDatum = { month: string; count: number; late: number };
export type Bar = {
  month: string;
  label: string;
  x: number;
  width: number;
  y: number;
  height: number;
  lateHeight: number;
  total: number;
};
export type MonthLayout = {
  bars: Bar[];
  ticks: { value: number; y: number }[];
  width: number;
  height: number;
  baseline: number;
};

const MARGIN = { left: 44, right: 8, top: 18, bottom: 26 };
const names = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** Bars for the months given, left to right; an empty list gives no bars. */
export function layoutMonths(
  data: readonly MonthDatum[],
  size: { width: number; height: number },
): MonthLayout {
  const baseline = size.height - MARGIN.bottom;
  const most = Math.max(1, ...data.map((datum) => datum.count + datum.late));
  const y = scaleLinear([0, most], [baseline, MARGIN.top]).nice(4);
  const step = data.length === 0 ? 0 : (size.width - MARGIN.left - MARGIN.right) / data.length;
  return {
    ...size,
    baseline,
    ticks: y
      .ticks(4)
      .filter((value) => Number.isInteger(value))
      .map((value) => ({ value, y: y(value) })),
    bars: data.map((datum, index) => {
      const total = datum.count + datum.late;
      const month = Number(datum.month.slice(5, 7)) - 1;
      return {
        month: datum.month,
        label: `${names[month]}${index === 0 || month === 0 ? ` ${datum.month.slice(2, 4)}` : ''}`,
        x: MARGIN.left + index * step + step * 0.15,
        width: step * 0.7,
        y: y(total),
        height: baseline - y(total),
        lateHeight: baseline - y(datum.late),
        total,
      };
    }),
  };
}
