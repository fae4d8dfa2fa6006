import { z } from 'zod';
import { isPlainDate } from '../dates/plainDate.ts';
import { energyKinds } from '../energy/kinds.ts';
import { UPLOAD_BODY, command, job, nothing, query } from './define.ts';
import { plainDate, problem, rowId } from './common.ts';

const price = z.number().min(0, 'not below zero').max(1000, 'at most 1000').nullable();

export const energySettings = z.object({
  /** Written before an amount, such as $. */
  currency: z.string().trim().max(8),
  heatPricePerTherm: price,
  electricityPricePerKwh: price,
  /** A public station by its id, `own`, or empty: none. */
  weather: z.string().max(60),
  /** By how much the balance point lies below the setpoint where a building's loss and gains are not known, degF. */
  balanceBelowDegF: z.number().min(0).max(40),
  /** Hours a year that a branch rests in an overlap. */
  overlapHours: z.number().min(0).max(8760),
  kwPerTon: z.number().min(0.2).max(5),
  /** Work to mend what has no test point that tells how long it takes: a leak, a bleed, an overlap, a main. */
  repairMinutes: z.number().int().min(1, 'at least 1').max(10_000),
});
export type EnergySettings = z.infer<typeof energySettings>;

/** 65 degF for rooms of 72 degF; 900 h and 1 kW a ton of the reference's example; an hour for a repair. Common practice, all to be set by the owner. */
export const defaultEnergySettings: EnergySettings = {
  currency: '$',
  heatPricePerTherm: null,
  electricityPricePerKwh: null,
  weather: '',
  balanceBelowDegF: 7,
  overlapHours: 900,
  kwPerTon: 1,
  repairMinutes: 60,
};

const band = z.object({ low: z.number(), central: z.number(), high: z.number() });

const amounts = z.object({
  /** degF.h a year; null for what is no setpoint. */
  degreeHours: band.nullable(),
  therms: band.nullable(),
  kwh: band.nullable(),
  money: band.nullable(),
});
export type EnergyAmounts = z.infer<typeof amounts>;

export const energyEntry = z.object({
  rank: z.number().int(),
  kind: z.enum(energyKinds),
  deviceId: rowId,
  tag: z.string(),
  role: z.string(),
  building: z.string().nullable(),
  main: z.string().nullable(),
  words: z.string(),
  /** degF, control point less intended: as it stands now. */
  errorDegF: z.number().nullable(),
  isOutside: z.boolean().nullable(),
  /** A year of it, were it the only fault. Negative: putting it right costs. */
  alone: amounts,
  /** What mending it saves after what comes before it was mended: these may be added. */
  inOrder: amounts,
  /** Of the period, by its visits, growing between them: degF.h and therms. */
  period: z
    .object({ degreeHours: z.number(), therms: z.number().nullable(), knownDays: z.number().int() })
    .nullable(),
  method: z.string(),
  base: z.string(),
  confidence: z.enum(['medium', 'low']),
  minutes: z.number().int().nullable(),
  /** Money, else degF.h, an hour of work saves in a year. */
  perHour: z.number().nullable(),
});
export type EnergyEntry = z.infer<typeof energyEntry>;

export const energyRanking = z.object({
  on: z.string(),
  period: z.object({ from: z.string(), to: z.string() }),
  currency: z.string(),
  weather: z.object({ name: z.string(), source: z.string() }).nullable(),
  entries: z.array(energyEntry),
  /** By main: a cause in common weighs more than single rooms. Mean error of the occupied, only and heating setpoints, degF. */
  mains: z.array(
    z.object({
      main: z.string().nullable(),
      zones: z.number().int(),
      meanErrorDegF: z.number().nullable(),
      inOrder: amounts,
    }),
  ),
  /** Of everything that is listed, in order: what may be added. */
  total: amounts,
  /** Setpoints that were weighed, lie within half their tolerance, have no reading that tells, and keep no room. */
  counts: z.object({
    weighed: z.number().int(),
    near: z.number().int(),
    unknown: z.number().int(),
    noZone: z.number().int(),
  }),
  /** What is not known, and so has no money or no fuel. */
  lacking: z.array(z.string()),
  cautions: z.array(z.string()),
});
export type EnergyRanking = z.infer<typeof energyRanking>;

const period = {
  from: plainDate.nullable().default(null),
  to: plainDate.nullable().default(null),
};

export const baselineInput = z.object({
  building: z.string().max(40).nullable().default(null),
  main: z.string().max(60).nullable().default(null),
  ...period,
});

export const baseline = z.object({
  from: z.string(),
  to: z.string(),
  scope: z.string(),
  setpoints: z.number().int(),
  /** Setpoints without area, loss or efficiency: not in the therms. */
  withoutLoss: z.number().int(),
  months: z.array(
    z.object({
      month: z.string(),
      /** Mean error of the setpoints, degF, weighted by their loss; null where nothing is known. */
      meanErrorDegF: z.number().nullable(),
      knownShare: z.number(),
      /** By the model, therms. */
      asOperated: z.number(),
      asIntended: z.number(),
      /** Of the bills; null without. */
      billed: z.number().nullable(),
      adjustment: z.number(),
    }),
  ),
  asOperated: z.number(),
  asIntended: z.number(),
  billed: z.number().nullable(),
  /** To subtract from a baseline that stands for calibrated operation; central, with its band. */
  adjustment: band,
  /** Of the bills less the adjustment; null without bills of every month. */
  billedAsIntended: band.nullable(),
  events: z.array(z.object({ date: z.string(), what: z.string() })),
  words: z.array(z.string()),
  method: z.string(),
  cautions: z.array(z.string()),
});
export type Baseline = z.infer<typeof baseline>;

const upload = z.object({
  name: z.string().max(200),
  base64: z.string(),
});
const loadInput = z.object({ file: upload, dryRun: z.boolean().default(false) });
const loaded = z.object({ problems: z.array(problem), rows: z.number().int(), message: z.string() });
export type EnergyLoad = z.infer<typeof loaded>;

export const energy = {
  settings: query({
    input: nothing,
    output: z.object({
      values: energySettings,
      version: z.number().int(),
      stations: z.array(z.object({ id: z.string(), name: z.string() })),
      own: z
        .object({ name: z.string(), source: z.string(), days: z.number().int(), bases: z.number().int() })
        .nullable(),
      bills: z.array(
        z.object({
          meter: z.string(),
          unit: z.string(),
          months: z.number().int(),
          from: z.string(),
          to: z.string(),
        }),
      ),
    }),
  }),
  saveSettings: command({
    input: energySettings.extend({ version: z.number().int(), why: z.string().trim().max(500).default('') }),
    output: nothing,
  }),
  /** Daily temperatures, monthly means, or a station's file of normals. */
  loadWeather: command({ input: loadInput, output: loaded, bodyLimit: UPLOAD_BODY }),
  /** Use and cost of meters by month. */
  loadBills: command({ input: loadInput, output: loaded, bodyLimit: UPLOAD_BODY }),
  rank: job({
    input: z.object({
      on: z.string().refine(isPlainDate, 'not a date').nullable().default(null),
      ...period,
    }),
    output: energyRanking,
  }),
  baseline: job({ input: baselineInput, output: baseline }),
};
