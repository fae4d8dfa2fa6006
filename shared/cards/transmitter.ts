/** The card of a transmitter: two points, or five up and five down, against a reference at its element. */
import type { Contribution } from '../trade/doubt.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import { transmittedPressure, transmitterError } from '../trade/transmitters.ts';
import type { TransmitterSpan } from '../trade/transmitters.ts';
import { convertPressure, fromMilli, toMilli } from '../units/units.ts';
import type {
  BaseFacts,
  CardDescription,
  CardEntry,
  CardStep,
  ClassJudgement,
  FigureField,
  JudgeContext,
  MeasuredError,
} from './card.ts';
import {
  cautionTexts,
  circumstanceTicks,
  figureOf,
  found,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  isTestedAgain,
  testedAgain,
  testedAgainProblems,
  isCompleting,
  limitsOfPoint,
} from './common.ts';
import { doubtOf, scaled } from './instruments.ts';
import { ABOVE_MAIN_PSI, figure } from './measures.ts';

export type TransmitterFacts = BaseFacts & {
  card: 'transmitter';
  spanLowMilli: number;
  spanHighMilli: number;
  outputLowMilli: number;
  outputHighMilli: number;
};

/** Most difference between the way up and the way down, as a part of the signal range. Common practice. */
const MOST_HYSTERESIS_SHARE = 0.01;
const ways = ['up', 'down'] as const;
const numbers = [1, 2, 3, 4, 5] as const;

function pair(way: 'up' | 'down', index: number): FigureField<TransmitterFacts>[] {
  const isEnd = way === 'up' && index <= 2;
  return [
    found(`reference${index}${way}`, `Reference ${index}, ${way}`, 'medium temperature', {
      isNeeded: isEnd,
      onPaper: isEnd,
      quantity: `reference ${index} ${way}`,
    }),
    found(`output${index}${way}`, `Output ${index}, ${way}`, 'pressure', {
      isNeeded: isEnd,
      onPaper: isEnd,
      quantity: `output ${index} ${way}`,
    }),
  ];
}

const steps: readonly CardStep<TransmitterFacts>[] = [
  {
    key: 'found',
    title: 'As found, going up',
    lead: () => 'Two points at least, well apart; five for the full test. The reference sits at the element.',
    fields: [
      found('main', 'Main pressure at the restrictor', 'pressure', {
        quantity: 'main pressure',
        isNeeded: true,
        onPaper: true,
      }),
      ...numbers.flatMap((index) => pair('up', index)),
    ],
  },
  {
    key: 'down',
    title: 'Going down, for the full test',
    fields: numbers.flatMap((index) => pair('down', index)),
  },
  {
    key: 'left',
    title: 'As left',
    whenAdjusted: true,
    fields: [
      ...[1, 2].flatMap((index) => [
        figureOf<TransmitterFacts>(
          'left',
          {
            key: `referenceLeft${index}`,
            label: `Reference ${index} as left`,
            measure: 'medium temperature',
          },
          { isNeeded: true, quantity: `reference ${index}` },
        ),
        figureOf<TransmitterFacts>(
          'left',
          { key: `outputLeft${index}`, label: `Output ${index} as left`, measure: 'pressure' },
          { isNeeded: true, quantity: `output ${index}` },
        ),
      ]),
      testedAgain<TransmitterFacts>('every point, up and down'),
    ],
  },
];

type Reading = { reference: number; output: number };

function signalOf(facts: TransmitterFacts): { span: TransmitterSpan; low: number; range: number } {
  return {
    span: { low: fromMilli(facts.spanLowMilli), high: fromMilli(facts.spanHighMilli) },
    low: fromMilli(facts.outputLowMilli),
    range: fromMilli(facts.outputHighMilli - facts.outputLowMilli),
  };
}

/** What the transmitter should send at a temperature, in the unit of its signal. */
export function signalAt(facts: TransmitterFacts, temperature: number): number {
  const { span, low, range } = signalOf(facts);
  return low + ((transmittedPressure(temperature, span) - 3) / 12) * range;
}

/** Least distance between the points that show zero and span, as a share of the span. Common practice, no source. */
const LEAST_APART_SHARE = 0.25;

function readingsOf(entry: CardEntry, keys: readonly (readonly [string, string])[]): Reading[] {
  const { number } = reader(entry.values);
  return keys.flatMap(([reference, output]) => {
    const [t, p] = [number(reference), number(output)];
    return t === null || p === null ? [] : [{ reference: t, output: p }];
  });
}

function errorAt(
  facts: TransmitterFacts,
  one: Reading | undefined,
  context: JudgeContext,
): MeasuredError | null {
  if (!one) return null;
  const { span, range } = signalOf(facts);
  const gauge = doubtOf(context.instruments.pressure, facts.pressureUnit);
  const reference = scaled(
    doubtOf(context.instruments.temperature, facts.temperatureUnit),
    range / (span.high - span.low),
  );
  const doubt: Contribution[] | null = gauge && reference ? [...gauge, ...reference] : null;
  return {
    kind: 'error',
    error: one.output - signalAt(facts, one.reference),
    relation: '=',
    method: 'read',
    doubt,
  };
}

function judge(facts: TransmitterFacts, entry: CardEntry, context: JudgeContext): ClassJudgement {
  const { remarks, expected, expect, check, say } = notes();
  const { number } = reader(entry.values);
  const { span, low, range } = signalOf(facts);
  const problems: ClassJudgement['problems'] = testedAgainProblems(entry);
  const symptoms: SymptomKey[] = [];
  const p = (value: number): string => figure(toMilli(value), facts.pressureUnit);
  const t = (value: number): string => figure(toMilli(value), facts.temperatureUnit);
  for (const share of [0, 0.25, 0.5, 0.75, 1]) {
    const temperature = span.low + share * (span.high - span.low);
    expect(t(temperature), p(low + share * range));
  }
  const keysOf = (way: string) =>
    numbers.map((index) => [`reference${index}${way}`, `output${index}${way}`] as const);
  const up = readingsOf(entry, keysOf('up')).toSorted((a, b) => a.reference - b.reference);
  const down = readingsOf(entry, keysOf('down'));
  for (const way of ways)
    for (const [reference, output] of keysOf(way))
      if ((entry.values[reference] === undefined) !== (entry.values[output] === undefined))
        problems.push({
          field: entry.values[reference] === undefined ? reference : output,
          reason: 'a point is a reference and an output',
        });
  const main = number('main');
  for (const [, output] of [...keysOf('up'), ...keysOf('down')]) {
    const sent = number(output);
    if (
      main !== null &&
      sent !== null &&
      sent > main + convertPressure(ABOVE_MAIN_PSI, 'psi', facts.pressureUnit)
    )
      problems.push({ field: output, reason: `it cannot send more than its main, ${p(main)}` });
  }
  const tolerance = Math.min(...facts.points.map(({ toleranceMilli }) => fromMilli(toleranceMilli)));
  let outside = 0;
  let between = 0;
  for (const one of up) {
    const off = one.output - signalAt(facts, one.reference);
    const isRight = Math.abs(off) <= tolerance + 1e-9;
    if (!isRight) outside += 1;
    if (!isRight && one !== up[0] && one !== up[up.length - 1]) between += 1;
    const degrees = transmitterError(
      { reference: one.reference, output: 3 + ((one.output - low) / range) * 12 },
      span,
    );
    check(
      'found',
      isRight,
      `at ${t(one.reference)} it should send ${p(signalAt(facts, one.reference))}: reads ${degrees >= 0 ? '+' : '−'}${t(Math.abs(degrees))}`,
    );
  }
  for (const one of down)
    if (Math.abs(one.output - signalAt(facts, one.reference)) > tolerance + 1e-9) {
      outside += 1;
      between += 1;
    }
  if (between > 0 && entry.adjusted && isCompleting(entry) && !isTestedAgain(entry))
    problems.push({
      field: 'found',
      reason: 'a point that zero and span do not show was outside: read every point again and say so',
    });
  if (outside > 0 && entry.outcome === 'held')
    problems.push({
      field: 'found',
      reason: `${outside} of ${up.length + down.length} points ${outside === 1 ? 'is' : 'are'} outside the tolerance: it was not found right`,
    });
  if (outside > 1) symptoms.push('transmitter off at more than one point');
  if (outside > 0 && outside < up.length + down.length)
    say(
      'found',
      'look',
      'Out at one point and in at another: most have no field span, so it is replaced, not adjusted.',
    );
  const gap = Math.max(
    0,
    ...down.map((one) => {
      const same = up.find(({ reference }) => Math.abs(reference - one.reference) < 1e-9);
      return same ? Math.abs(one.output - same.output) : 0;
    }),
  );
  if (
    down.length > 0 &&
    !check(
      'down',
      gap <= MOST_HYSTERESIS_SHARE * range + 1e-9,
      `differs by ${p(gap)} between the way up and the way down; at most ${p(MOST_HYSTERESIS_SHARE * range)}`,
    )
  ) {
    symptoms.push('transmitter off at more than one point');
    if (isCompleting(entry) && !isTestedAgain(entry))
      problems.push({
        field: 'down',
        reason: `it differs too much between the way up and the way down${entry.adjusted ? '; repaired: read every point again and say so' : ''}`,
      });
  }
  const left = entry.adjusted
    ? readingsOf(
        entry,
        [1, 2].map((index) => [`referenceLeft${index}`, `outputLeft${index}`] as const),
      ).toSorted((a, b) => a.reference - b.reference)
    : [];
  for (const [field, points] of [
    ['reference2up', up],
    ['referenceLeft2', left],
  ] as const) {
    const apart = points.length > 1 ? points[points.length - 1].reference - points[0].reference : Infinity;
    if (isCompleting(entry) && apart < LEAST_APART_SHARE * (span.high - span.low) - 1e-9)
      problems.push({
        field,
        reason: `zero and span are read at least ${t(LEAST_APART_SHARE * (span.high - span.low))} apart, a quarter of the span`,
      });
  }
  return {
    expected,
    remarks,
    problems,
    points: facts.points.map((point) => {
      const isZero = point.kind === 'transmitter zero';
      return {
        point: point.key,
        limits: limitsOfPoint(point),
        found: errorAt(facts, isZero ? up[0] : up[up.length - 1], context),
        left: errorAt(facts, isZero ? left[0] : left[left.length - 1], context),
      };
    }),
    isShut: false,
    airState: null,
    symptoms: [...new Set(symptoms)],
  };
}

export const transmitterCard: CardDescription<TransmitterFacts> = {
  title: 'Transmitter',
  instruments: ['pressure', 'temperature'],
  preconditions: [
    preconditionTicks.supply,
    preconditionTicks.thermometer,
    preconditionTicks.gauges,
    preconditionTicks.people,
  ],
  restored: [restoredTicks.override, restoredTicks.signal, restoredTicks.plugs],
  circumstances: () => [circumstanceTicks.repaired],
  cautions: () => [cautionTexts.freeze, cautionTexts.steam, cautionTexts.ladders],
  steps,
  toleranceFor: (facts, kind) => {
    const tolerance = Math.min(...facts.points.map(({ toleranceMilli }) => fromMilli(toleranceMilli)));
    const { span, range } = signalOf(facts);
    return kind === 'pressure' ? tolerance : (tolerance * (span.high - span.low)) / range;
  },
  judge,
};
