import { z } from 'zod';
import { findingCodes } from '../register/findings/finding.ts';
import { plainDate, rowId } from './common.ts';
import { command, job, nothing, query } from './define.ts';

const accepted = z.object({
  person: z.string(),
  at: z.string(),
  why: z.string(),
  /** The last day on which it stays accepted; null: until a figure changes. */
  until: z.string().nullable(),
});

export const finding = z.object({
  code: z.enum(findingCodes),
  severity: z.enum(['stop', 'look', 'not checked']),
  deviceId: rowId,
  tag: z.string(),
  about: z.string(),
  figures: z.record(z.string(), z.string()),
  words: z.string(),
  advice: z.string(),
  /** Who accepted these very figures, until when; null while it is open. */
  accepted: accepted.nullable(),
  /** It was accepted with other figures, or for a time that is over. */
  cameBack: z.boolean(),
});
export type ListedFinding = z.infer<typeof finding>;

const which = { code: z.enum(findingCodes), deviceId: rowId, about: z.string().max(200) };

export const findings = {
  /** Every finding of the register. */
  list: job({
    input: z.object({}),
    output: z.object({ findings: z.array(finding), checked: z.number().int() }),
  }),
  /** Those of one device, and how many there are at and below it. */
  ofDevice: query({
    input: z.object({ deviceId: rowId }),
    output: z.object({ findings: z.array(finding), below: z.number().int(), isBelowCounted: z.boolean() }),
  }),
  /** Accepts a finding with its figures as they are. */
  accept: command({
    input: z.object({
      ...which,
      figures: z.record(z.string(), z.string()),
      until: plainDate.nullable(),
      why: z.string().trim().min(1, 'say why').max(500),
    }),
    output: nothing,
  }),
  /** Takes an acceptance back. */
  reopen: command({
    input: z.object({ ...which, why: z.string().trim().min(1, 'say why').max(500) }),
    output: nothing,
  }),
};
