import { z } from 'zod';
import { airTestKinds } from '../trade/air/airTests.ts';
import { bleedKinds } from '../trade/air/budget.ts';
import { diameterUnits } from '../trade/air/leaks.ts';
import { pressureUnits, temperatureUnits } from '../units/units.ts';
import { milli, plainDate, rowId } from './common.ts';
import { command, nothing, query } from './define.ts';

/** A figure that was measured, and when. */
const measured = z.object({ value: z.number(), on: z.string() }).nullable();
const band = z.object({ low: z.number(), typical: z.number(), high: z.number() });
const kind = z.enum(airTestKinds);
const note = z.string().trim().max(500).default('');
/** What a new entry corrects, and why; null: it corrects nothing. */
const corrects = z
  .object({ id: rowId, reason: z.string().trim().min(1, 'say why').max(500) })
  .nullable()
  .default(null);

export const airTest = z.object({
  id: rowId,
  kind,
  doneOn: z.string(),
  person: z.string(),
  gauge: z.string().nullable(),
  readings: z.array(z.object({ quantity: z.string(), valueMilli: milli, unit: z.string() })),
  measures: z.enum(['demand', 'leaks', 'capacity', 'bleed', 'quality']),
  scfm: z.number().nullable(),
  share: z.number().nullable(),
  factor: z.number().nullable(),
  why: z.string(),
  others: z.array(z.object({ words: z.string(), scfm: z.number() })),
  cautions: z.array(z.string()),
  note: z.string(),
  replacesId: rowId.nullable(),
  replacedBy: rowId.nullable(),
  reason: z.string(),
});
export type AirTest = z.infer<typeof airTest>;

export const leak = z.object({
  id: rowId,
  deviceId: rowId,
  tag: z.string(),
  place: z.string(),
  foundOn: z.string(),
  person: z.string(),
  diameterMicro: z.number().int(),
  diameterUnit: z.enum(diameterUnits),
  pressureMilli: milli,
  pressureUnit: z.enum(pressureUnits),
  coefficientMilli: milli.nullable(),
  /** scfm. */
  flow: band,
  note: z.string(),
  replacesId: rowId.nullable(),
  reason: z.string(),
  mended: z.object({ on: z.string(), person: z.string(), note: z.string() }).nullable(),
  /** The entry that corrects it. */
  replacedBy: rowId.nullable(),
  /** Its device is gone, and the leak with it. */
  goneOn: z.string().nullable(),
});
export type Leak = z.infer<typeof leak>;

export const stationTrend = z.object({
  key: z.string(),
  title: z.string(),
  unit: z.string(),
  /** The side on which a limit lies, and the limit; null where there is none. */
  worse: z.enum(['up', 'down']),
  limit: z.object({ value: z.number(), words: z.string() }).nullable(),
  points: z.array(
    z.object({ date: z.string(), value: z.number(), from: z.enum(['card', 'test']), isFresh: z.boolean() }),
  ),
  /** The median of slopes, from the first to the last reading of the newest series. */
  line: z.array(z.object({ date: z.string(), value: z.number() })).nullable(),
  said: z.string(),
});
export type StationTrend = z.infer<typeof stationTrend>;

export const stationSheet = z.object({
  id: rowId,
  tag: z.string(),
  name: z.string(),
  /** Out of service since; what it was stands here still. */
  retiredOn: z.string().nullable(),
  /** Stations in whose place it stands, or that stand in its. */
  relatives: z.array(z.object({ id: rowId, tag: z.string(), words: z.string() })),
  /** Other stations that feed some of the same: their use is counted here whole. */
  sharedWith: z.array(z.string()),
  pressureUnit: z.enum(pressureUnits),
  temperatureUnit: z.enum(temperatureUnits),
  dewPointId: rowId.nullable(),
  capacity: z.object({ nominal: z.number().nullable(), measured }),
  receiverGal: z.number().nullable(),
  motorKw: z.number().nullable(),
  altitudeFt: z.number().int().nullable(),
  atmospherePsi: z.number(),
  budget: z.object({
    lines: z.array(
      z.object({ kind: z.enum(bleedKinds), count: z.number().int(), known: z.number().int(), scim: band }),
    ),
    scim: band,
    scfm: band,
    /** Of the capacity. */
    share: band.nullable(),
  }),
  /** The newest run share with the flow that it means. */
  run: z
    .object({
      share: z.number(),
      scfm: z.number().nullable(),
      on: z.string(),
      kwhAYear: z.number().nullable(),
    })
    .nullable(),
  /** Of the newest run share, less the budget: low is by the high budget. scfm. */
  unexplained: band.nullable(),
  dryness: z.object({
    coldestDegF: z.number().nullable(),
    /** What the dew point at line pressure may be at most, and what was measured. */
    mostDegF: z.number(),
    dewPoint: z
      .object({ degF: z.number(), psi: z.number(), on: z.string(), isAtLine: z.boolean() })
      .nullable(),
    /** The same air at each main’s highest pressure, and free. */
    places: z.array(
      z.object({
        id: rowId.nullable(),
        tag: z.string(),
        psi: z.number(),
        frostDegF: z.number(),
        overWaterDegF: z.number(),
        marginDegF: z.number().nullable(),
      }),
    ),
  }),
  quality: z.object({
    designation: z.string(),
    oilMg: measured,
    largestUm: measured,
    particles: measured,
  }),
  trends: z.array(stationTrend),
  tests: z.array(airTest),
  leaks: z.array(leak),
  openLeaks: band.extend({ count: z.number().int() }),
});
export type StationSheet = z.infer<typeof stationSheet>;

export const stations = {
  list: query({
    input: nothing,
    output: z.object({
      stations: z.array(
        z.object({ id: rowId, tag: z.string(), name: z.string(), retiredOn: z.string().nullable() }),
      ),
    }),
  }),
  sheet: query({ input: z.object({ deviceId: rowId }), output: stationSheet }),
  /** What one device takes while nothing moves: by its kind, its sheet, and as measured; scim. */
  bleed: query({
    input: z.object({ deviceId: rowId }),
    output: z.object({
      kind: z.enum(bleedKinds).nullable(),
      byKind: band.nullable(),
      sheet: z.number().nullable(),
      measured,
      tests: z.array(airTest),
    }),
  }),
  addTest: command({
    input: z.object({
      deviceId: rowId,
      kind,
      doneOn: plainDate,
      gaugeId: rowId.nullable().default(null),
      readings: z
        .array(z.object({ quantity: z.string().max(60), valueMilli: milli, unit: z.string().max(20) }))
        .max(12),
      note,
      corrects,
    }),
    output: z.object({ id: rowId }),
  }),
  addLeak: command({
    input: z.object({
      deviceId: rowId,
      place: z.string().trim().min(1, 'say where').max(200),
      foundOn: plainDate,
      diameterMicro: z.number().int().positive('a size above zero').max(50_000_000),
      diameterUnit: z.enum(diameterUnits),
      pressureMilli: milli.positive('a pressure above zero'),
      pressureUnit: z.enum(pressureUnits),
      coefficientMilli: milli
        .min(1, 'above 0 and up to 1')
        .max(1000, 'above 0 and up to 1')
        .nullable()
        .default(null),
      note,
      corrects,
      /** Of a correction: that it was mended, which the corrected entry says or should have said. */
      mended: z.object({ on: plainDate, note }).nullable().default(null),
    }),
    /** The stations that feed the device: the log of each has it. */
    output: z.object({ id: rowId, stations: z.array(z.string()) }),
  }),
  mendLeak: command({
    input: z.object({ leakId: rowId, mendedOn: plainDate, note }),
    output: z.object({ id: rowId }),
  }),
};
