/** The card of a receiver-controller: setpoint by test pressure, measured gain, and the reset by another temperature. */
import { ofStep } from '../trade/doubt.ts';
import type { Contribution } from '../trade/doubt.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import { receiverGain, resetSetpoint } from '../trade/transmitters.ts';
import { convertPressure, formatMilli, fromMilli, toMilli } from '../units/units.ts';
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
  circumstanceTicks,
  choice,
  figureOf,
  found,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  yesNo,
  limitsOfPoint,
  isCompleting,
} from './common.ts';
import { doubtOf, scaled } from './instruments.ts';
import { ABOVE_MAIN_PSI, figure } from './measures.ts';

export type ReceiverFacts = BaseFacts & {
  card: 'receiver';
  dialMilli: number;
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
/** Marks of the dial in degrees; how far the measured range may stand from the registered one. Common practice. */
const dialMarks = { degF: 1, degC: 0.5 } as const;
const RANGE_SHARE = 0.1;
const DIAL_PUT_BACK_MILLI = 500;

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
    lead: ({ pressureUnit }) =>
      `Move the test pressure ${figure(toMilli(convertPressure(0.5, 'psi', pressureUnit)), pressureUnit)} either way and read the output. The measured gain counts, not its dial.`,
    fields: [
      figureOf('check', { key: 'testUp', label: 'Test pressure, up', measure: 'pressure' }, needed),
      figureOf('check', { key: 'outputUp', label: 'Output, up', measure: 'pressure' }, needed),
      figureOf('check', { key: 'testDown', label: 'Test pressure, down', measure: 'pressure' }, needed),
      figureOf('check', { key: 'outputDown', label: 'Output, down', measure: 'pressure' }, needed),
    ],
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
    fields: [
      figureOf(
        'check',
        { key: 'resetAt1', label: 'Other temperature, first', measure: 'medium temperature' },
        { isNeeded: hasReset },
      ),
      figureOf(
        'check',
        { key: 'resetSetpoint1', label: 'Setpoint there, first', measure: 'medium temperature' },
        { isNeeded: hasReset },
      ),
      figureOf(
        'check',
        { key: 'resetAt2', label: 'Other temperature, second', measure: 'medium temperature' },
        { isNeeded: hasReset },
      ),
      figureOf(
        'check',
        { key: 'resetSetpoint2', label: 'Setpoint there, second', measure: 'medium temperature' },
        { isNeeded: hasReset },
      ),
    ],
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
  const problems: ClassJudgement['problems'] = [];
  const symptoms: SymptomKey[] = [];
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
  const ends = ['testUp', 'outputUp', 'testDown', 'outputDown'].map(number);
  const [testUp, outputUp, testDown, outputDown] = ends;
  const main = number('main');
  for (const key of ['outputUp', 'outputDown'] as const) {
    const output = number(key);
    if (
      main !== null &&
      output !== null &&
      output > main + convertPressure(ABOVE_MAIN_PSI, 'psi', facts.pressureUnit)
    )
      problems.push({ field: key, reason: `an output cannot pass its main, ${p(main)}` });
  }
  if (
    testUp !== null &&
    outputUp !== null &&
    testDown !== null &&
    outputDown !== null &&
    perDegree !== null
  ) {
    if (testUp === testDown)
      problems.push({ field: 'gain', reason: 'the test pressure must be moved between the two readings' });
    else {
      const gain = receiverGain({ test: testUp, output: outputUp }, { test: testDown, output: outputDown });
      const range =
        gain === 0 ? Infinity : fromMilli(facts.outputHighMilli - facts.outputLowMilli) / (gain * perDegree);
      const registered = fromMilli(facts.throttlingRangeMilli);
      const isNear = Math.abs(range - registered) <= RANGE_SHARE * registered;
      if (gain === 0) check('gain', false, 'the output does not follow the test pressure');
      else
        say(
          'gain',
          isNear ? 'right' : 'look',
          `gain ${formatMilli(toMilli(gain))}, throttling range ${t(range)}; registered ${figure(facts.throttlingRangeMilli, facts.temperatureUnit)}`,
        );
      if (gain === 0 && completes)
        problems.push({ field: 'gain', reason: 'the output does not follow: the device failed' });
    }
  }
  if (facts.reset) {
    const schedule = {
      from: { at: fromMilli(facts.reset.fromAtMilli), setpoint: fromMilli(facts.reset.fromSetpointMilli) },
      to: { at: fromMilli(facts.reset.toAtMilli), setpoint: fromMilli(facts.reset.toSetpointMilli) },
    };
    for (const index of [1, 2]) {
      const [at, setpoint] = [number(`resetAt${index}`), number(`resetSetpoint${index}`)];
      if (at === null || setpoint === null) continue;
      const wanted = resetSetpoint(at, schedule);
      const isRight = Math.abs(setpoint - wanted) <= fromMilli(point.toleranceMilli) + 1e-9;
      check('reset', isRight, `at ${t(at)} it should hold ${t(wanted)}`);
      if (!isRight && completes)
        problems.push({
          field: `resetSetpoint${index}`,
          reason: entry.adjusted
            ? 'the reset does not follow its schedule: read it again after the adjustment'
            : 'the reset does not follow its schedule: adjust it, or the device failed',
        });
    }
    if (number('resetAt1') !== null && number('resetAt1') === number('resetAt2'))
      problems.push({ field: 'resetAt2', reason: 'two different temperatures show the slope' });
  }
  const back = entry.values.dialBack;
  if (completes && typeof back === 'number' && Math.abs(back - facts.dialMilli) > DIAL_PUT_BACK_MILLI)
    problems.push({
      field: 'dialBack',
      reason: `the working value of the dial is ${formatMilli(facts.dialMilli)}`,
    });
  if (text('moves') === 'no')
    say('putBack', 'wrong', 'the valve or damper does not follow: take up its own card');
  if (entry.adjusted || entry.outcome === 'device failed') symptoms.push('does not hold its adjustment');
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
