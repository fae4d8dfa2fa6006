import { z } from 'zod';
import { airState, milli, relation, rowId, unit } from './common.ts';
import { query } from './define.ts';

const line = z.object({ slope: z.number(), intercept: z.number() });

export const driftPoint = z.object({
  calibrationId: rowId,
  date: z.string(),
  foundMilli: milli.nullable(),
  foundRelation: relation.nullable(),
  leftMilli: milli.nullable(),
  adjustmentMilli: milli.nullable(),
  event: z.enum(['none', 'replaced', 'changed']),
  supplyFlagged: z.boolean(),
  series: z.number().int(),
  days: z.number().int().nullable(),
  driftMilli: milli.nullable(),
  ratePerYear: z.number().nullable(),
  cumulativeMilli: milli.nullable(),
  unadjustedMilli: milli.nullable(),
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
  summary: z.object({
    series: z.number().int(),
    firstOn: z.string().nullable(),
    count: z.number().int(),
    /** Degrees per Julian year, and degrees at `firstOn`. Null under three readings. */
    theilSen: line.nullable(),
    leastSquares: line.nullable(),
    lastDriftMilli: milli.nullable(),
    lastRatePerYear: z.number().nullable(),
    outside: z.number().int(),
    known: z.number().int(),
  }),
});
export type DriftSeries = z.infer<typeof driftSeries>;

export const drift = {
  series: query({ input: z.object({ testPointId: rowId }), output: driftSeries }),
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
