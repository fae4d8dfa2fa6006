import { z } from 'zod';
import type { DriftStatistics } from '../stats/driftStatistics.ts';
import { airState, milli, relation, rowId, unit } from './common.ts';
import { query } from './define.ts';

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
