import { z } from 'zod';
import { fileStyle, loadReport, uploadedFile } from './register.ts';
import { UPLOAD_BODY, job, nothing, query } from './define.ts';
import { airState, milli, outcome, relation, rowId, timestamp, unit, verdict } from './common.ts';

export const ANCHOR_FORMAT = 'setpoint-almanac anchor 1';

/** A head of the chain that is kept outside the book. */
export const anchor = z.object({
  entries: z.number().int().min(0),
  headHash: z.string().regex(/^[0-9a-f]{64}$/, 'not a hash of 64 hexadecimal digits'),
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

const corrected = z
  .object({ calibrationId: rowId, reason: z.string(), at: z.string(), by: z.string() })
  .nullable();

/** One record with everything that it keeps. */
export const recordDetails = z.object({
  calibrationId: rowId,
  deviceId: rowId,
  testPointId: rowId,
  tag: z.string(),
  kind: z.string(),
  role: z.string(),
  doneOn: z.string(),
  endedAt: z.string(),
  person: z.string(),
  outcome,
  source: z.string(),
  unit,
  method: z.string().nullable(),
  methodVersion: z.string(),
  decisionRule: z.string(),
  foundMilli: milli.nullable(),
  foundRelation: relation.nullable(),
  verdictFound: verdict.nullable(),
  /** Expanded doubt, k = 2. */
  doubtFoundMilli: milli.nullable(),
  conformanceFoundPpm: z.number().int().nullable(),
  leftMilli: milli.nullable(),
  leftRelation: relation.nullable(),
  verdictLeft: verdict.nullable(),
  doubtLeftMilli: milli.nullable(),
  conformanceLeftPpm: z.number().int().nullable(),
  supplyRight: z.boolean(),
  note: z.string(),
  /** Standard doubts in millionths of the unit, the combined one last; null where the record keeps none. */
  budget: z.array(z.object({ name: z.string(), uMicro: z.number().int() })).nullable(),
  toleranceMilli: milli.nullable(),
  toleranceLeftMilli: milli.nullable(),
  ticks: z.array(z.object({ text: z.string(), ticked: z.boolean() })),
  tickNote: z.string(),
  instruments: z.array(
    z.object({
      tag: z.string(),
      certificate: z.string().nullable(),
      dueOn: z.string().nullable(),
      isLapsed: z.boolean(),
    }),
  ),
  remarks: z.array(z.object({ tone: z.string(), text: z.string() })),
  /** What the register said on the day that it should read. */
  expected: z.array(z.object({ label: z.string(), text: z.string() })),
  readings: z.array(
    z.object({
      phase: z.string(),
      label: z.string(),
      valueMilli: milli.nullable(),
      text: z.string().nullable(),
      unit,
      airState: airState.nullable(),
    }),
  ),
  replacedBy: corrected,
  replaces: corrected,
  entry: z.object({ seq: z.number().int(), hash: z.string() }).nullable(),
});
export type RecordDetails = z.infer<typeof recordDetails>;

export const records = {
  /** Past readings from files; see docs/readings-csv.md. */
  load: job({
    input: z.object({ files: z.array(uploadedFile).min(1).max(50), style: fileStyle, dryRun: z.boolean() }),
    output: loadReport,
    bodyLimit: UPLOAD_BODY,
  }),
  /** With an anchor: that nothing up to it was changed, not even by whoever made the whole chain anew. */
  verify: job({ input: z.object({ anchor: anchor.nullable().default(null) }), output: verifyReport }),
  anchor: query({
    input: nothing,
    output: anchor.extend({ format: z.literal(ANCHOR_FORMAT), at: timestamp, site: z.string() }),
  }),
  details: query({ input: z.object({ calibrationId: rowId }), output: recordDetails }),
};
