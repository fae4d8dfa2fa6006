import { z } from 'zod';
import type { CardFacts } from '../cards/index.ts';
import type { Instrument } from '../cards/instruments.ts';
import { decisionRules } from '../trade/doubt.ts';
import { benchPoint, closedEntry, closing } from './bench.ts';
import { airState, plainDate, rowId } from './common.ts';
import { command, file, query } from './define.ts';

/** Which sheet: somebody's day of a round, or every setpoint of a main in one air state. */
export const sheetScope = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('day'), roundId: rowId, date: plainDate, personId: rowId }),
  z.object({ kind: z.literal('main'), mainId: rowId, airState: airState.nullable() }),
]);
export type SheetScope = z.infer<typeof sheetScope>;

const isObject = (value: unknown): boolean => typeof value === 'object' && value !== null;

export const paperRow = z.object({
  deviceId: rowId,
  tag: z.string(),
  /** Role of a setpoint; empty for any other device. */
  key: z.string(),
  place: z.string(),
  title: z.string(),
  facts: z.custom<CardFacts>((value) => isObject(value) && 'card' in (value as object)),
  points: z.array(benchPoint),
});
export type PaperRow = z.infer<typeof paperRow>;

export const paperSheet = z.object({
  title: z.string(),
  doneOn: z.string(),
  personId: rowId.nullable(),
  rows: z.array(paperRow),
  people: z.array(z.object({ id: rowId, name: z.string(), initials: z.string() })),
  instruments: z.array(
    z.custom<Instrument>((value) => isObject(value) && 'accuracyForm' in (value as object)),
  ),
  rule: z.enum(decisionRules),
  draft: z.object({ json: z.string(), savedAt: z.string(), revision: z.number().int() }).nullable(),
});
export type PaperSheet = z.infer<typeof paperSheet>;

const draftJson = z.string().max(2_000_000);
const instrumentIds = z.object({
  pressure: rowId.nullable(),
  temperature: rowId.nullable(),
  humidity: rowId.nullable(),
});

export const paper = {
  sheet: query({ input: z.object({ scope: sheetScope }), output: paperSheet }),
  saveDraft: command({
    /** `over` is the revision of the draft that the new one replaces, 0 for none; another one in the book is a conflict. */
    input: z.object({ scope: sheetScope, json: draftJson, over: z.number().int().min(0) }),
    output: z.object({ revision: z.number().int() }),
  }),
  /** `over`: the revision that is given up; a newer one of another window is a conflict. */
  dropDraft: command({
    input: z.object({ scope: sheetScope, over: z.number().int().min(0) }),
    output: z.object({}),
  }),
  /** Every row of the sheet in one unit of work: all are written, or none. */
  close: command({
    input: z.object({
      scope: sheetScope,
      personId: rowId,
      /** Revision of the draft that is written, 0 for none: one that another window changed since is not what was seen. */
      draftRevision: z.number().int().min(0),
      /** Rows by what they were read with and when, as on paper. */
      parts: z
        .array(
          z.object({
            doneOn: plainDate,
            instruments: instrumentIds,
            cards: z
              .array(z.object({ deviceId: rowId, entries: z.array(closedEntry).min(1).max(2) }))
              .min(1)
              .max(500),
          }),
        )
        .min(1)
        .max(100),
    }),
    output: closing.extend({ verdicts: z.record(z.string(), z.number().int()) }),
  }),
  pdf: file({ input: z.object({ scope: sheetScope }) }),
};
