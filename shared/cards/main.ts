/** The card of a main: the yearly switchover proof, or the far-end pressure of a main with one pressure. */
import { ADVISED_MARGIN_PSI, MAIN_AT_DEVICE_ALLOWANCE_PSI, switchoverMargins } from '../trade/switchover.ts';
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
  figureOf,
  found,
  freezeProblems,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  weatherStep,
  yesNo,
  faults,
  isCompleting,
  limitsOfPoint,
  readError,
} from './common.ts';
import { doubtOf } from './instruments.ts';
import { figure } from './measures.ts';

export type MainFacts = BaseFacts & {
  card: 'main';
  isTwoPressure: boolean;
  lowMilli: number;
  highMilli: number | null;
  lowMeans: string | null;
  highMeans: string | null;
  worstTrips: { risingMilli: number; fallingMilli: number } | null;
  /** Controllers on the main that change over. */
  controllers: number;
  wantedOnPowerLoss: 'low' | 'high' | null;
};

const isTwo = ({ isTwoPressure }: MainFacts): boolean => isTwoPressure;
const needed = { isNeeded: true, onPaper: true } as const;
const low = { point: 'main low' } as const;
const high = { point: 'main high', isOn: isTwo } as const;

/** Main at the station against its setting, psi; most minutes until every controller has changed. Common practice. */
const AT_STATION_PSI = 0.5;
const MOST_MINUTES = 10;

/** How many controllers are looked at: a tenth of them, five at least, never more than there are. Common practice. */
export function sampleSize(controllers: number): number {
  return Math.min(controllers, Math.max(5, Math.ceil(controllers / 10)));
}

const steps: readonly CardStep<MainFacts>[] = [
  weatherStep({ ...low, isOn: isTwo }),
  {
    key: 'low',
    title: 'Low pressure',
    lead: ({ isTwoPressure, lowMeans }) =>
      isTwoPressure
        ? `The low pressure means ${lowMeans ?? 'nothing in the register'}.`
        : 'This main has one pressure.',
    fields: [
      found('stationLow', 'At the station, low', 'pressure', { ...low, ...needed, reads: (f) => f.lowMilli }),
      found('farLow', 'At the far end, low', 'pressure', { ...low, ...needed, reads: (f) => f.lowMilli }),
    ],
  },
  {
    key: 'high',
    title: 'High pressure',
    isOn: isTwo,
    lead: ({ highMeans }) => `The high pressure means ${highMeans ?? 'nothing in the register'}.`,
    fields: [
      found('stationHigh', 'At the station, high', 'pressure', {
        ...high,
        ...needed,
        reads: (f) => f.highMilli,
      }),
      found('farHigh', 'At the far end, high', 'pressure', { ...high, ...needed, reads: (f) => f.highMilli }),
    ],
  },
  {
    key: 'switching',
    title: 'Switchover',
    isOn: isTwo,
    lead: ({ worstTrips, pressureUnit }) =>
      worstTrips
        ? `At the far end, from the switch until it passes ${figure(worstTrips.risingMilli, pressureUnit)} rising, and ${figure(worstTrips.fallingMilli, pressureUnit)} falling.`
        : 'No changeover pressures are in the register.',
    fields: [
      found('minutesUp', 'Minutes to pass, rising', 'minutes', { ...low, ...needed }),
      found('minutesDown', 'Minutes to pass, falling', 'minutes', { ...low, ...needed }),
      choice('powerLossState', 'Without power the main goes to', ['low', 'high'], {
        ...low,
        phase: 'found',
        quantity: 'state on power loss',
      }),
    ],
  },
  {
    key: 'sample',
    title: 'Sample of controllers',
    isOn: isTwo,
    lead: ({ controllers }) =>
      `Look at ${sampleSize(controllers)} of ${controllers} controllers, the farthest among them.`,
    fields: [
      found('sampled', 'Controllers looked at', 'count', { ...low, ...needed }),
      found('changed', 'Of these changed over', 'count', { ...low, ...needed }),
      choice('farthest', 'The farthest is among them', yesNo, { ...low, ...needed, phase: 'found' }),
    ],
  },
  {
    key: 'left',
    title: 'As left',
    whenAdjusted: true,
    lead: () => 'The far end is always read again; the rest where it was not right as found.',
    fields: [
      figureOf(
        'left',
        { key: 'farLowLeft', label: 'At the far end as left, low', measure: 'pressure' },
        { ...low, isNeeded: true, quantity: 'at the far end, low' },
      ),
      figureOf(
        'left',
        { key: 'farHighLeft', label: 'At the far end as left, high', measure: 'pressure' },
        { ...high, isNeeded: true, quantity: 'at the far end, high' },
      ),
      figureOf(
        'left',
        { key: 'stationLowLeft', label: 'At the station as left, low', measure: 'pressure' },
        { ...low, quantity: 'at the station, low' },
      ),
      figureOf(
        'left',
        { key: 'stationHighLeft', label: 'At the station as left, high', measure: 'pressure' },
        { ...high, quantity: 'at the station, high' },
      ),
      figureOf(
        'left',
        { key: 'minutesUpLeft', label: 'Minutes to pass as left, rising', measure: 'minutes' },
        { ...low, isOn: isTwo, quantity: 'minutes to pass, rising' },
      ),
      figureOf(
        'left',
        { key: 'minutesDownLeft', label: 'Minutes to pass as left, falling', measure: 'minutes' },
        { ...low, isOn: isTwo, quantity: 'minutes to pass, falling' },
      ),
      choice('powerLossLeft', 'Without power as left, the main goes to', ['low', 'high'], {
        ...low,
        isOn: isTwo,
        phase: 'left',
        quantity: 'state on power loss',
      }),
      figureOf(
        'left',
        { key: 'changedLeft', label: 'Changed over as left, of those looked at', measure: 'count' },
        { ...low, isOn: isTwo, quantity: 'of these changed over' },
      ),
    ],
  },
];

function judge(facts: MainFacts, entry: CardEntry, context: JudgeContext): ClassJudgement {
  const { remarks, expected, expect, check, say } = notes();
  const { number, text } = reader(entry.values);
  const unit = facts.pressureUnit;
  const own = (psi: number): number => convertPressure(psi, 'psi', unit);
  const p = (value: number): string => figure(toMilli(value), unit);
  const { problems, symptoms, wrong, faulty } = faults(
    entry,
    // The proof itself sends the main to both pressures, whether or not anybody ticks so.
    facts.isTwoPressure ? freezeProblems(facts, { ...entry, ticks: { ...entry.ticks, forced: true } }) : [],
  );
  expect('Low', figure(facts.lowMilli, unit));
  if (facts.highMilli !== null) expect('High', figure(facts.highMilli, unit));
  expect('At the station', `±${p(own(AT_STATION_PSI))}`);
  expect('At the far end', `±${p(own(MAIN_AT_DEVICE_ALLOWANCE_PSI))}`);
  /** What an as-left figure says, where something was adjusted and it was read again. */
  const after = (key: string, isGood: (value: number) => boolean): boolean | null => {
    const value = entry.adjusted ? number(key) : null;
    return value === null ? null : isGood(value);
  };
  for (const [name, nominal, far] of [
    ['Low', facts.lowMilli, number('farLowLeft') ?? number('farLow')],
    ['High', facts.highMilli, number('farHighLeft') ?? number('farHigh')],
  ] as const) {
    const state = name === 'Low' ? 'low' : 'high';
    const station = number(`station${name}`);
    if (nominal === null || station === null) continue;
    const isAtSetting = (value: number): boolean =>
      Math.abs(value - fromMilli(nominal)) <= own(AT_STATION_PSI) + 1e-9;
    const off = station - fromMilli(nominal);
    const isRight = isAtSetting(station);
    check(
      state,
      isRight,
      `${state} at the station ${isRight ? 'stands at its setting' : `is ${p(Math.abs(off))} ${off < 0 ? 'below' : 'above'} its setting`}`,
    );
    faulty(
      `station${name}`,
      [isRight, after(`station${name}Left`, isAtSetting)],
      'the station does not hold the setting: the regulator’s card comes first',
      off < 0 ? 'main low in one state only' : 'main above its setting',
    );
    if (far === null) continue;
    const standing = (entry.adjusted ? number(`station${name}Left`) : null) ?? station;
    const fall = standing - far;
    if (fall > own(MAIN_AT_DEVICE_ALLOWANCE_PSI)) symptoms.push('main low at far end only');
    say(state, 'plain', `${p(fall)} is lost on the way to the far end`);
  }
  const farLow = number('farLowLeft') ?? number('farLow');
  const farHigh = number('farHighLeft') ?? number('farHigh');
  // What the station held before it was set says nothing of what was left.
  const stationLow = number('farLowLeft') === null ? number('stationLow') : number('stationLowLeft');
  if (facts.worstTrips && farLow !== null && farHigh !== null) {
    const margins = switchoverMargins(
      { rising: fromMilli(facts.worstTrips.risingMilli), falling: fromMilli(facts.worstTrips.fallingMilli) },
      Math.max(farLow, stationLow ?? farLow),
      farHigh,
      own(ADVISED_MARGIN_PSI),
    );
    say(
      'switching',
      margins.verdict === 'pass' ? 'right' : margins.verdict === 'look' ? 'look' : 'wrong',
      `margins ${p(margins.low)} low, ${p(margins.high)} high against the worst controller`,
    );
    if (margins.verdict === 'fail')
      wrong('farHigh', 'some controllers on this main cannot change over', 'changeover out of place');
  }
  for (const [key, words] of [
    ['minutesUp', 'rising'],
    ['minutesDown', 'falling'],
  ] as const) {
    const minutes = number(key);
    if (minutes === null) continue;
    const isRight = check(
      'switching',
      minutes <= MOST_MINUTES,
      `${minutes} min ${words}; at most ${MOST_MINUTES}`,
    );
    faulty(
      key,
      [isRight, after(`${key}Left`, (value) => value <= MOST_MINUTES)],
      `changes over too slowly: at most ${MOST_MINUTES} minutes`,
      'does not change over in time',
    );
  }
  const { wantedOnPowerLoss } = facts;
  const [lost, lostLeft] = [text('powerLossState'), entry.adjusted ? text('powerLossLeft') : null];
  if (wantedOnPowerLoss !== null) {
    const isRight = lost === null || lost === wantedOnPowerLoss;
    if (lost !== null) check('switching', isRight, `without power ${lost}; wanted ${wantedOnPowerLoss}`);
    faulty(
      'powerLossState',
      [isRight, lostLeft === null ? null : lostLeft === wantedOnPowerLoss],
      'power loss gives the wrong state',
      'power loss gives the wrong state',
    );
  }
  const [sampled, changed] = [number('sampled'), number('changed')];
  if (sampled !== null && changed !== null) {
    for (const key of ['changed', 'changedLeft'])
      if ((number(key) ?? 0) > sampled)
        problems.push({ field: key, reason: `more than the ${sampled} that were looked at` });
    if (changed <= sampled)
      faulty(
        'changed',
        [
          check('sample', changed === sampled, `${changed} of ${sampled} changed over`),
          after('changedLeft', (value) => value >= sampled),
        ],
        'not all of the sample changed over: follow up each one',
        'changeover out of place',
      );
    if (sampled > facts.controllers && isCompleting(entry))
      problems.push({ field: 'sampled', reason: `there are only ${facts.controllers} of them` });
    if (sampled < sampleSize(facts.controllers) && isCompleting(entry))
      problems.push({ field: 'sampled', reason: `look at ${sampleSize(facts.controllers)} at least` });
  }
  if (text('farthest') === 'no' && isCompleting(entry))
    problems.push({ field: 'farthest', reason: 'the farthest controller is part of the proof' });
  const doubt = doubtOf(context.instruments.pressure, unit);
  return {
    expected,
    remarks,
    problems,
    points: facts.points.map((point) => {
      const isLow = point.kind === 'main low';
      return {
        point: point.key,
        limits: limitsOfPoint(point),
        found: readError(number(isLow ? 'farLow' : 'farHigh'), point.nominalMilli, doubt),
        left: entry.adjusted
          ? readError(number(isLow ? 'farLowLeft' : 'farHighLeft'), point.nominalMilli, doubt)
          : null,
      };
    }),
    isShut: false,
    airState: null,
    symptoms: [...new Set(symptoms)],
  };
}

export const mainCard: CardDescription<MainFacts> = {
  title: 'Switchover proof of a main',
  instruments: ['pressure'],
  preconditions: [
    preconditionTicks.supply,
    preconditionTicks.weather,
    preconditionTicks.gauge,
    preconditionTicks.people,
  ],
  restored: [restoredTicks.main, restoredTicks.override, restoredTicks.valves, restoredTicks.plugs],
  circumstances: () => [],
  cautions: ({ isTwoPressure }) => [
    ...(isTwoPressure ? [cautionTexts.freeze, cautionTexts.special] : []),
    cautionTexts.smoke,
    cautionTexts.ladders,
  ],
  steps,
  toleranceFor: (facts) => Math.min(...facts.points.map(({ toleranceMilli }) => fromMilli(toleranceMilli))),
  judge,
};
