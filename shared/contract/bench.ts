import { z } from 'zod';
import { calibrationBases, controllerActions } from '../trade/proportional.ts';
import {
  airState,
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
import { pressureUnits, temperatureUnits } from '../units/units.ts';

export const benchSetpoint = z.object({
  testPointId: rowId,
  role: z.string(),
  airState: airState.nullable(),
  action: z.enum(controllerActions),
  dialMilli: milli,
  throttlingRangeMilli: milli,
  outputLowMilli: milli,
  outputHighMilli: milli,
  calibrationBasis: z.enum(calibrationBases),
  /** Null when the basis lacks its figure. */
  calibrationPressureMilli: milli.nullable(),
  spring: z.object({ startMilli: milli, endMilli: milli, tag: z.string() }).nullable(),
  toleranceMilli: milli,
  toleranceLeftMilli: milli,
  dueOn: z.string().nullable(),
  newestRecordId: rowId.nullable(),
  last: calibrationSummary.nullable(),
});
export type BenchSetpoint = z.infer<typeof benchSetpoint>;

export const benchCard = z.object({
  deviceId: rowId,
  tag: z.string(),
  name: z.string(),
  controllerKind: z.string(),
  place: z.string(),
  pressureUnit: z.enum(pressureUnits),
  temperatureUnit: z.enum(temperatureUnits),
  rated: z.object({ lowMilli: milli, highMilli: milli }).nullable(),
  measuredTrips: z.object({ fallingMilli: milli, risingMilli: milli }).nullable(),
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
  setpoints: z.array(benchSetpoint),
  actuators: z.array(z.object({ tag: z.string(), normalPosition: z.string(), duty: z.string().nullable() })),
  people: z.array(z.object({ id: rowId, name: z.string(), initials: z.string() })),
  gauges: z.array(
    z.object({
      id: rowId,
      tag: z.string(),
      kind: z.enum(['pressure', 'temperature']),
      certificateDueOn: z.string().nullable(),
    }),
  ),
  draft: z.object({ json: z.string(), savedAt: z.string() }).nullable(),
});
export type BenchCard = z.infer<typeof benchCard>;

/** Readings as typed, in thousandths of the device's units; null = not taken. */
const readings = z.object({
  dialMilli: milli.nullable(),
  temperatureMilli: milli.nullable(),
  branchMilli: milli.nullable(),
  dialAtCalibrationMilli: milli.nullable(),
});

export const benchEntry = z.object({
  testPointId: rowId,
  /** The newest record of the setpoint when the card was laid out; a newer one in the book is a conflict. */
  seen: rowId.nullable(),
  mainPressureMilli: milli.nullable(),
  preconditions: z.record(z.string(), z.boolean()),
  preconditionNote: z.string().max(500).default(''),
  found: readings.nullable(),
  fullTravel: z.object({ oneWayMilli: milli, otherWayMilli: milli }).nullable(),
  left: readings.nullable(),
  throttling: z
    .object({ dialUpMilli: milli, branchUpMilli: milli, dialDownMilli: milli, branchDownMilli: milli })
    .nullable(),
  readAgain: z.object({ temperatureMilli: milli, dialMilli: milli, branchMilli: milli }).nullable(),
  dialPutBackMilli: milli.nullable(),
  restored: z.object({ main: z.boolean(), override: z.boolean(), valves: z.boolean() }),
  outcome,
  note: z.string().max(2000).default(''),
});
export type BenchEntry = z.infer<typeof benchEntry>;

export const bench = {
  card: query({ input: z.object({ deviceId: rowId }), output: benchCard }),
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
      personId: rowId,
      doneOn: plainDate,
      startedAt: timestamp.nullable(),
      pressureGaugeId: rowId.nullable(),
      temperatureGaugeId: rowId.nullable(),
      entries: z.array(benchEntry).min(1).max(2),
    }),
    output: z.object({
      records: z.array(
        z.object({
          calibrationId: rowId,
          testPointId: rowId,
          role: z.string(),
          outcome,
          errorFoundMilli: milli.nullable(),
          foundRelation: relation.nullable(),
          verdictFound: verdict.nullable(),
          errorLeftMilli: milli.nullable(),
          verdictLeft: verdict.nullable(),
          unit,
          dueOn: z.string().nullable(),
        }),
      ),
      followUps: z.array(z.object({ id: rowId, cause: z.string() })),
      ledgerSeq: z.number().int(),
      headHash: z.string(),
    }),
  }),
};
