import { z } from 'zod';
import type { CardFacts } from '../cards/index.ts';
import type { Instrument } from '../cards/instruments.ts';
import { decisionRules } from '../trade/doubt.ts';
import { pressureUnits } from '../units/units.ts';
import {
  calibrationSummary,
  milli,
  outcome,
  plainDate,
  relation,
  rowId,
  timestamp,
  unit,
  verdict,
} from './common.ts';
import { command, query } from './define.ts';

const isObject = (value: unknown): boolean => typeof value === 'object' && value !== null;

export const benchPoint = z.object({
  key: z.string(),
  testPointId: rowId,
  dueOn: z.string().nullable(),
  newestRecordId: rowId.nullable(),
  last: calibrationSummary.nullable(),
});

/** Readings as typed: figures in thousandths of the unit of the field, choices and dates as text. */
const values = z.record(z.string().max(40), z.union([milli, z.string().max(60)]));
const ticks = z.record(z.string().max(40), z.boolean());

/** What stood on a card when a record was made, to be laid out again for its correction. */
const recorded = z.object({
  values,
  ticks,
  tickNote: z.string(),
  adjusted: z.boolean(),
  outcome,
  note: z.string(),
});

export const benchEntry = z.object({
  /** Role of a setpoint; empty for the card of any other device. */
  key: z.string(),
  /** What the card is judged by; its shape is that of its class in shared/cards. */
  facts: z.custom<CardFacts>((value) => isObject(value) && 'card' in (value as object)),
  points: z.array(benchPoint),
  recorded: recorded.nullable(),
});
export type BenchEntry = z.infer<typeof benchEntry>;

export const benchCard = z.object({
  deviceId: rowId,
  tag: z.string(),
  name: z.string(),
  class: z.string(),
  kindWords: z.string(),
  place: z.string(),
  rated: z.string().nullable(),
  main: z
    .object({
      id: rowId,
      tag: z.string(),
      kind: z.string(),
      lowMilli: milli,
      highMilli: milli.nullable(),
      lowMeans: z.string().nullable(),
      highMeans: z.string().nullable(),
      pressureUnit: z.enum(pressureUnits),
    })
    .nullable(),
  retiredOn: z.string().nullable(),
  entries: z.array(benchEntry),
  moves: z.array(z.string()),
  people: z.array(z.object({ id: rowId, name: z.string(), initials: z.string() })),
  instruments: z.array(
    z.custom<Instrument>((value) => isObject(value) && 'accuracyForm' in (value as object)),
  ),
  rule: z.enum(decisionRules),
  draft: z.object({ json: z.string(), savedAt: z.string() }).nullable(),
  /** The record that this card would correct, and what was noted on it. */
  correcting: z
    .object({
      calibrationId: rowId,
      doneOn: z.string(),
      personId: rowId,
      pressureGaugeId: rowId.nullable(),
      temperatureGaugeId: rowId.nullable(),
      /** The record that corrected it already. */
      replacedBy: rowId.nullable(),
      /** It came from a file of the past: what was not noted then need not be noted now. */
      mayMiss: z.boolean(),
    })
    .nullable(),
});
export type BenchCard = z.infer<typeof benchCard>;

export const closedEntry = z.object({
  key: z.string(),
  /** By test point: the newest record that the card had seen; a newer one in the book is a conflict. */
  seen: z.record(z.string(), rowId.nullable()),
  values,
  ticks,
  tickNote: z.string().max(500).default(''),
  adjusted: z.boolean(),
  outcome,
  note: z.string().max(2000).default(''),
});
export type ClosedEntry = z.infer<typeof closedEntry>;

const instrumentIds = z.object({
  pressure: rowId.nullable(),
  temperature: rowId.nullable(),
  humidity: rowId.nullable().default(null),
});

const header = {
  personId: rowId,
  doneOn: plainDate,
  startedAt: timestamp.nullable(),
  instruments: instrumentIds,
};

export const closedRecord = z.object({
  calibrationId: rowId,
  testPointId: rowId,
  deviceId: rowId,
  tag: z.string(),
  kind: z.string(),
  role: z.string(),
  outcome,
  errorFoundMilli: milli.nullable(),
  foundRelation: relation.nullable(),
  verdictFound: verdict.nullable(),
  conformanceFoundPpm: z.number().int().nullable(),
  errorLeftMilli: milli.nullable(),
  verdictLeft: verdict.nullable(),
  unit,
  dueOn: z.string().nullable(),
});

export const closing = z.object({
  records: z.array(closedRecord),
  followUps: z.array(z.object({ id: rowId, cause: z.string() })),
  /** Open follow-ups of devices that were done: this record may close them. */
  closable: z.array(
    z.object({ id: rowId, deviceId: rowId, tag: z.string(), cause: z.string(), version: z.number().int() }),
  ),
  ledgerSeq: z.number().int(),
  headHash: z.string(),
});

export const bench = {
  card: query({
    input: z.object({ deviceId: rowId, correcting: rowId.optional() }),
    output: benchCard,
  }),
  saveDraft: command({
    /** `over` is the draft that the new one replaces; another one in the book is a conflict. */
    input: z.object({
      deviceId: rowId,
      json: z.string().max(200_000),
      over: z.string().max(200_000).nullable(),
    }),
    output: z.object({ savedAt: z.string() }),
  }),
  dropDraft: command({ input: z.object({ deviceId: rowId }), output: z.object({ deviceId: rowId }) }),
  close: command({
    input: z.object({
      deviceId: rowId,
      ...header,
      entries: z.array(closedEntry).min(1).max(2),
      /** Replaces a record and those made on the same card; both stay. */
      corrects: z
        .object({
          calibrationId: rowId,
          reason: z.string().trim().min(1, 'say why').max(500),
          /** Who corrects; the card's person stays the one who took the readings. */
          personId: rowId,
        })
        .nullable()
        .default(null),
    }),
    output: closing,
  }),
};
