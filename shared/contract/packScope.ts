import { z } from 'zod';
import { deviceClass, plainDate } from './common.ts';

/** A part of the site, and days; everything that is named has to hold, null names nothing. */
export const packScope = z.object({
  building: z.string().max(40).nullable().default(null),
  level: z.string().max(40).nullable().default(null),
  main: z.string().max(60).nullable().default(null),
  class: deviceClass.nullable().default(null),
  tags: z.array(z.string().min(1).max(60)).min(1, 'at least one').max(100_000).nullable().default(null),
  from: plainDate.nullable().default(null),
  to: plainDate.nullable().default(null),
});
export type PackScope = z.infer<typeof packScope>;
