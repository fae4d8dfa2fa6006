import { z } from 'zod';
import type { DriftStatistics } from '../stats/driftStatistics.ts';
import { groupKeys } from '../stats/groupKeys.ts';
import { airState, milli, plainDate, relation, rowId, unit } from './common.ts';
import { job, query } from './define.ts';

export const driftPoint = z.object({
  calibrationId: rowId,
  date: z.string(),
  foundMilli: milli.nullable(),
  foundRelation: relation.nullable(),
  leftMilli: milli.nullable(),
  adjustmentMilli: milli.nullable(),
  event: z.enum(['none', 'replaced', 'changed']),
  supplyFlagged: z.boolean(),
  /** By how much an older error was moved to be told on the newest calibration pressure or gain. */
  reexpressedMilli: milli,
  /** What the next drift counts from, on the basis of what follows; null where it counts from nothing. */
  carriedMilli: milli.nullable(),
  nominalChanged: z.boolean(),
  isBeforeService: z.boolean(),
  series: z.number().int(),
  days: z.number().int().nullable(),
  driftMilli: milli.nullable(),
  /** The supply was wrong at either end of the drift. */
  driftFlagged: z.boolean(),
  ratePerYear: z.number().nullable(),
  cumulativeMilli: milli.nullable(),
  unadjustedMilli: milli.nullable(),
  /** Tolerance of the day, as the record keeps it; null where it keeps none. */
  toleranceMilli: milli.nullable(),
  person: z.string(),
  outcome: z.string(),
});

export const driftSeries = z.object({
  testPointId: rowId,
  deviceId: rowId,
  tag: z.string(),
  kind: z.string(),
  role: z.string(),
  airState: airState.nullable(),
  unit,
  toleranceMilli: milli,
  actionLimitMilli: milli,
  points: z.array(driftPoint),
  statistics: z.custom<DriftStatistics>((value) => typeof value === 'object' && value !== null),
  /** What may be said by the number of readings, in one sentence. */
  said: z.string(),
  outside: z.number().int(),
  known: z.number().int(),
});
export type DriftSeries = z.infer<typeof driftSeries>;

const span = z.object({ low: z.number(), high: z.number() });
const counts = z.object({ known: z.number().int(), inside: z.number().int() });
const period = z.object({ from: plainDate, to: plainDate });

/** Shares and limits are of as-found values in tolerance; errors and rates are told in tolerances, a year for rates. */
const groupFigures = {
  readings: z.number().int(),
  known: z.number().int(),
  inside: z.number().int(),
  chart: span.nullable(),
  exact: span.nullable(),
  bars: z.array(z.number().int()),
  medianShare: z.number().nullable(),
  rates: z
    .object({
      count: z.number().int(),
      p10: z.number(),
      p25: z.number(),
      p50: z.number(),
      p75: z.number(),
      p90: z.number(),
    })
    .nullable(),
};
const compared = z.object({ before: counts, after: counts, difference: z.number(), span }).nullable();

export const driftGroup = z.object({
  key: z.string(),
  testPoints: z.number().int(),
  ...groupFigures,
  funnel: z.object({
    place: z.enum(['within', 'low', 'high', 'too few']),
    limits: span.nullable(),
  }),
  /** How a reader or a gauge differs at hand-overs; null for other groups, and with too few. */
  bias: z.object({ count: z.number().int(), mean: z.number(), span, isClear: z.boolean() }).nullable(),
  compared,
});
export type DriftGroup = z.infer<typeof driftGroup>;

export const driftGroups = z.object({
  by: z.enum(groupKeys),
  testPoints: z.number().int(),
  records: z.number().int(),
  overall: z.object(groupFigures),
  /** Limits of chance for groups of so many readings. */
  funnel: z.array(z.object({ known: z.number().int(), low: z.number(), high: z.number() })),
  groups: z.array(driftGroup),
  /** Median drift of the points of a main in a quarter: what many share is not their own. */
  common: z.array(
    z.object({ main: z.string(), round: z.string(), count: z.number().int(), median: z.number() }),
  ),
  /** The newest as-found values furthest out, in tolerances. */
  worst: z.array(
    z.object({
      testPointId: rowId,
      deviceId: rowId,
      tag: z.string(),
      kind: z.string(),
      role: z.string(),
      unit,
      date: z.string(),
      calibrationId: rowId,
      foundMilli: milli,
      foundRelation: relation,
      toleranceMilli: milli,
      times: z.number(),
    }),
  ),
  compared,
});

export const drift = {
  group: job({
    input: z.object({
      by: z.enum(groupKeys),
      mainId: rowId.nullable().default(null),
      levelId: rowId.nullable().default(null),
      kind: z.string().max(40).nullable().default(null),
      class: z.string().max(40).nullable().default(null),
      period: period.nullable().default(null),
      /** Another period that this one is compared with. */
      compare: period.nullable().default(null),
    }),
    output: driftGroups,
  }),
  series: query({ input: z.object({ testPointId: rowId }), output: driftSeries }),
  /** What the points of the same main moved by about the days of a point's own drifts: the rest is its own. */
  common: query({
    input: z.object({ testPointId: rowId }),
    output: z.object({
      main: z.string().nullable(),
      shifts: z.array(z.object({ calibrationId: rowId, medianMilli: milli, count: z.number().int() })),
    }),
  }),
  /** All series of a tag, or one role of it. */
  ofTag: query({
    input: z.object({ tag: z.string(), role: z.string().optional() }),
    output: z.object({ series: z.array(driftSeries) }),
  }),
  points: query({
    input: z.object({ deviceId: rowId }),
    output: z.object({
      tag: z.string(),
      points: z.array(z.object({ testPointId: rowId, kind: z.string(), role: z.string() })),
    }),
  }),
};
