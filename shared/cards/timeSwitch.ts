/** The card of a time switch: the clock, what it is programmed to, its reserve and its override. */
import { ofStep } from '../trade/doubt.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import { fromMilli } from '../units/units.ts';
import type {
  BaseFacts,
  CardDescription,
  CardEntry,
  CardStep,
  ClassJudgement,
  MeasuredError,
} from './card.ts';
import {
  cautionTexts,
  choice,
  figureOf,
  found,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  yesNo,
  isCompleting,
  limitsOfPoint,
} from './common.ts';

export type TimeSwitchFacts = BaseFacts & {
  card: 'time_switch';
  programme: readonly string[];
  restState: string | null;
  holidays: readonly string[];
  reserveHours: number | null;
};

const needed = { isNeeded: true, onPaper: true } as const;

/** A clock is read to the minute. */
const CLOCK_STEP_MINUTES = 1;

const NO_RESERVE = 'there is none';

const questions = [
  ['weekday', 'Weekday and date are right', 'clock wrong'],
  ['daylight', 'Daylight-saving state is right', 'clock wrong'],
  ['programme', 'Programme is the approved one', 'programme wrong'],
  ['holidays', 'Holidays are loaded', 'programme wrong'],
  ['reserve', 'Keeps time through 5 minutes without power', 'clock wrong'],
  ['override', 'Override works and ends by itself', 'programme wrong'],
] as const satisfies readonly (readonly [string, string, SymptomKey])[];

const steps: readonly CardStep<TimeSwitchFacts>[] = [
  {
    key: 'found',
    title: 'Clock as found',
    fields: [
      found('clock', 'Clock ahead of the right time by', 'error minutes', {
        ...needed,
        quantity: 'clock error',
        help: 'minutes; behind is minus',
      }),
      ...questions
        .slice(0, 2)
        .map(([key, label]) => choice<TimeSwitchFacts>(key, label, yesNo, { ...needed, phase: 'found' })),
    ],
  },
  {
    key: 'programme',
    title: 'Programme',
    lead: ({ programme, restState, holidays }) =>
      [
        programme.length > 0 ? `Approved: ${programme.join('; ')}.` : 'No programme is in the register.',
        restState ? `At other times ${restState}.` : '',
        holidays.length > 0
          ? `Holidays ahead: ${holidays.join(', ')}.`
          : 'No holidays ahead are in the register.',
      ]
        .filter((words) => words)
        .join(' '),
    fields: questions
      .slice(2, 4)
      .map(([key, label]) => choice<TimeSwitchFacts>(key, label, yesNo, { ...needed, phase: 'found' })),
  },
  {
    key: 'reserve',
    title: 'Reserve and override',
    lead: ({ reserveHours }) =>
      reserveHours === null ? '' : `It should keep time for ${reserveHours} h without power.`,
    fields: questions.slice(4).map(([key, label]) =>
      choice<TimeSwitchFacts>(key, label, key === 'reserve' ? [...yesNo, NO_RESERVE] : yesNo, {
        ...needed,
        phase: 'found',
      }),
    ),
  },
  {
    key: 'left',
    title: 'As left',
    whenAdjusted: true,
    fields: [
      figureOf(
        'left',
        { key: 'clockLeft', label: 'Clock ahead by, as left', measure: 'error minutes' },
        { isNeeded: true, quantity: 'clock error' },
      ),
      choice('allLeft', 'Date, programme, holidays and override are right now', yesNo, {
        phase: 'left',
        isNeeded: true,
        quantity: 'all right',
      }),
      choice('reserveLeft', 'Keeps time through 5 minutes without power now', yesNo, {
        phase: 'left',
        quantity: 'reserve',
      }),
    ],
  },
];

function judge(facts: TimeSwitchFacts, entry: CardEntry): ClassJudgement {
  const { remarks, expected, expect, check } = notes();
  const { number, text } = reader(entry.values);
  const problems: ClassJudgement['problems'] = [];
  const symptoms: SymptomKey[] = [];
  const [point] = facts.points;
  const tolerance = fromMilli(point.toleranceMilli);
  expect('Clock', `within ${tolerance} min of the right time`);
  for (const [key, label, symptom] of questions) {
    const answer = text(key);
    // A clock that the register knows without a reserve has none to lose.
    if (answer === null || (answer === NO_RESERVE && facts.reserveHours === null)) continue;
    const step = steps.find(({ fields }) => fields.some((field) => field.key === key))?.key ?? 'found';
    if (
      check(
        step,
        answer === 'yes',
        answer === 'yes' ? `${label.toLowerCase()}` : `not so: ${label.toLowerCase()}`,
      )
    )
      continue;
    symptoms.push(symptom);
    const isMended = entry.adjusted && text(key === 'reserve' ? 'reserveLeft' : 'allLeft') === 'yes';
    if (!isMended && isCompleting(entry))
      problems.push({
        field: key,
        reason:
          key === 'reserve'
            ? `without its reserve it loses time at the next power failure: the device failed${entry.adjusted ? '; its reserve changed: test it again and say so' : ''}`
            : entry.outcome === 'held'
              ? `“held” means that nothing was wrong: ${label.toLowerCase()}`
              : 'mend it, and tick what was left; or the device failed',
      });
  }
  const measured = (key: string): MeasuredError | null => {
    const error = number(key);
    return error === null
      ? null
      : {
          kind: 'error',
          error,
          relation: '=',
          method: 'read',
          doubt: [{ name: 'clock read to the minute', u: ofStep(CLOCK_STEP_MINUTES) }],
        };
  };
  for (const key of ['allLeft', 'reserveLeft'])
    if (entry.outcome === 'adjusted' && text(key) === 'no')
      problems.push({ field: key, reason: 'something is still wrong: the outcome is not “adjusted”' });
  const found = measured('clock');
  if (found?.kind === 'error' && Math.abs(found.error) > tolerance) symptoms.push('clock wrong');
  return {
    expected,
    remarks,
    problems,
    points: [
      {
        point: point.key,
        limits: limitsOfPoint(point),
        found,
        left: entry.adjusted ? measured('clockLeft') : null,
      },
    ],
    isShut: false,
    airState: null,
    symptoms: [...new Set(symptoms)],
  };
}

export const timeSwitchCard: CardDescription<TimeSwitchFacts> = {
  title: 'Time switch',
  instruments: [],
  preconditions: [preconditionTicks.people, preconditionTicks.lockout],
  restored: [restoredTicks.main, restoredTicks.override, restoredTicks.covers],
  circumstances: () => [],
  cautions: () => [cautionTexts.lineVoltage, cautionTexts.mercury, cautionTexts.freeze],
  steps,
  toleranceFor: () => null,
  judge,
};
