/** Schemas that several topics share. */
import { z } from 'zod';
import { isPlainDate } from '../dates/plainDate.ts';
import { deviceClasses, outcomes } from '../trade/words.ts';
import { airStates } from '../trade/switchover.ts';
import { doubtVerdicts } from '../trade/doubt.ts';
import { relations } from '../trade/setpointError.ts';
import { units } from '../units/units.ts';

export const plainDate = z.string().refine(isPlainDate, 'not a date of the form YYYY-MM-DD that exists');
/** Time in UTC as the book keeps it: `2026-04-09T08:15:00Z`. */
export const timestamp = z.iso.datetime({ error: 'not a time of the form YYYY-MM-DDTHH:MM:SSZ' });
export const rowId = z.number().int().positive();
export const milli = z.number().int().min(-1_000_000_000).max(1_000_000_000);
export const airState = z.enum(airStates);
export const deviceClass = z.enum(deviceClasses);
export const outcome = z.enum(outcomes);
export const relation = z.enum(relations);
export const verdict = z.enum(doubtVerdicts);
export const unit = z.enum(units);
export const clockTime = z
  .string()
  .regex(/^([01]\d|2[0-3]):[0-5]\d$|^24:00$/, 'not a time of the form HH:MM');
export const weekdays = z.string().regex(/^[1-7]{1,7}$/, 'weekdays as digits, 1 = Monday');

export const problem = z.object({
  file: z.string().optional(),
  line: z.number().int().optional(),
  column: z.string(),
  value: z.string(),
  reason: z.string(),
});

export const calibrationSummary = z.object({
  id: rowId,
  doneOn: z.string(),
  kind: z.string(),
  role: z.string(),
  outcome,
  unit,
  errorFoundMilli: milli.nullable(),
  foundRelation: relation.nullable(),
  verdictFound: verdict.nullable(),
  errorLeftMilli: milli.nullable(),
  leftRelation: relation.nullable(),
  verdictLeft: verdict.nullable(),
  person: z.string(),
  note: z.string(),
  replacedBy: rowId.nullable(),
});
