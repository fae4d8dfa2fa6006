import { z } from 'zod';
import { rowId } from './common.ts';
import { command, query } from './define.ts';

const version = z.number().int();

export const followUp = z.object({
  id: rowId,
  deviceId: rowId,
  tag: z.string(),
  class: z.string(),
  main: z.string().nullable(),
  cause: z.string(),
  symptom: z.string().nullable(),
  /** What it likely comes from, in the order in which to look. */
  likely: z.array(z.string()),
  openedAt: z.string(),
  openedBy: z.string(),
  assignedTo: z.object({ id: rowId, initials: z.string() }).nullable(),
  partOf: rowId.nullable(),
  parts: z.array(rowId),
  closedAt: z.string().nullable(),
  closedBy: z.string().nullable(),
  closingNote: z.string(),
  closingCalibrationId: rowId.nullable(),
  version,
});
export type FollowUp = z.infer<typeof followUp>;

/** Several devices of one main say the same: the main or its regulator is looked at once. */
export const commonCause = z.object({
  mainId: rowId,
  main: z.string(),
  followUps: z.array(z.object({ id: rowId, tag: z.string() })),
  /** The main itself, and the regulators above it. */
  on: z.array(z.object({ deviceId: rowId, tag: z.string(), class: z.string() })),
  /** The open follow-up that others were joined to already; null where a new one would be opened. */
  joined: rowId.nullable(),
});

const touched = z.object({ id: rowId });
const named = { id: rowId, version };

export const followUps = {
  list: query({
    input: z.object({ openOnly: z.boolean().default(true), deviceId: rowId.optional() }),
    output: z.object({ rows: z.array(followUp), common: z.array(commonCause) }),
  }),
  assign: command({ input: z.object({ ...named, personId: rowId.nullable() }), output: touched }),
  /** Closed by what was done, and by the record that shows it where there is one. */
  close: command({
    input: z.object({
      ...named,
      personId: rowId,
      note: z.string().trim().min(1, 'say what was done').max(1000),
      calibrationId: rowId.nullable().default(null),
    }),
    output: touched,
  }),
  /** One follow-up on a main or regulator for several that have one cause; they close with it. */
  join: command({
    input: z.object({
      ids: z.array(rowId).min(1).max(500),
      deviceId: rowId,
      personId: rowId,
      cause: z.string().trim().min(1).max(300),
    }),
    output: touched,
  }),
};
