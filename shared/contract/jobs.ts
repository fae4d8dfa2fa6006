import { z } from 'zod';
import { errorStatus } from './errors.ts';
import type { ErrorCode } from './errors.ts';
import { problem } from './common.ts';
import { command, query } from './define.ts';

const errorCodes = Object.keys(errorStatus) as [ErrorCode, ...ErrorCode[]];

export const jobStatus = z.object({
  jobId: z.string(),
  call: z.string(),
  state: z.enum(['running', 'done', 'failed', 'cancelled']),
  done: z.number(),
  total: z.number(),
  step: z.string(),
  result: z.unknown().optional(),
  error: z
    .object({
      code: z.enum(errorCodes),
      message: z.string(),
      problems: z.array(problem).optional(),
      incident: z.string().optional(),
    })
    .optional(),
});
export type JobStatus = z.infer<typeof jobStatus>;

export const jobs = {
  status: query({ input: z.object({ jobId: z.string() }), output: jobStatus }),
  cancel: command({ input: z.object({ jobId: z.string() }), output: jobStatus }),
};
