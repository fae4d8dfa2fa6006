/** How calls are declared: a name, what goes in, what comes out, and whether it may write. */
import { z } from 'zod';

export type CallKind = 'query' | 'command' | 'job' | 'file';

export type CallDefinition<I extends z.ZodType = z.ZodType, O extends z.ZodType = z.ZodType> = {
  kind: CallKind;
  input: I;
  output: O;
  /** Largest request body in bytes. */
  bodyLimit: number;
};

const SMALL_BODY = 1_000_000;
export const UPLOAD_BODY = 96_000_000;

type Parts<I extends z.ZodType, O extends z.ZodType> = { input: I; output: O; bodyLimit?: number };

/** Reads only: its handler gets a handle that cannot write. */
export function query<I extends z.ZodType, O extends z.ZodType>(
  parts: Parts<I, O>,
): CallDefinition<I, O> & { kind: 'query' } {
  return { bodyLimit: SMALL_BODY, ...parts, kind: 'query' };
}

/** Writes in one transaction. */
export function command<I extends z.ZodType, O extends z.ZodType>(
  parts: Parts<I, O>,
): CallDefinition<I, O> & { kind: 'command' } {
  return { bodyLimit: SMALL_BODY, ...parts, kind: 'command' };
}

/** Long work in a worker thread: the call answers a job id; `output` is what the finished job holds. */
export function job<I extends z.ZodType, O extends z.ZodType>(
  parts: Parts<I, O>,
): CallDefinition<I, O> & { kind: 'job' } {
  return { bodyLimit: SMALL_BODY, ...parts, kind: 'job' };
}

export const fileOutput = z.object({
  fileName: z.string(),
  mediaType: z.string(),
  bytes: z.instanceof(Uint8Array),
  /** Of a file that stands on the disk already: sent from there, `bytes` being empty. Never leaves the service. */
  path: z.string().optional(),
});
export type FileOutput = z.infer<typeof fileOutput>;

/** Reads only, and answers a file. */
export function file<I extends z.ZodType>(parts: {
  input: I;
}): CallDefinition<I, typeof fileOutput> & { kind: 'file' } {
  return { bodyLimit: SMALL_BODY, output: fileOutput, ...parts, kind: 'file' };
}

export const nothing = z.object({}).strict();
