/** Geometry of a funnel: share found in tolerance against how many readings it rests on, between limits of chance. */
import { scaleLinear } from 'd3-scale';
import type { DriftGroup } from '../../../shared/contract/drift.ts';

export type FunnelMark = {
  key: string;
  x: number;
  y: number;
  place: DriftGroup['funnel']['place'];
  /** Which side its name stands on, and at what height: names that would cover each other are moved apart. */
  anchor: 'start' | 'end';
  labelY: number;
};

export type FunnelLayout = {
  marks: FunnelMark[];
  overall: number;
  /** Limits of chance by size, as two lines. */
  upper: string;
  lower: string;
  xTicks: { value: number; x: number }[];
  yTicks: { value: number; y: number }[];
  plot: { left: number; right: number; top: number; bottom: number };
};

const LABEL = { height: 13, width: 130 };

/** Names from the top down, each below those that it would cover. */
function apart(marks: readonly FunnelMark[], bottom: number): FunnelMark[] {
  const placed: FunnelMark[] = [];
  for (const mark of marks.toSorted((a, b) => a.labelY - b.labelY)) {
    let { labelY } = mark;
    for (const other of placed)
      if (Math.abs(other.x - mark.x) < LABEL.width && Math.abs(other.labelY - labelY) < LABEL.height)
        labelY = Math.min(bottom, other.labelY + LABEL.height);
    placed.push({ ...mark, labelY });
  }
  return placed;
}

export type Funnel = {
  groups: readonly DriftGroup[];
  funnel: readonly { known: number; low: number; high: number }[];
  overall: number;
};

/** Lays groups out; those without a known reading are left out. */
export function layoutFunnel(
  { groups, funnel, overall }: Funnel,
  size: { width: number; height: number },
): FunnelLayout {
  const plot = { left: 52, right: size.width - 20, top: 14, bottom: size.height - 34 };
  const known = groups.filter((group) => group.known > 0);
  const most = Math.max(10, ...known.map((group) => group.known)) * 1.08;
  const shares = known.map((group) => group.inside / group.known);
  const least = Math.max(0, Math.min(overall, ...shares) - 0.05);
  const x = scaleLinear([0, most], [plot.left, plot.right]);
  const y = scaleLinear([Math.min(least, 0.98), 1], [plot.bottom, plot.top]);
  const limit = (side: 'low' | 'high'): string =>
    funnel
      // What lies below the plot is not drawn along its edge.
      .filter((one) => one[side] >= y.domain()[0])
      .map((one, index) => `${index === 0 ? 'M' : 'L'}${x(one.known)} ${y(one[side])}`)
      .join('');
  return {
    marks: apart(
      known.map((group) => ({
        key: group.key,
        x: x(group.known),
        y: y(group.inside / group.known),
        labelY: y(group.inside / group.known) - 6,
        place: group.funnel.place,
        anchor: group.known > most * 0.8 ? 'end' : 'start',
      })),
      plot.bottom,
    ),
    overall: y(overall),
    upper: limit('high'),
    lower: limit('low'),
    xTicks: x.ticks(6).map((value) => ({ value, x: x(value) })),
    yTicks: y.ticks(5).map((value) => ({ value, y: y(value) })),
    plot,
  };
}
