/** The card of a valve or damper actuator: the stroke test up and down, hysteresis, leak and positioner. */
import { hysteresisOf, hysteresisShare, isHysteresisRight, MOST_LEAK_PSI } from '../trade/strokeTest.ts';
import { convertPressure, fromMilli, toMilli } from '../units/units.ts';
import type {
  BaseFacts,
  CardDescription,
  CardEntry,
  CardStep,
  ClassJudgement,
  JudgeContext,
} from './card.ts';
import {
  cautionTexts,
  choice,
  circumstanceTicks,
  figureOf,
  found,
  freezeProblems,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  isTestedAgain,
  testedAgain,
  testedAgainProblems,
  yesNo,
  faults,
  isCompleting,
  limitsOfPoint,
  readError,
} from './common.ts';
import { doubtOf } from './instruments.ts';
import { READING_SLACK_PSI, figure } from './measures.ts';

export type ActuatorFacts = BaseFacts & {
  card: 'actuator';
  actuatorKind: string;
  normalPosition: 'open' | 'closed';
  startMilli: number;
  endMilli: number;
  duty: string | null;
  hasPositioner: boolean;
};

/** Under load the ends may stand twice as far from the nominal ones. Common practice: 0.5 psi unloaded, 1 psi loaded. */
const LOADED_FACTOR = 2;
const needed = { isNeeded: true, onPaper: true } as const;
const start = { point: 'spring start' } as const;
const withPositioner = ({ hasPositioner }: ActuatorFacts): boolean => hasPositioner;

const steps: readonly CardStep<ActuatorFacts>[] = [
  {
    key: 'state',
    title: 'Before the first air',
    fields: [
      choice('normal', 'Position without air', ['open', 'closed'], {
        ...start,
        ...needed,
        phase: 'found',
        quantity: 'normal position seen',
      }),
      choice('load', 'Tested', ['unloaded', 'under load'], {
        ...start,
        ...needed,
        phase: 'found',
        quantity: 'load',
      }),
      found('outdoor', 'Outdoor temperature', 'outdoor temperature', {
        ...start,
        help: 'needed when a coil or outdoor air is opened or closed for the test',
      }),
    ],
  },
  {
    key: 'found',
    title: 'Stroke',
    lead: () =>
      'Raise the branch slowly from nothing to the first movement and the end of travel; lower it to the first movement back and the normal position.',
    fields: [
      found('startUp', 'First movement, up', 'pressure', {
        ...start,
        ...needed,
        reads: ({ startMilli }) => startMilli,
      }),
      found('endUp', 'End of travel, up', 'pressure', {
        point: 'spring end',
        ...needed,
        reads: ({ endMilli }) => endMilli,
      }),
      found('endDown', 'First movement back, down', 'pressure', { point: 'spring end', ...needed }),
      found('startDown', 'Normal position, down', 'pressure', { ...start, ...needed }),
      found('reached', 'Travel reached', 'percent', { ...start, ...needed }),
    ],
  },
  {
    key: 'leak',
    title: 'Leak',
    lead: ({ endMilli, pressureUnit }) =>
      `Hold about ${figure(Math.round((endMilli * 1.2) / 100) * 100, pressureUnit)}, a fifth above the end, signal closed off.`,
    fields: [
      found('holdAtOnce', 'Held, at once', 'pressure', { ...start, ...needed }),
      found('holdLater', 'Held, after 5 min', 'pressure', { ...start, ...needed }),
    ],
  },
  {
    key: 'positioner',
    title: 'Positioner',
    isOn: withPositioner,
    fields: [
      found('positionerAir', 'Main air at the positioner', 'pressure', { ...start, isNeeded: true }),
      choice('positionerAction', 'Follows the signal both ways', yesNo, {
        ...start,
        isNeeded: true,
        phase: 'found',
        quantity: 'positioner follows',
      }),
    ],
  },
  {
    key: 'look',
    title: 'Look',
    fields: [
      choice('linkage', 'Linkage, indicator and packing sound', yesNo, {
        ...start,
        ...needed,
        phase: 'found',
        quantity: 'linkage and packing sound',
      }),
      choice('seat', 'Shuts tight', ['yes', 'no', 'not seen'], { ...start, phase: 'found' }),
    ],
  },
  {
    key: 'left',
    title: 'As left',
    whenAdjusted: true,
    lead: ({ hasPositioner }) =>
      hasPositioner ? 'Set start and span of the positioner to the registered range.' : '',
    fields: [
      figureOf(
        'left',
        { key: 'startLeft', label: 'First movement as left', measure: 'pressure' },
        { ...start, isNeeded: true, quantity: 'first movement, up' },
      ),
      figureOf(
        'left',
        { key: 'endLeft', label: 'End of travel as left', measure: 'pressure' },
        { point: 'spring end', isNeeded: true, quantity: 'end of travel, up' },
      ),
      testedAgain<ActuatorFacts>('stroke, leak, seat and linkage', start),
    ],
  },
];

function judge(facts: ActuatorFacts, entry: CardEntry, context: JudgeContext): ClassJudgement {
  const { remarks, expected, expect, check, say } = notes();
  const { number, text } = reader(entry.values);
  const unit = facts.pressureUnit;
  const p = (value: number): string => figure(toMilli(value), unit);
  const psi = (value: number): number => convertPressure(value, unit, 'psi');
  const { problems, symptoms, wrong, wrongStill } = faults(
    entry,
    [...freezeProblems(facts, entry), ...testedAgainProblems(entry)],
    isTestedAgain(entry),
  );
  const afterRepair = entry.adjusted ? '; repaired: test it again and say so' : '';
  expect('Without air', facts.normalPosition);
  expect('First movement', figure(facts.startMilli, unit));
  expect('End of travel', figure(facts.endMilli, unit));
  expect(
    'Hysteresis',
    facts.hasPositioner ? 'at most 2 % of the span' : `at most ${p(convertPressure(1, 'psi', unit))}`,
  );
  const normal = text('normal');
  if (
    normal !== null &&
    !check(
      'state',
      normal === facts.normalPosition,
      normal === facts.normalPosition
        ? `normally ${normal}, as registered`
        : `normally ${normal}; the register says ${facts.normalPosition}`,
    )
  )
    wrongStill(
      'normal',
      'the normal position is not the registered one: wrong fitting, or mend the register',
      'wrong normal position',
    );
  const [startUp, endUp, endDown, startDown] = ['startUp', 'endUp', 'endDown', 'startDown'].map(number);
  if (startUp !== null && endUp !== null && !(endUp > startUp))
    problems.push({ field: 'endUp', reason: 'the travel ends above its start' });
  else if (startUp !== null && endUp !== null && endDown !== null && startDown !== null) {
    const stroke = {
      startUp: psi(startUp),
      endUp: psi(endUp),
      endDown: psi(endDown),
      startDown: psi(startDown),
    };
    const spring = { start: psi(fromMilli(facts.startMilli)), end: psi(fromMilli(facts.endMilli)) };
    const own = (value: number): number => convertPressure(value, 'psi', unit);
    for (const [field, down, up] of [
      ['endDown', stroke.endDown, stroke.endUp],
      ['startDown', stroke.startDown, stroke.startUp],
    ] as const)
      if (down > up + READING_SLACK_PSI)
        problems.push({
          field,
          reason: 'on the way down it moves at the same pressure as on the way up, or lower',
        });
    const isRight = isHysteresisRight(stroke, spring, facts.hasPositioner);
    check(
      'found',
      isRight,
      `hysteresis ${p(own(hysteresisOf(stroke)))}, ${Math.round(1000 * hysteresisShare(stroke, spring)) / 10} % of the span`,
    );
    if (!isRight)
      wrong(
        'found',
        `it hangs back: friction, packing or linkage, or the device failed${afterRepair}`,
        'actuator sticks',
      );
  }
  const reached = number('reached');
  if (reached !== null && !check('found', reached >= 100, `${reached} % of the stroke reached`))
    wrong('reached', `the full stroke is not reached${afterRepair}`, 'actuator sticks');
  const [atOnce, later] = [number('holdAtOnce'), number('holdLater')];
  if (atOnce !== null && later !== null) {
    const lost = atOnce - later;
    if (psi(lost) < -READING_SLACK_PSI)
      problems.push({ field: 'holdLater', reason: 'shut in, the pressure cannot rise' });
    if (isCompleting(entry) && psi(atOnce) < psi(fromMilli(facts.endMilli)) - READING_SLACK_PSI)
      problems.push({
        field: 'holdAtOnce',
        reason: `hold it at the end of its travel, ${figure(facts.endMilli, unit)}, or above`,
      });
    if (
      !check(
        'leak',
        psi(lost) <= MOST_LEAK_PSI + 1e-9,
        `loses ${p(lost)} in 5 min; at most ${p(convertPressure(MOST_LEAK_PSI, 'psi', unit))}`,
      )
    )
      wrong('leak', `it leaks: diaphragm or fitting, or the device failed${afterRepair}`, 'actuator leaks');
  }
  if (text('positionerAction') === 'no')
    wrong('positionerAction', `the positioner does not follow${afterRepair}`, 'actuator sticks');
  const air = number('positionerAir');
  if (
    air !== null &&
    !check(
      'positioner',
      air >= fromMilli(facts.endMilli),
      `${p(air)} at the positioner; it drives the actuator to ${figure(facts.endMilli, unit)}`,
    )
  )
    wrongStill(
      'positionerAir',
      'the positioner’s own air cannot drive the actuator to its end: the supply comes first',
      'actuator sticks',
    );
  if (text('seat') === 'no')
    wrong(
      'seat',
      `it does not shut tight: seat or spring, or the device failed${afterRepair}`,
      'actuator sticks',
    );
  if (text('linkage') === 'no') {
    check('look', false, 'linkage, indicator or packing not sound');
    wrong('linkage', `mend the linkage or packing first${afterRepair}`, 'actuator sticks');
  }
  const isLoaded = text('load') === 'under load';
  if (isLoaded)
    say('state', 'plain', 'Under load each end may stand twice as far from its nominal pressure.');
  const doubt = doubtOf(context.instruments.pressure, unit);
  const points = facts.points.map((point) => {
    const isStart = point.kind === 'spring start';
    const nominal = isStart ? facts.startMilli : facts.endMilli;
    return {
      point: point.key,
      limits: limitsOfPoint(point, isLoaded ? LOADED_FACTOR : 1),
      found: readError(number(isStart ? 'startUp' : 'endUp'), nominal, doubt),
      left: entry.adjusted ? readError(number(isStart ? 'startLeft' : 'endLeft'), nominal, doubt) : null,
    };
  });
  if (symptoms.length === 0 && entry.outcome === 'device failed') symptoms.push('spring range moved');
  return {
    expected,
    remarks,
    problems,
    points,
    isShut: false,
    airState: null,
    symptoms: [...new Set(symptoms)],
  };
}

export const actuatorCard: CardDescription<ActuatorFacts> = {
  title: 'Stroke test',
  instruments: ['pressure'],
  preconditions: [
    preconditionTicks.weather,
    preconditionTicks.gauge,
    preconditionTicks.people,
    preconditionTicks.relieved,
  ],
  restored: [restoredTicks.override, restoredTicks.valves, restoredTicks.signal],
  circumstances: () => [
    { ...circumstanceTicks.forced, text: 'A coil or outdoor air was opened or closed for the test' },
    circumstanceTicks.repaired,
  ],
  cautions: ({ duty, normalPosition }) => [
    cautionTexts.freeze,
    ...(duty === 'changeover coil' ? [cautionTexts.wrongWater] : []),
    ...(duty === 'hot water' || duty === 'steam' ? [cautionTexts.steam] : []),
    ...(normalPosition === 'open' ? [cautionTexts.heat] : []),
    cautionTexts.smoke,
    cautionTexts.ladders,
  ],
  steps,
  toleranceFor: (facts) => Math.min(...facts.points.map(({ toleranceMilli }) => fromMilli(toleranceMilli))),
  judge,
};
