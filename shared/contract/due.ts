import { z } from 'zod';
import { airState, deviceClass, milli, plainDate, relation, rowId, unit } from './common.ts';
import { query } from './define.ts';

export const dueRow = z.object({
  testPointId: rowId,
  deviceId: rowId,
  tag: z.string(),
  class: deviceClass,
  kind: z.string(),
  role: z.string(),
  building: z.string().nullable(),
  level: z.string().nullable(),
  room: z.string().nullable(),
  main: z.string().nullable(),
  airState: airState.nullable(),
  unit,
  lastDoneOn: z.string().nullable(),
  dueOn: z.string(),
  daysLate: z.number().int(),
  lastErrorMilli: milli.nullable(),
  lastRelation: relation.nullable(),
});
export type DueRow = z.infer<typeof dueRow>;

export const dueSummary = z.object({
  on: z.string(),
  late: z.number().int(),
  within30: z.number().int(),
  within90: z.number().int(),
  neverDone: z.number().int(),
  openFollowUps: z.number().int(),
  lapsedGauges: z.number().int(),
  uncheckedMains: z.array(z.object({ id: rowId, tag: z.string(), lastSupplyCheck: z.string().nullable() })),
  months: z.array(z.object({ month: z.string(), count: z.number().int(), late: z.number().int() })),
});
export type DueSummary = z.infer<typeof dueSummary>;

export const due = {
  summary: query({ input: z.object({ on: plainDate.optional() }), output: dueSummary }),
  ledger: query({
    input: z.object({
      on: plainDate.optional(),
      /** Only what falls due on or before this date; absent = 90 days from `on`. */
      until: plainDate.optional(),
      neverDone: z.boolean().default(false),
      limit: z.number().int().min(1).max(100_000).default(50_000),
    }),
    output: z.object({ on: z.string(), until: z.string(), rows: z.array(dueRow) }),
  }),
};
