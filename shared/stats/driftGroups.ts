/**
 * Statistics of many test points together. Errors are told in tolerances (the error over its own tolerance), so that points
 * of different units may stand in one group; drift rates in tolerances a year. A bound takes part in the share found in
 * tolerance where it decides, and in nothing else. Readings with a wrong supply are left out.
 */
import { mean, median, quantile, sampleStandardDeviation } from 'simple-statistics';
import { clopperPearson, wilson } from './binomial.ts';
import { binomialQuantile } from './dist/beta.ts';
import { tQuantile } from './dist/studentT.ts';
import { ERROR_EDGES } from './errorEdges.ts';
import type { Span } from './leastSquares.ts';

/** One reading as a group counts it. */
export type GroupReading = {
  date: string;
  /** Error as found over the tolerance; null for a bound. */
  share: number | null;
  /** Null for a bound that does not decide. */
  isInside: boolean | null;
  /** Tolerances a year; null where the drift is not known. */
  rate: number | null;
  /** What it moved, where that is asked for; null where it is not known. */
  moved: Moved | null;
};

export type Moved = {
  /** Tolerances. */
  by: number;
  years: number;
  /** The main and the quarter in which it was read: what moved there moved together. */
  cell: string;
  /** Left by somebody else, or read with another gauge before. */
  isHandOver: boolean;
};

export type RateSpread = { count: number; p10: number; p25: number; p50: number; p75: number; p90: number };

export type GroupFigures = {
  readings: number;
  /** Readings whose place in or out of tolerance is known, and those of them inside. */
  known: number;
  inside: number;
  /** Limits of the share at 95 %: for the chart (Wilson), and for a statement (Clopper-Pearson). Null without a reading. */
  chart: Span | null;
  exact: Span | null;
  /** Counts between the edges: 16 bars, with what lies beyond in the first and the last. */
  bars: number[];
  medianShare: number | null;
  rates: RateSpread | null;
};

export function figuresOfGroup(readings: readonly GroupReading[]): GroupFigures {
  const last = ERROR_EDGES.length - 2;
  const [from, width] = [ERROR_EDGES[0], ERROR_EDGES[1] - ERROR_EDGES[0]];
  const bars = Array<number>(last + 1).fill(0);
  const shares: number[] = [];
  const rates: number[] = [];
  let [known, inside] = [0, 0];
  for (const { share, rate, isInside } of readings) {
    if (isInside !== null) known += 1;
    if (isInside) inside += 1;
    if (share !== null) {
      shares.push(share);
      bars[Math.min(last, Math.max(0, Math.floor((share - from) / width)))] += 1;
    }
    if (rate !== null) rates.push(rate);
  }
  return {
    readings: readings.length,
    known,
    inside,
    chart: known === 0 ? null : wilson(inside, known),
    exact: known === 0 ? null : clopperPearson(inside, known),
    bars,
    medianShare: shares.length === 0 ? null : median(shares),
    rates: spreadOf(rates),
  };
}

/** Quantiles of some rates; null of none. */
export function spreadOf(rates: number[]): RateSpread | null {
  if (rates.length === 0) return null;
  const [p10, p25, p50, p75, p90] = quantile(rates, [0.1, 0.25, 0.5, 0.75, 0.9]);
  return { count: rates.length, p10, p25, p50, p75, p90 };
}

export type FunnelPlace = 'within' | 'low' | 'high' | 'too few';

/** From so many readings on a group is compared with the others. */
export const FUNNEL_FROM = 5;

/** Chance of lying beyond each limit of the funnel: 99.8 % lie between them. */
const FUNNEL_TAIL = 0.001;

/** Shares between which chance alone puts 99.8 % of the groups of so many readings, exact (binomial). */
export function funnelLimits(known: number, overall: number): Span {
  return {
    low: binomialQuantile(FUNNEL_TAIL, known, overall) / known,
    high: 1 - binomialQuantile(FUNNEL_TAIL, known, 1 - overall) / known,
  };
}

/**
 * Where a group stands against all: beyond the limits that chance alone would give a group of its size, or within. A small
 * group has wide limits and is not punished for them.
 */
export function funnelOf(
  inside: number,
  known: number,
  overall: number,
): { place: FunnelPlace; limits: Span | null } {
  if (known < FUNNEL_FROM) return { place: 'too few', limits: null };
  const limits = funnelLimits(known, overall);
  const share = inside / known;
  // A share equal to a limit, but for rounding, lies within.
  const slack = 1e-9;
  const place = share < limits.low - slack ? 'low' : share > limits.high + slack ? 'high' : 'within';
  return { place, limits };
}

const CURVE_POINTS = 60;

/** The limits of chance for groups of every size up to the largest, for a chart. */
export function funnelCurve(
  largest: number,
  overall: number,
): { known: number; low: number; high: number }[] {
  const sizes = Array.from({ length: CURVE_POINTS }, (_, index) =>
    Math.round(FUNNEL_FROM + (largest - FUNNEL_FROM) * ((index + 1) / CURVE_POINTS) ** 2),
  );
  return [...new Set([FUNNEL_FROM, ...sizes])]
    .filter((known) => known >= FUNNEL_FROM)
    .map((known) => ({ known, ...funnelLimits(known, overall) }));
}

export type Bias = { count: number; mean: number; span: Span; isClear: boolean };

/** From so many hand-overs, in so many quarters of mains, on a difference is told. */
export const BIAS_FROM = { handOvers: 8, cells: 5 } as const;

export type CellSum = { by: number; years: number; count: number };

/** Sums of what moved, by main and quarter. */
export function cellSums(readings: readonly GroupReading[]): Map<string, CellSum> {
  const sums = new Map<string, CellSum>();
  for (const { moved } of readings) {
    if (moved === null) continue;
    const held = sums.get(moved.cell) ?? { by: 0, years: 0, count: 0 };
    held.by += moved.by;
    held.years += moved.years;
    held.count += 1;
    sums.set(moved.cell, held);
  }
  return sums;
}

/**
 * How a reader or a gauge differs from the others, in tolerances: what moved where it read what another had left, less what
 * such a time moves anything by, less the same of what others read on that main in that quarter, where they did. Drifts of
 * one main in one quarter share its shift, so each such cell counts once, and the limits (95 %) are of the cells' means.
 * `all`: sums of every reader. `isClear` where the limits leave zero out. Null with too few.
 */
export function biasOf(readings: readonly GroupReading[], all: ReadonlyMap<string, CellSum>): Bias | null {
  const handOvers = readings.filter(({ moved }) => moved?.isHandOver);
  const own = cellSums(readings);
  const cells = cellSums(handOvers);
  if (handOvers.length < BIAS_FROM.handOvers || cells.size < BIAS_FROM.cells) return null;
  const total = [...all.values()].reduce((sum, one) => ({
    by: sum.by + one.by,
    years: sum.years + one.years,
    count: 0,
  }));
  const rate = total.years === 0 ? 0 : total.by / total.years;
  const differences = [...cells].map(([cell, { by, years, count }]) => {
    const [everyone, mine] = [all.get(cell), own.get(cell)];
    const others = (everyone?.count ?? 0) - (mine?.count ?? 0);
    const shared =
      everyone === undefined || mine === undefined || others === 0
        ? 0
        : (everyone.by - mine.by - rate * (everyone.years - mine.years)) / others;
    return (by - rate * years) / count - shared;
  });
  const middle = mean(differences);
  const half =
    (tQuantile(0.975, differences.length - 1) * sampleStandardDeviation(differences)) /
    Math.sqrt(differences.length);
  const span = { low: middle - half, high: middle + half };
  return { count: handOvers.length, mean: middle, span, isClear: span.low > 0 || span.high < 0 };
}

export type CommonShift = { main: string; round: string; count: number; median: number };

/** From so many drifts on a main's common shift is told: fewer are no crowd. */
export const COMMON_FROM = 5;

/**
 * Median drift of the points of one main in one quarter of a year, in tolerances: what many share is not their own. `drifts`
 * by main and quarter.
 */
export function commonShifts(drifts: ReadonlyMap<string, ReadonlyMap<string, number[]>>): CommonShift[] {
  return [...drifts]
    .flatMap(([main, rounds]) =>
      [...rounds].flatMap(([round, moved]): CommonShift[] =>
        moved.length < COMMON_FROM ? [] : [{ main, round, count: moved.length, median: median(moved) }],
      ),
    )
    .toSorted((a, b) =>
      a.round === b.round ? a.main.localeCompare(b.main) : a.round.localeCompare(b.round),
    );
}

export type Comparison = {
  before: { known: number; inside: number };
  after: { known: number; inside: number };
  difference: number;
  span: Span;
};

/** Shares of two periods and their difference, with 95 % limits from Wilson's (Newcombe 1998, method 10, from memory). */
export function compareShares(
  before: { known: number; inside: number },
  after: { known: number; inside: number },
): Comparison | null {
  if (before.known === 0 || after.known === 0) return null;
  const [p1, p2] = [before.inside / before.known, after.inside / after.known];
  const [one, two] = [wilson(before.inside, before.known), wilson(after.inside, after.known)];
  const difference = p2 - p1;
  return {
    before: { known: before.known, inside: before.inside },
    after: { known: after.known, inside: after.inside },
    difference,
    span: {
      low: difference - Math.hypot(p2 - two.low, one.high - p1),
      high: difference + Math.hypot(two.high - p2, p1 - one.low),
    },
  };
}
