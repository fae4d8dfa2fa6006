import { z } from 'zod';
import { instrumentKinds, instrumentUnits } from '../cards/instruments.ts';
import { accuracyForms, gaugeGrades } from '../trade/doubt.ts';
import { milli, outcome, plainDate, relation, rowId, unit, verdict } from './common.ts';
import { command, nothing, query } from './define.ts';
import { refuse, versioned } from './inputs.ts';

const gaugeUnit = z.enum(['psi', 'kPa', 'degF', 'degC', 'percent']);

export const certificate = z.object({
  id: rowId,
  number: z.string(),
  issuedOn: z.string(),
  dueOn: z.string(),
  doubtMilli: milli.nullable(),
  note: z.string(),
});

export const gauge = z.object({
  id: rowId,
  tag: z.string(),
  kind: z.enum(instrumentKinds),
  unit: gaugeUnit,
  rangeLowMilli: milli,
  rangeHighMilli: milli,
  accuracyForm: z.enum(accuracyForms),
  accuracyMilli: milli.nullable(),
  accuracyGrade: z.string().nullable(),
  stepMilli: milli.nullable(),
  /** Greatest error by its accuracy, in its own unit; null when not known. */
  limitMilli: milli.nullable(),
  certificateDueOn: z.string().nullable(),
  isLapsed: z.boolean(),
  retiredOn: z.string().nullable(),
  certificates: z.array(certificate),
  faults: z.array(
    z.object({ id: rowId, foundOn: z.string(), sinceOn: z.string(), biasMilli: milli, note: z.string() }),
  ),
  records: z.number().int(),
  /** Good enough for which tolerances of the classes. */
  fitness: z.array(
    z.object({
      kind: z.string(),
      toleranceMilli: milli,
      unit,
      ratio: z.number(),
      adequacy: z.enum(['good', 'coarse', 'too coarse']),
    }),
  ),
  version: z.number().int(),
});
export type Gauge = z.infer<typeof gauge>;

const gaugeInput = z
  .object({
    ...versioned,
    tag: z.string().trim().min(1).max(40),
    kind: z.enum(instrumentKinds),
    unit: gaugeUnit,
    rangeLowMilli: milli,
    rangeHighMilli: milli,
    accuracyForm: z.enum(accuracyForms),
    accuracyMilli: milli.min(0, 'an accuracy is zero or more').nullable(),
    accuracyGrade: z.string().nullable(),
    stepMilli: milli.min(1, 'a step is above zero').nullable(),
    /** For an instrument whose certificates are not in the book. */
    certificateDueOn: plainDate.nullable(),
    retiredOn: plainDate.nullable(),
  })
  .superRefine((one, context) => {
    refuse(
      context,
      !instrumentUnits[one.kind].includes(one.unit),
      'unit',
      `a ${one.kind} instrument reads in ${instrumentUnits[one.kind].join(' or ')}`,
    );
    refuse(
      context,
      one.rangeHighMilli <= one.rangeLowMilli,
      'rangeHighMilli',
      'the range ends above its start',
    );
    refuse(
      context,
      one.accuracyForm === 'grade' &&
        !(one.accuracyGrade !== null && Object.hasOwn(gaugeGrades, one.accuracyGrade)),
      'accuracyGrade',
      `a grade is one of: ${Object.keys(gaugeGrades).join(', ')}`,
    );
    refuse(
      context,
      one.accuracyForm === 'grade' && one.kind !== 'pressure',
      'accuracyForm',
      'grades are for pressure gauges',
    );
    refuse(
      context,
      one.accuracyForm === 'percent of span' && (one.accuracyMilli ?? 0) > 100_000,
      'accuracyMilli',
      'at most 100 percent',
    );
  });

export const restated = z.object({
  calibrationId: rowId,
  deviceId: rowId,
  testPointId: rowId,
  tag: z.string(),
  kind: z.string(),
  role: z.string(),
  doneOn: z.string(),
  person: z.string(),
  outcome,
  unit,
  foundMilli: milli.nullable(),
  foundRelation: relation.nullable(),
  verdictFound: verdict.nullable(),
  restatedFoundMilli: milli.nullable(),
  restatedVerdictFound: verdict.nullable(),
  leftMilli: milli.nullable(),
  verdictLeft: verdict.nullable(),
  restatedLeftMilli: milli.nullable(),
  restatedVerdictLeft: verdict.nullable(),
  /** A verdict would have been another. */
  changes: z.boolean(),
  /** Why nothing can be re-stated; null when it was. */
  notRestated: z.string().nullable(),
});
export type Restated = z.infer<typeof restated>;

/** Plus: the instrument read too high. */
const bias = milli.refine((value) => value !== 0, 'a bias of zero changes nothing');

export const gauges = {
  list: query({ input: nothing, output: z.object({ rows: z.array(gauge) }) }),
  save: command({ input: gaugeInput, output: z.object({ id: rowId }) }),
  addCertificate: command({
    input: z
      .object({
        gaugeId: rowId,
        number: z.string().trim().min(1).max(60),
        issuedOn: plainDate,
        dueOn: plainDate,
        doubtMilli: milli.min(0).nullable(),
        note: z.string().max(500).default(''),
      })
      .superRefine(({ issuedOn, dueOn }, context) =>
        refuse(context, dueOn <= issuedOn, 'dueOn', 'a certificate ends after it was issued'),
      ),
    output: z.object({ id: rowId }),
  }),
  /** Every record taken with an instrument since a day, each re-stated with the bias. Without a day: since its last good certificate. */
  trace: query({
    input: z.object({
      gaugeId: rowId,
      biasMilli: bias,
      foundOn: plainDate,
      sinceOn: plainDate.nullable().default(null),
    }),
    output: z.object({ sinceOn: z.string().nullable(), rows: z.array(restated), total: z.number().int() }),
  }),
  /** Notes the bias, and opens a follow-up for each named record in the same step. */
  reportFault: command({
    input: z.object({
      gaugeId: rowId,
      biasMilli: bias,
      foundOn: plainDate,
      sinceOn: plainDate,
      note: z.string().max(500).default(''),
      personId: rowId,
      calibrationIds: z.array(rowId).max(20_000),
    }),
    output: z.object({ id: rowId, followUps: z.number().int() }),
  }),
};
