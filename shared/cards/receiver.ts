/** The card of a receiver-controller: setpoint by test pressure, measured gain, and the reset by another temperature. */
import { ofStep } from '../trade/doubt.ts';
import type { Contribution } from '../trade/doubt.ts';
import { receiverGain, resetSetpoint } from '../trade/transmitters.ts';
import type { ControllerAction } from '../trade/proportional.ts';
import { convertPressure, formatMilli, fromMilli, toMilli } from '../units/units.ts';
import type {
  BaseFacts,
  CardDescription,
  CardEntry,
  CardStep,
  ClassJudgement,
  JudgeContext,
  Measure,
  MeasuredError,
} from './card.ts';
import {
  cautionTexts,
  circumstanceTicks,
  choice,
  figureOf,
  found,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  yesNo,
  besidesOf,
  doesNotFollow,
  faults,
  limitsOfPoint,
  isCompleting,
} from './common.ts';
import { doubtOf, scaled } from './instruments.ts';
import { ABOVE_MAIN_PSI, RANGE_TIMES, figure } from './measures.ts';

export type ReceiverFacts = BaseFacts & {
  card: 'receiver';
  dialMilli: number;
  action: ControllerAction;
  calibrationPressureMilli: number | null;
  throttlingRangeMilli: number;
  outputLowMilli: number;
  outputHighMilli: number;
  /** Span and signal of the transmitter that it reads, in this device's units; null: none is in the register. */
  transmitter: {
    tag: string;
    spanLowMilli: number;
    spanHighMilli: number;
    signalLowMilli: number;
    signalHighMilli: number;
  } | null;
  reset: {
    fromAtMilli: number;
    fromSetpointMilli: number;
    toAtMilli: number;
    toSetpointMilli: number;
  } | null;
};

const needed = { isNeeded: true, onPaper: true } as const;
const hasReset = ({ reset }: ReceiverFacts): boolean => reset !== null;
/**
 * Marks of the dial in degrees; how far the measured range may stand from the registered one before it is said.
 * Common practice, no source.
 */
const dialMarks = { degF: 1, degC: 0.5 } as const;
const RANGE_SHARE = 0.1;
/** Least move of the test pressure between the two readings of the gain, psi; least part of the schedule between its two. */
const GAIN_MOVE_PSI = 0.5;
const SCHEDULE_SHARE = 0.25;
const DIAL_PUT_BACK_MILLI = 500;

const gainLead = ({ pressureUnit }: ReceiverFacts): string =>
  `Move the test pressure ${figure(toMilli(convertPressure(0.5, 'psi', pressureUnit)), pressureUnit)} either way and read the output. The measured gain counts, not its dial.`;

const gainFields = ['Test pressure, up', 'Output, up', 'Test pressure, down', 'Output, down'] as const;
const gainKeys = ['testUp', 'outputUp', 'testDown', 'outputDown'] as const;
const resetFields = [
  'Other temperature, first',
  'Setpoint there, first',
  'Other temperature, second',
  'Setpoint there, second',
] as const;
const resetKeys = ['resetAt1', 'resetSetpoint1', 'resetAt2', 'resetSetpoint2'] as const;

/** The same readings as found, and again after an adjustment. */
const readTwice = (
  keys: readonly string[],
  labels: readonly string[],
  measure: Measure,
  rest: Parameters<typeof figureOf<ReceiverFacts>>[2],
) => ({
  found: keys.map((key, index) => figureOf('check', { key, label: labels[index], measure }, rest)),
  left: keys.map((key, index) =>
    figureOf<ReceiverFacts>(
      'left',
      { key: `${key}Left`, label: `${labels[index]}, as left`, measure },
      { quantity: labels[index].toLowerCase() },
    ),
  ),
});
const gain = readTwice(gainKeys, gainFields, 'pressure', needed);
const reset = readTwice(resetKeys, resetFields, 'medium temperature', { isNeeded: hasReset });

const steps: readonly CardStep<ReceiverFacts>[] = [
  {
    key: 'found',
    title: 'As found',
    lead: () =>
      'Take the sensor tube off and put test pressure on its port. Vary it until the output stands at the calibration pressure.',
    fields: [
      found('main', 'Main pressure at the device', 'pressure', { ...needed, quantity: 'main pressure' }),
      found('dial', 'Setpoint dial', 'dial', { ...needed, quantity: 'dial' }),
      found('test', 'Test pressure at calibration output', 'pressure', {
        ...needed,
        quantity: 'test pressure',
      }),
    ],
  },
  {
    key: 'gain',
    title: 'Gain',
    isWhole: true,
    lead: gainLead,
    fields: gain.found,
  },
  {
    key: 'reset',
    title: 'Reset schedule',
    isOn: hasReset,
    lead: ({ reset, temperatureUnit }) =>
      reset
        ? `${figure(reset.fromSetpointMilli, temperatureUnit)} at ${figure(reset.fromAtMilli, temperatureUnit)}, ${figure(reset.toSetpointMilli, temperatureUnit)} at ${figure(reset.toAtMilli, temperatureUnit)}. Check two values of the other temperature.`
        : '',
    isWhole: true,
    fields: reset.found,
  },
  {
    key: 'left',
    title: 'As left',
    whenAdjusted: true,
    fields: [
      figureOf(
        'left',
        { key: 'dialLeft', label: 'Setpoint dial as left', measure: 'dial' },
        { isNeeded: true, quantity: 'dial' },
      ),
      figureOf(
        'left',
        { key: 'testLeft', label: 'Test pressure at calibration output, as left', measure: 'pressure' },
        { isNeeded: true, quantity: 'test pressure' },
      ),
    ],
  },
  {
    key: 'gainLeft',
    title: 'Gain as left',
    whenAdjusted: true,
    isWhole: true,
    lead: () => 'Where the gain was set: read it again.',
    fields: gain.left,
  },
  {
    key: 'resetLeft',
    title: 'Reset schedule as left',
    isOn: hasReset,
    whenAdjusted: true,
    isWhole: true,
    lead: () => 'Where the reset was set: check two values again.',
    fields: reset.left,
  },
  {
    key: 'putBack',
    title: 'Put back',
    fields: [
      figureOf(
        'restored',
        { key: 'dialBack', label: 'Dial put back to', measure: 'dial' },
        {
          ...needed,
          quantity: 'dial put back',
          help: ({ dialMilli, scaleUnit }) => `working value ${figure(dialMilli, scaleUnit)}`,
        },
      ),
      choice('moves', 'Valve or damper moves to the side it should', yesNo, {
        quantity: 'final device moves',
      }),
    ],
  },
];

/** Degrees for a pressure on the sensor port; null without a transmitter. */
function temperatureOf({ transmitter }: ReceiverFacts, pressure: number): number | null {
  if (!transmitter) return null;
  const low = fromMilli(transmitter.signalLowMilli);
  const range = fromMilli(transmitter.signalHighMilli) - low;
  const span = fromMilli(transmitter.spanHighMilli - transmitter.spanLowMilli);
  return fromMilli(transmitter.spanLowMilli) + ((pressure - low) / range) * span;
}

function judge(facts: ReceiverFacts, entry: CardEntry, context: JudgeContext): ClassJudgement {
  const { remarks, expected, expect, check, say } = notes();
  const { number, text } = reader(entry.values);
  const { problems, symptoms, wrong } = faults(entry);
  const completes = isCompleting(entry);
  const [point] = facts.points;
  const p = (value: number): string => figure(toMilli(value), facts.pressureUnit);
  const t = (value: number): string => figure(toMilli(value), facts.temperatureUnit);
  const { transmitter } = facts;
  const perDegree = transmitter
    ? fromMilli(transmitter.signalHighMilli - transmitter.signalLowMilli) /
      fromMilli(transmitter.spanHighMilli - transmitter.spanLowMilli)
    : null;
  if (!transmitter || facts.calibrationPressureMilli === null) {
    if (completes)
      problems.push({
        field: 'outcome',
        reason: transmitter
          ? 'its calibration pressure is not known: the basis is the spring midpoint, and no actuator is in the register'
          : 'no transmitter on its supply path is in the register: what its sensor pressure means is not known',
      });
  } else {
    expect('Output at the setpoint', figure(facts.calibrationPressureMilli, facts.pressureUnit));
    const dial = number('dial') ?? fromMilli(facts.dialMilli);
    expect(
      'Test pressure for this dial',
      p(
        fromMilli(transmitter.signalLowMilli) +
          (dial - fromMilli(transmitter.spanLowMilli)) * (perDegree ?? 0),
      ),
    );
    expect(
      `Sensor ${transmitter.tag}`,
      `${figure(transmitter.spanLowMilli, facts.temperatureUnit)} to ${figure(transmitter.spanHighMilli, facts.temperatureUnit)}`,
    );
  }
  const measured = (testKey: string, dialKey: string): MeasuredError | null => {
    const [test, dial] = [number(testKey), number(dialKey)];
    const temperature = test === null ? null : temperatureOf(facts, test);
    if (temperature === null || dial === null || facts.calibrationPressureMilli === null) return null;
    const gauge = scaled(
      doubtOf(context.instruments.pressure, facts.pressureUnit),
      perDegree === null ? 0 : 1 / perDegree,
    );
    const doubt: Contribution[] | null = gauge && [
      ...gauge,
      { name: 'dial', u: ofStep(dialMarks[facts.temperatureUnit]) },
    ];
    return { kind: 'error', error: temperature - dial, relation: '=', method: 'test pressure', doubt };
  };
  const main = number('main');
  for (const key of ['test', 'testLeft', 'testUp', 'testDown', 'testUpLeft', 'testDownLeft']) {
    const pressure = number(key);
    if (
      main !== null &&
      pressure !== null &&
      pressure > main + convertPressure(ABOVE_MAIN_PSI, 'psi', facts.pressureUnit)
    )
      problems.push({ field: key, reason: `no sensor sends more than its main, ${p(main)}` });
  }
  for (const suffix of ['', 'Left'] as const) {
    for (const key of [`outputUp${suffix}`, `outputDown${suffix}`]) {
      const output = number(key);
      if (
        main !== null &&
        output !== null &&
        output > main + convertPressure(ABOVE_MAIN_PSI, 'psi', facts.pressureUnit)
      )
        problems.push({ field: key, reason: `an output cannot pass its main, ${p(main)}` });
    }
  }
  const gainWords = { found: ['gain', ''], left: ['gainLeft', 'as left '] } as const;
  const gainFault = (phase: 'found' | 'left'): string | null => {
    const [step, words] = gainWords[phase];
    const suffix = phase === 'left' ? 'Left' : '';
    const [testUp, outputUp, testDown, outputDown] = gainKeys.map((key) => number(`${key}${suffix}`));
    if (
      testUp === null ||
      outputUp === null ||
      testDown === null ||
      outputDown === null ||
      perDegree === null
    )
      return null;
    const move = convertPressure(Math.abs(testUp - testDown), facts.pressureUnit, 'psi');
    if (move < GAIN_MOVE_PSI - 1e-9) {
      const least = p(convertPressure(GAIN_MOVE_PSI, 'psi', facts.pressureUnit));
      problems.push({
        field: step,
        reason: `the test pressure must be moved at least ${least} between the two readings`,
      });
      return null;
    }
    const measuredGain = receiverGain(
      { test: testUp, output: outputUp },
      { test: testDown, output: outputDown },
    );
    if (measuredGain === 0) {
      check(step, false, `${words}the output does not follow the test pressure`);
      return 'the output does not follow: the device failed';
    }
    const range = fromMilli(facts.outputHighMilli - facts.outputLowMilli) / (measuredGain * perDegree);
    const registered = fromMilli(facts.throttlingRangeMilli);
    const width = Math.abs(range);
    const isReversed = measuredGain * perDegree > 0 !== (facts.action === 'direct');
    const isFar = width > RANGE_TIMES * registered || RANGE_TIMES * width < registered;
    const isNear = Math.abs(width - registered) <= RANGE_SHARE * registered;
    say(
      step,
      isReversed || isFar ? 'wrong' : isNear ? 'right' : 'look',
      `${words}gain ${formatMilli(toMilli(measuredGain))}, throttling range ${t(width)}; registered ${figure(facts.throttlingRangeMilli, facts.temperatureUnit)}`,
    );
    if (isReversed)
      return `the output moves the wrong way: the register says ${facts.action} acting; the device failed, or the register is wrong`;
    return isFar
      ? `the measured throttling range is ${width > registered ? 'more than twice' : 'less than half'} the registered one: set the gain, or mend the register`
      : null;
  };
  const resetFaults = (suffix: '' | 'Left'): string[] => {
    if (!facts.reset) return [];
    const schedule = {
      from: { at: fromMilli(facts.reset.fromAtMilli), setpoint: fromMilli(facts.reset.fromSetpointMilli) },
      to: { at: fromMilli(facts.reset.toAtMilli), setpoint: fromMilli(facts.reset.toSetpointMilli) },
    };
    const within = (at: number): number =>
      Math.min(
        Math.max(at, Math.min(schedule.from.at, schedule.to.at)),
        Math.max(schedule.from.at, schedule.to.at),
      );
    const [first, second] = [number(`resetAt1${suffix}`), number(`resetAt2${suffix}`)];
    const least = SCHEDULE_SHARE * Math.abs(schedule.to.at - schedule.from.at);
    if (
      first !== null &&
      second !== null &&
      completes &&
      Math.abs(within(first) - within(second)) < least - 1e-9
    )
      problems.push({
        field: `resetAt2${suffix}`,
        reason: `two temperatures of the schedule, ${t(schedule.from.at)} to ${t(schedule.to.at)}, at least a quarter of it apart show the slope`,
      });
    return ['1', '2'].flatMap((index) => {
      const field = `resetSetpoint${index}${suffix}`;
      const [at, setpoint] = [number(`resetAt${index}${suffix}`), number(field)];
      if (at === null || setpoint === null) return [];
      const wanted = resetSetpoint(at, schedule);
      const isRight = Math.abs(setpoint - wanted) <= fromMilli(point.toleranceMilli) + 1e-9;
      check(`reset${suffix}`, isRight, `at ${t(at)} it should hold ${t(wanted)}`);
      return isRight ? [] : [field];
    });
  };
  const [gainFound, gainLeft] = [gainFault('found'), gainFault('left')];
  const isGainRead = entry.adjusted && gainKeys.every((key) => number(`${key}Left`) !== null);
  if (isGainRead && gainLeft !== null) wrong('gainLeft', gainLeft, 'does not hold its adjustment');
  if (!isGainRead && gainFound !== null)
    wrong(
      'gain',
      entry.adjusted ? `as found ${gainFound}; read the gain again after the adjustment` : gainFound,
      'does not hold its adjustment',
    );
  const [resetFound, resetLeft] = [resetFaults(''), resetFaults('Left')];
  const isResetRead = entry.adjusted && resetKeys.every((key) => number(`${key}Left`) !== null);
  for (const field of isResetRead ? resetLeft : resetFound)
    wrong(
      field,
      !entry.adjusted || isResetRead
        ? 'the reset does not follow its schedule: adjust it, or the device failed'
        : 'as found the reset does not follow its schedule: read it again after the adjustment',
      'does not hold its adjustment',
    );
  const back = entry.values.dialBack;
  if (completes && typeof back === 'number' && Math.abs(back - facts.dialMilli) > DIAL_PUT_BACK_MILLI)
    problems.push({
      field: 'dialBack',
      reason: `the working value of the dial is ${formatMilli(facts.dialMilli)}`,
    });
  if (text('moves') === 'no') say('putBack', 'wrong', doesNotFollow);
  if (symptoms.length === 0 && (entry.adjusted || entry.outcome === 'device failed'))
    symptoms.push('does not hold its adjustment');
  return {
    expected,
    remarks,
    problems,
    points: [
      {
        point: point.key,
        limits: limitsOfPoint(point),
        found: measured('test', 'dial'),
        left: entry.adjusted ? measured('testLeft', 'dialLeft') : null,
      },
    ],
    isShut: false,
    airState: null,
    symptoms,
    besides: besidesOf(entry),
  };
}

export const receiverCard: CardDescription<ReceiverFacts> = {
  title: 'Receiver-controller',
  instruments: ['pressure'],
  preconditions: [
    preconditionTicks.supply,
    preconditionTicks.weather,
    preconditionTicks.gauge,
    preconditionTicks.people,
  ],
  restored: [restoredTicks.override, restoredTicks.valves, restoredTicks.signal],
  circumstances: () => [circumstanceTicks.repaired],
  cautions: () => [cautionTexts.freeze, cautionTexts.heat, cautionTexts.steam],
  steps,
  toleranceFor: (facts) => {
    const { transmitter } = facts;
    if (!transmitter) return null;
    const perDegree =
      fromMilli(transmitter.signalHighMilli - transmitter.signalLowMilli) /
      fromMilli(transmitter.spanHighMilli - transmitter.spanLowMilli);
    return fromMilli(facts.points[0].toleranceMilli) * perDegree;
  },
  judge,
};
