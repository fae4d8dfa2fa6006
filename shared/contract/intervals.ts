import { z } from 'zod';
import type { IntervalPolicy, Recommendation } from '../stats/recommend.ts';
import { rowId, unit } from './common.ts';
import { command, job, nothing, query } from './define.ts';

/** Starting values; the target is the middle of what is usual (85 to 95 %), the ends are our own choice. */
export const defaultIntervalPolicy: IntervalPolicy = { target: 0.9, leastDays: 91, mostDays: 1095 };

export const intervalPolicy = z
  .object({
    target: z.number().min(0.75).max(0.99),
    leastDays: z.number().int().min(7).max(3660),
    mostDays: z.number().int().min(7).max(3660),
  })
  .refine(({ leastDays, mostDays }) => leastDays <= mostDays, {
    path: ['mostDays'],
    message: 'not below the least',
  });

const recommendation = z.custom<Recommendation>((value) => typeof value === 'object' && value !== null);

export const recommendedPoint = z.object({
  testPointId: rowId,
  deviceId: rowId,
  tag: z.string(),
  kind: z.string(),
  role: z.string(),
  main: z.string().nullable(),
  unit,
  lastDoneOn: z.string().nullable(),
  recommendation,
});
export type RecommendedPoint = z.infer<typeof recommendedPoint>;

export const recommendedClass = z.object({
  /** Row of the class defaults. */
  id: rowId,
  kind: z.string(),
  unit,
  tested: z.number().int(),
  inside: z.number().int(),
  presentDays: z.number().int(),
  /** Null where its results say nothing. */
  days: z.number().int().nullable(),
  words: z.string(),
});
export type RecommendedClass = z.infer<typeof recommendedClass>;

const change = { from: z.number().int(), to: z.number().int().min(7).max(3660) };

export const intervals = {
  policy: query({
    input: z.object({}),
    output: z.object({ policy: z.custom<IntervalPolicy>(), version: z.number().int() }),
  }),
  savePolicy: command({
    input: z.object({
      policy: intervalPolicy,
      version: z.number().int(),
      why: z.string().trim().min(1, 'say why').max(500),
    }),
    output: nothing,
  }),
  /** Every active test point of a scope, and every class, with what its data recommend and why. */
  recommend: job({
    input: z.object({
      mainId: rowId.nullable().default(null),
      levelId: rowId.nullable().default(null),
      kind: z.string().max(40).nullable().default(null),
      class: z.string().max(40).nullable().default(null),
    }),
    output: z.object({
      policy: z.custom<IntervalPolicy>(),
      points: z.array(recommendedPoint),
      classes: z.array(recommendedClass),
    }),
  }),
  /** Writes intervals that the manager accepts; `from` is what the book held when they were recommended. */
  accept: command({
    input: z.object({
      why: z.string().trim().min(1, 'say why').max(500),
      points: z.array(z.object({ testPointId: rowId, ...change })).max(100_000),
      classes: z.array(z.object({ id: rowId, ...change })).max(100),
    }),
    output: z.object({ changed: z.number().int() }),
    bodyLimit: 16_000_000,
  }),
};
