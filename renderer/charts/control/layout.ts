/** Geometry of an individuals chart: values in order, centre, limits, and the values at which a rule fires. */
import { scaleLinear } from 'd3-scale';
import type { DriftStatistics } from '../../../shared/stats/driftStatistics.ts';

export type ControlLayout = {
  marks: { x: number; y: number; value: number; isSignal: boolean }[];
  path: string;
  centre: number;
  upper: number;
  lower: number;
  yTicks: { value: number; y: number }[];
  /** With as many decimals as the steps need. */
  tickText: (value: number) => string;
  plot: { left: number; right: number; top: number; bottom: number };
};

/** Lays the values out in a box. */
export function layoutControl(
  chart: NonNullable<DriftStatistics['control']>,
  size: { width: number; height: number },
): ControlLayout {
  const plot = { left: 52, right: size.width - 16, top: 12, bottom: size.height - 24 };
  const all = [...chart.values, chart.upper, chart.lower];
  const [least, most] = [Math.min(...all), Math.max(...all)];
  const pad = Math.max(0.1, 0.1 * (most - least));
  const y = scaleLinear([least - pad, most + pad], [plot.bottom, plot.top]);
  const step = (plot.right - plot.left) / (chart.values.length + 1);
  const marks = chart.values.map((value, index) => ({
    x: plot.left + step * (index + 1),
    y: y(value),
    value,
    isSignal: chart.signals.some(({ at }) => at === index),
  }));
  return {
    marks,
    path: marks.map(({ x, y: at }, index) => `${index === 0 ? 'M' : 'L'}${x} ${at}`).join(''),
    centre: y(chart.centre),
    upper: y(chart.upper),
    lower: y(chart.lower),
    yTicks: y.ticks(5).map((value) => ({ value, y: y(value) })),
    tickText: y.tickFormat(5),
    plot,
  };
}
