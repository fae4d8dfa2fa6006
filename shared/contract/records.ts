import { z } from 'zod';
import { fileStyle, loadReport, uploadedFile } from './register.ts';
import { command, job, nothing, query, UPLOAD_BODY } from './define.ts';
import { rowId } from './common.ts';

export const followUp = z.object({
  id: rowId,
  deviceId: rowId,
  tag: z.string(),
  cause: z.string(),
  openedAt: z.string(),
  openedBy: z.string(),
  closedAt: z.string().nullable(),
  version: z.number().int(),
});

export const verifyReport = z.object({
  sound: z.boolean(),
  entries: z.number().int(),
  headHash: z.string(),
  calibrations: z.number().int(),
  readings: z.number().int(),
  problems: z.array(z.object({ check: z.string(), detail: z.string(), seq: z.number().int().nullable() })),
  firstBadEntry: z.number().int().nullable(),
});
export type VerifyReport = z.infer<typeof verifyReport>;

export const records = {
  /** Past readings from files; see docs/readings-csv.md. */
  load: job({
    input: z.object({ files: z.array(uploadedFile).min(1).max(50), style: fileStyle, dryRun: z.boolean() }),
    output: loadReport,
    bodyLimit: UPLOAD_BODY,
  }),
  verify: job({ input: nothing, output: verifyReport }),
  followUps: query({
    input: z.object({ openOnly: z.boolean().default(true) }),
    output: z.object({ rows: z.array(followUp) }),
  }),
  closeFollowUp: command({
    input: z.object({
      id: rowId,
      version: z.number().int(),
      personId: rowId,
      note: z.string().min(1).max(1000),
    }),
    output: z.object({ id: rowId }),
  }),
};
