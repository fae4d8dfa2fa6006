import { z } from 'zod';
import { file, job, nothing, query } from './define.ts';
import { packScope } from './packScope.ts';

export const packPreview = z.object({
  scope: z.string(),
  firstOn: z.string().nullable(),
  lastOn: z.string().nullable(),
  counts: z.array(z.object({ what: z.string(), count: z.number().int() })),
  gaps: z.array(z.object({ what: z.string(), count: z.number().int(), examples: z.array(z.string()) })),
});
export type PackPreview = z.infer<typeof packPreview>;

const packFile = z.object({
  name: z.string(),
  bytes: z.number().int(),
  rows: z.number().int().nullable(),
  sha256: z.string(),
});

export const packSummary = z.object({
  /** Of the folder or the zip; both stand in the book's own folder of packs unless the command line names another. */
  name: z.string(),
  scope: z.string(),
  files: z.array(packFile),
  entries: z.number().int(),
  headHash: z.string(),
  manifestHash: z.string(),
});
export type PackSummary = z.infer<typeof packSummary>;

export const packProof = z.object({
  sound: z.boolean(),
  problems: z.array(z.object({ file: z.string(), detail: z.string() })),
  more: z.number().int(),
  files: z.number().int(),
  records: z.number().int(),
  drifts: z.number().int(),
  head: z.string(),
  entries: z.number().int(),
});
export type PackProof = z.infer<typeof packProof>;

const packName = z.string().regex(/^[\w.-]{1,120}$/u, 'letters, digits, - and _ only');

export const evidence = {
  /** Counts and gaps of a scope. */
  preview: job({ input: packScope, output: packPreview }),
  /** Writes a pack beside the book, as a folder or as a zip. */
  write: job({
    input: z.object({ scope: packScope, as: z.enum(['folder', 'zip']) }),
    output: packSummary,
  }),
  /** The packs that stand beside the book. */
  packs: query({
    input: nothing,
    output: z.object({
      packs: z.array(
        z.object({ name: z.string(), as: z.enum(['folder', 'zip']), bytes: z.number(), madeAt: z.string() }),
      ),
    }),
  }),
  /** Proves a pack that stands beside the book. */
  check: job({ input: z.object({ name: packName }), output: packProof }),
  /** A zip that stands beside the book. */
  download: file({ input: z.object({ name: packName }) }),
};
