/** The card of an air station: cycles, drains, dew point with its pressure, filters, regulators, relief, standby. */
import { daysBetween } from '../dates/plainDate.ts';
import { runVerdict } from '../trade/air/leakTests.ts';
import { dewPointAt, mostDewPoint } from '../trade/dewPoint.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import { convertPressure, convertTemperature, fromMilli, toMilli } from '../units/units.ts';
import type {
  BaseFacts,
  CardDescription,
  CardEntry,
  CardStep,
  ClassJudgement,
  JudgeContext,
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
  faults,
  isCompleting,
} from './common.ts';
import { doubtOf, scaled } from './instruments.ts';
import { figure } from './measures.ts';

export type StationFacts = BaseFacts & {
  card: 'air_station';
  coldestMilli: number | null;
};

const needed = { isNeeded: true, onPaper: true } as const;
const cycles = [1, 2, 3] as const;
/** How far the receiver may stand from what it cuts in and out at: two gauges. psi, common practice. */
const RECEIVER_SLACK_PSI = 5;
/** Above it the element is changed. Common practice. */
export const MOST_FILTER_DROP_PSI = 10;
/** Half of the step over which the slope of the re-statement is taken, degrees. */
const HALF_DEGREE = 0.5;
const SAFETY_VALVE_DAYS = 366;

const steps: readonly CardStep<StationFacts>[] = [
  {
    key: 'cycles',
    title: 'Compressor, three cycles',
    fields: [
      ...cycles.flatMap((index) => [
        found<StationFacts>(`on${index}`, `Runs, cycle ${index}`, 'minutes', {
          ...needed,
          quantity: `on time ${index}`,
        }),
        found<StationFacts>(`off${index}`, `Rests, cycle ${index}`, 'minutes', {
          ...needed,
          quantity: `off time ${index}`,
        }),
      ]),
      found('cutIn', 'Cuts in at', 'supply pressure', needed),
      found('cutOut', 'Cuts out at', 'supply pressure', needed),
    ],
  },
  {
    key: 'receiver',
    title: 'Receiver and drains',
    fields: [
      found('receiver', 'Receiver pressure', 'supply pressure', { ...needed }),
      found('drained', 'Water drained', 'millilitres', needed),
      choice('oil', 'Oil in the water', yesNo, { ...needed, phase: 'found' }),
      choice('autoDrain', 'Automatic drain works', ['yes', 'no', 'there is none'], {
        ...needed,
        phase: 'found',
      }),
      choice('handDrain', 'Manual drain works', yesNo, { ...needed, phase: 'found' }),
    ],
  },
  {
    key: 'machine',
    title: 'Machine',
    fields: [
      choice('belt', 'Belt and guard sound', ['yes', 'no', 'there is none'], {
        phase: 'found',
        isNeeded: true,
      }),
      choice('oilLevel', 'Oil level right', ['yes', 'no', 'there is none'], {
        phase: 'found',
        isNeeded: true,
      }),
      choice('intake', 'Intake filter clean', yesNo, { phase: 'found', isNeeded: true }),
    ],
  },
  {
    key: 'found',
    title: 'Dryer and filters',
    lead: () => 'A dew point without the pressure it refers to says nothing.',
    fields: [
      found('dewPoint', 'Dew point', 'medium temperature', { ...needed, quantity: 'dew point' }),
      found('dewPressure', 'Dew point refers to', 'supply pressure', {
        ...needed,
        quantity: 'pressure of the dew point',
      }),
      found('drop1', 'Filter drop, first stage', 'pressure drop', needed),
      found('drop2', 'Filter drop, second stage', 'pressure drop', {}),
    ],
  },
  {
    key: 'valves',
    title: 'Reducing valves and safety',
    fields: [
      choice('reducing', 'Reducing valves hold their settings', yesNo, { ...needed, phase: 'found' }),
      choice('relief', 'Relief valve lifts and reseats', yesNo, { ...needed, phase: 'found' }),
      {
        kind: 'date',
        key: 'safetyValve',
        label: 'Safety valve tested on',
        quantity: 'safety valve tested',
        phase: 'found',
        isNeeded: true,
      },
      choice('standby', 'Standby takes over and back', ['yes', 'no', 'there is none'], {
        ...needed,
        phase: 'found',
      }),
    ],
  },
  {
    key: 'left',
    title: 'As left',
    whenAdjusted: true,
    fields: [
      figureOf(
        'left',
        { key: 'dewPointLeft', label: 'Dew point as left', measure: 'medium temperature' },
        { isNeeded: true, quantity: 'dew point' },
      ),
      figureOf(
        'left',
        { key: 'dewPressureLeft', label: 'As left it refers to', measure: 'supply pressure' },
        { isNeeded: true, quantity: 'pressure of the dew point' },
      ),
      choice('mended', 'Everything found wrong above is right now', yesNo, { phase: 'left', isNeeded: true }),
    ],
  },
];

const asked = [
  ['handDrain', 'yes', 'the manual drain', 'oil or water in the air'],
  ['autoDrain', 'yes', 'the automatic drain', 'oil or water in the air'],
  ['oil', 'no', 'oil-free water', 'oil or water in the air'],
  ['belt', 'yes', 'belt and guard', 'main low everywhere, receiver low'],
  ['oilLevel', 'yes', 'the oil level', 'main low everywhere, receiver low'],
  ['intake', 'yes', 'the intake filter', 'main low everywhere, receiver low'],
  ['reducing', 'yes', 'the reducing valves', 'main low everywhere, receiver normal'],
  ['relief', 'yes', 'the relief valve', 'safety device not proved'],
  ['standby', 'yes', 'the standby', 'standby does not start'],
] as const satisfies readonly (readonly [string, string, string, SymptomKey])[];

/** The whole cycles among the readings of a card, by the names under which they are stored; figures in one unit. */
export function cyclesOf(
  readings: readonly { quantity: string; value: number }[],
): { on: number; off: number }[] {
  const get = (quantity: string): number | undefined =>
    readings.find((one) => one.quantity === quantity)?.value;
  return cycles.flatMap((index) => {
    const [on, off] = [get(`on time ${index}`), get(`off time ${index}`)];
    return on === undefined || off === undefined ? [] : [{ on, off }];
  });
}

/** Run fraction over what was timed; null without a whole cycle. */
export function runFraction(cycle: readonly { on: number; off: number }[]): number | null {
  const on = cycle.reduce((sum, one) => sum + one.on, 0);
  const all = cycle.reduce((sum, one) => sum + one.on + one.off, 0);
  return all > 0 ? on / all : null;
}

function judge(facts: StationFacts, entry: CardEntry, context: JudgeContext): ClassJudgement {
  const { remarks, expected, expect, check, say } = notes();
  const { number, text } = reader(entry.values);
  const { problems, symptoms, wrong, wrongStill } = faults(
    entry,
    [],
    entry.adjusted && text('mended') === 'yes',
  );
  const unit = facts.temperatureUnit;
  const psi = (value: number): number => convertPressure(value, facts.pressureUnit, 'psi');
  const toF = (value: number): number => convertTemperature(value, unit, 'degF');
  const fromF = (value: number): number => convertTemperature(value, 'degF', unit);
  const most = fromF(mostDewPoint(facts.coldestMilli === null ? null : toF(fromMilli(facts.coldestMilli))));
  const t = (value: number): string => figure(toMilli(Math.round(value * 10) / 10), unit);
  expect('Runs', 'a third of the time; at most half');
  expect(
    'Dew point at line pressure',
    `at most ${t(most)}${facts.coldestMilli === null ? '; the coldest place is not in the register' : ''}`,
  );
  expect(
    'Filter drop',
    `at most ${figure(toMilli(convertPressure(MOST_FILTER_DROP_PSI, 'psi', facts.pressureUnit)), facts.pressureUnit)}`,
  );
  const timed = cycles.flatMap((index) => {
    const [on, off] = [number(`on${index}`), number(`off${index}`)];
    if (on !== null && on <= 0 && isCompleting(entry))
      problems.push({ field: `on${index}`, reason: 'a cycle has a time in which it runs' });
    return on === null || off === null ? [] : [{ on, off }];
  });
  const share = runFraction(timed);
  if (share !== null) {
    const words = `runs ${Math.round(1000 * share) / 10} % of the time over ${timed.length === 1 ? 'one cycle' : `${timed.length} cycles`}`;
    say('cycles', ({ good: 'right', look: 'look', 'too long': 'wrong' } as const)[runVerdict(share)], words);
    if (runVerdict(share) === 'too long')
      wrong(
        'cycles',
        'it runs more than half of the time: leaks, load or a worn pump',
        'run fraction rising',
      );
  }
  const [cutIn, cutOut] = [number('cutIn'), number('cutOut')];
  if (cutIn !== null && cutOut !== null && cutOut <= cutIn)
    problems.push({ field: 'cutOut', reason: 'it cuts out above the pressure at which it cuts in' });
  for (const [key, right, words, symptom] of asked) {
    const answer = text(key);
    if (answer === null || answer === 'there is none') continue;
    const step = steps.find(({ fields }) => fields.some((field) => field.key === key))?.key ?? 'machine';
    if (answer === right) continue;
    check(step, false, `not right: ${words}`);
    wrong(key, `not right: ${words}; mend it, or the device failed`, symptom);
  }
  for (const key of ['drop1', 'drop2'] as const) {
    const drop = number(key);
    if (drop === null) continue;
    if (
      !check(
        'found',
        psi(drop) <= MOST_FILTER_DROP_PSI + 1e-9,
        `filter drop ${figure(toMilli(drop), facts.pressureUnit)}`,
      )
    )
      wrong(key, 'change the element', 'filter drop high');
  }
  const tested = text('safetyValve');
  if (tested !== null) {
    const days = daysBetween(tested, context.doneOn);
    if (days < 0) problems.push({ field: 'safetyValve', reason: 'lies after the date of the work' });
    else if (!check('valves', days <= SAFETY_VALVE_DAYS, `safety valve tested ${days} days ago`))
      wrongStill(
        'safetyValve',
        'the test of the safety valve is overdue: the receiver’s own rules come first',
        'safety device not proved',
      );
  }
  const receiver = number('receiver');
  const slack = convertPressure(RECEIVER_SLACK_PSI, 'psi', facts.pressureUnit);
  if (
    receiver !== null &&
    cutIn !== null &&
    cutOut !== null &&
    (receiver < cutIn - slack || receiver > cutOut + slack)
  )
    wrong(
      'receiver',
      'the receiver stands between the pressures at which the machine cuts in and out',
      receiver < cutIn ? 'main low everywhere, receiver low' : 'run fraction rising',
    );
  const measured = (dewKey: string, pressureKey: string): MeasuredError | null => {
    const [dew, at] = [number(dewKey), number(pressureKey)];
    if (dew === null || at === null) return null;
    const restated = (value: number): number =>
      receiver === null || receiver === at
        ? value
        : convertTemperature(
            dewPointAt(convertTemperature(value, unit, 'degC'), psi(at), psi(receiver)),
            'degC',
            unit,
          );
    const atLine = restated(dew);
    if (receiver !== null && receiver !== at) {
      say(
        'found',
        'plain',
        `re-stated from ${figure(toMilli(at), facts.pressureUnit)} to the receiver’s ${figure(toMilli(receiver), facts.pressureUnit)}: ${t(atLine)}`,
      );
    }
    return {
      kind: 'error',
      error: atLine - most,
      relation: '=',
      method: 'read',
      // A degree where it was read is more, or less, than a degree at line pressure.
      doubt: scaled(
        doubtOf(context.instruments.temperature, unit),
        restated(dew + HALF_DEGREE) - restated(dew - HALF_DEGREE),
      ),
    };
  };
  const dew = measured('dewPoint', 'dewPressure');
  if (dew?.kind === 'error' && dew.error > 0) symptoms.push('dew point high');
  if (entry.outcome === 'held' && symptoms.length > 0)
    problems.push({ field: 'outcome', reason: 'something was found wrong: “held” means that nothing was' });
  if (entry.outcome === 'adjusted' && text('mended') === 'no')
    problems.push({ field: 'mended', reason: 'something is still wrong: the outcome is not “adjusted”' });
  const [point] = facts.points;
  const limits = { low: null, high: 0 };
  return {
    expected,
    remarks,
    problems,
    points: [
      {
        point: point.key,
        limits: { found: limits, left: limits },
        found: dew,
        left: entry.adjusted ? measured('dewPointLeft', 'dewPressureLeft') : null,
      },
    ],
    isShut: false,
    airState: null,
    symptoms: [...new Set(symptoms)],
  };
}

export const stationCard: CardDescription<StationFacts> = {
  title: 'Air station',
  instruments: ['pressure', 'temperature'],
  preconditions: [
    preconditionTicks.gauges,
    preconditionTicks.people,
    preconditionTicks.lockout,
    preconditionTicks.relieved,
  ],
  restored: [restoredTicks.override, restoredTicks.valves, restoredTicks.covers],
  circumstances: () => [],
  cautions: () => [
    cautionTexts.storedAir,
    cautionTexts.receiver,
    cautionTexts.lineVoltage,
    cautionTexts.refrigerant,
  ],
  steps,
  // Filter drops and cycles are coarse work; the dew-point instrument is held against its tolerance.
  toleranceFor: (facts, kind) => (kind === 'temperature' ? fromMilli(facts.points[0].toleranceMilli) : null),
  judge,
};
