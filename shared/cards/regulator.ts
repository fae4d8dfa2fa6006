/** The card of a pressure regulator, single or two-pressure. */
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
  circumstanceTicks,
  choice,
  figureOf,
  found,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  weatherStep,
  faults,
  freezeProblems,
  isCompleting,
  limitsOfPoint,
  readError,
} from './common.ts';
import { doubtOf } from './instruments.ts';
import { READING_SLACK_PSI, figure } from './measures.ts';

export type RegulatorFacts = BaseFacts & {
  card: 'regulator';
  isTwoPressure: boolean;
  lowMilli: number;
  highMilli: number | null;
  reliefMilli: number | null;
  /** Worst changeover pressures of the controllers downstream: highest rising, lowest falling; rated where not measured. */
  worstTrips: { risingMilli: number; fallingMilli: number } | null;
};

const isTwo = ({ isTwoPressure }: RegulatorFacts): boolean => isTwoPressure;
const mustFind = { isNeeded: true, onPaper: true } as const;
const low = { point: 'regulator low' } as const;
const high = { point: 'regulator high', isOn: isTwo } as const;

/** Most rise in 5 minutes without flow, most fall from no flow to normal flow, psi; most drop of a filter. Common practice. */
const MOST_CREEP_PSI = 1;
const MOST_DROOP_PSI = 1;
const MOST_FILTER_DROP_PSI = 10;
/** How far a relief may lift from its setting; longest way from one pressure to the other, seconds. Common practice, no source. */
const RELIEF_SHARE = 0.1;
const MOST_SWITCH_SECONDS = 600;

const steps: readonly CardStep<RegulatorFacts>[] = [
  weatherStep({ ...low, isOn: isTwo }),
  {
    key: 'found',
    title: 'As found, at normal flow',
    lead: ({ isTwoPressure }) => (isTwoPressure ? 'Read the low pressure first, then the high one.' : ''),
    fields: [
      found('inlet', 'Inlet', 'supply pressure', { ...low, quantity: 'inlet pressure' }),
      found('low', 'Outlet, low', 'pressure', {
        ...low,
        ...mustFind,
        quantity: 'outlet at flow',
        reads: ({ lowMilli }) => lowMilli,
      }),
      found('high', 'Outlet, high', 'pressure', {
        ...high,
        ...mustFind,
        quantity: 'outlet at flow, high',
        reads: ({ highMilli }) => highMilli,
      }),
      found('pilot', 'Pilot, high', 'pressure', { ...high, quantity: 'pilot pressure' }),
    ],
  },
  {
    key: 'creep',
    title: 'Without flow, 5 minutes',
    lead: () => 'Shut the outlet off: note the pressure at once, and again after 5 minutes.',
    fields: [
      found('lowShut', 'Low, at once', 'pressure', { ...low, ...mustFind, quantity: 'no flow at once' }),
      found('lowShutLater', 'Low, after 5 min', 'pressure', {
        ...low,
        ...mustFind,
        quantity: 'no flow after 5 min',
      }),
      found('highShut', 'High, at once', 'pressure', { ...high, quantity: 'no flow at once, high' }),
      found('highShutLater', 'High, after 5 min', 'pressure', {
        ...high,
        quantity: 'no flow after 5 min, high',
      }),
    ],
  },
  {
    key: 'safety',
    title: 'Relief and filter',
    fields: [
      found('reliefLifts', 'Relief lifts at', 'pressure', {
        ...low,
        isNeeded: ({ reliefMilli }) => reliefMilli !== null,
      }),
      found('reliefReseats', 'Relief reseats at', 'pressure', { ...low }),
      found('filterDrop', 'Drop over the filter ahead', 'pressure drop', {
        ...low,
        quantity: 'filter drop',
      }),
    ],
  },
  {
    key: 'switching',
    title: 'Switch time',
    isOn: isTwo,
    lead: ({ worstTrips, pressureUnit }) =>
      worstTrips
        ? `Time from the switch until the outlet passes ${figure(worstTrips.risingMilli, pressureUnit)} rising and ${figure(worstTrips.fallingMilli, pressureUnit)} falling: then every controller has changed over.`
        : '',
    fields: [
      found('secondsUp', 'Low to high', 'seconds', { ...low, isNeeded: true, quantity: 'switch time up' }),
      found('secondsDown', 'High to low', 'seconds', {
        ...low,
        isNeeded: true,
        quantity: 'switch time down',
      }),
    ],
  },
  {
    key: 'left',
    title: 'As left, at normal flow',
    whenAdjusted: true,
    lead: ({ isTwoPressure }) =>
      isTwoPressure
        ? 'Approach each setting rising. Set the low pressure first, then the high one.'
        : 'Approach the setting rising.',
    fields: [
      figureOf(
        'left',
        { key: 'lowLeft', label: 'Outlet as left, low', measure: 'pressure' },
        { ...low, isNeeded: true, quantity: 'outlet at flow' },
      ),
      figureOf(
        'left',
        { key: 'highLeft', label: 'Outlet as left, high', measure: 'pressure' },
        { ...high, isNeeded: true, quantity: 'outlet at flow, high' },
      ),
      choice('order', 'Set in which order', ['low first', 'high first'], {
        ...low,
        isOn: isTwo,
        isNeeded: true,
        quantity: 'order of setting',
      }),
      figureOf(
        'left',
        { key: 'creepLeft', label: 'Rise in 5 min without flow, after', measure: 'pressure drop' },
        { ...low, quantity: 'creep after' },
      ),
      figureOf(
        'left',
        { key: 'creepLeftHigh', label: 'Rise without flow, after, high', measure: 'pressure drop' },
        { ...high, quantity: 'creep after, high' },
      ),
      figureOf(
        'left',
        { key: 'droopLeft', label: 'Fall from no flow to flow, after', measure: 'pressure drop' },
        { ...low, quantity: 'droop after' },
      ),
      figureOf(
        'left',
        { key: 'droopLeftHigh', label: 'Fall from no flow, after, high', measure: 'pressure drop' },
        { ...high, quantity: 'droop after, high' },
      ),
      figureOf(
        'left',
        { key: 'reliefLeft', label: 'Relief lifts at, after', measure: 'pressure' },
        { ...low, quantity: 'relief lifts at' },
      ),
      figureOf(
        'left',
        { key: 'reseatLeft', label: 'Relief reseats at, after', measure: 'pressure' },
        { ...low, quantity: 'relief reseats at' },
      ),
      figureOf(
        'left',
        { key: 'filterDropLeft', label: 'Drop over the filter, after', measure: 'pressure drop' },
        { ...low, quantity: 'filter drop' },
      ),
      figureOf(
        'left',
        { key: 'secondsUpLeft', label: 'Low to high, after', measure: 'seconds' },
        { ...low, isOn: isTwo, quantity: 'switch time up' },
      ),
      figureOf(
        'left',
        { key: 'secondsDownLeft', label: 'High to low, after', measure: 'seconds' },
        { ...low, isOn: isTwo, quantity: 'switch time down' },
      ),
    ],
  },
];

function judge(facts: RegulatorFacts, entry: CardEntry, context: JudgeContext): ClassJudgement {
  const { remarks, expected, expect, check, say } = notes();
  const { number, text } = reader(entry.values);
  const { problems, symptoms, wrong, faulty } = faults(
    entry,
    // Reading both pressures sends the main to both, whether or not anybody ticks so.
    facts.isTwoPressure ? freezeProblems(facts, { ...entry, ticks: { ...entry.ticks, forced: true } }) : [],
  );
  const unit = facts.pressureUnit;
  const p = (value: number): string => figure(toMilli(value), unit);
  const psi = (value: number): number => convertPressure(value, unit, 'psi');
  const own = (value: number): number => convertPressure(value, 'psi', unit);
  expect('Outlet, low', figure(facts.lowMilli, unit));
  if (facts.highMilli !== null) expect('Outlet, high', figure(facts.highMilli, unit));
  if (facts.reliefMilli !== null) expect('Relief lifts', figure(facts.reliefMilli, unit));
  expect('Rise without flow', `at most ${p(own(MOST_CREEP_PSI))} in 5 min`);
  expect('Droop at normal flow', `at most ${p(own(MOST_DROOP_PSI))}`);

  const inlet = number('inlet');
  const atMost = (key: string, most: number): boolean | null => {
    const value = entry.adjusted ? number(key) : null;
    return value === null ? null : psi(value) <= most + 1e-9;
  };
  for (const [name, atFlow, atOnce, later, creepAfter, droopAfter] of [
    ['low', 'low', 'lowShut', 'lowShutLater', 'creepLeft', 'droopLeft'],
    ['high', 'high', 'highShut', 'highShutLater', 'creepLeftHigh', 'droopLeftHigh'],
  ] as const) {
    const [flow, first, last] = [number(atFlow), number(atOnce), number(later)];
    for (const [field, before, after] of [
      [atOnce, flow, first],
      [later, first, last],
    ] as const)
      if (
        isCompleting(entry) &&
        before !== null &&
        after !== null &&
        psi(after) < psi(before) - READING_SLACK_PSI
      )
        problems.push({ field, reason: 'without flow the outlet does not fall: read it again' });
    if (isCompleting(entry) && inlet !== null && flow !== null && inlet < flow)
      problems.push({ field: 'inlet', reason: `the inlet is below the ${name} outlet` });
    if (isCompleting(entry) && (first === null) !== (last === null))
      problems.push({
        field: first === null ? atOnce : later,
        reason: 'the rise without flow is two readings: at once, and after 5 minutes',
      });
    const rise = first !== null && last !== null ? last - first : null;
    const isRiseRight = rise === null || psi(rise) <= MOST_CREEP_PSI + 1e-9;
    if (rise !== null) check('creep', isRiseRight, `${name}: rises ${p(rise)} in 5 min`);
    faulty(
      'creep',
      [isRiseRight, atMost(creepAfter, MOST_CREEP_PSI)],
      `the ${name} pressure creeps: clean or replace the seat, or the device failed`,
      'regulator does not hold',
    );
    const droop = flow !== null && first !== null ? first - flow : null;
    const isDroopRight = droop === null || psi(droop) <= MOST_DROOP_PSI + 1e-9;
    if (droop !== null)
      check('creep', isDroopRight, `${name}: falls ${p(droop)} from no flow to normal flow`);
    faulty(
      'found',
      [isDroopRight, atMost(droopAfter, MOST_DROOP_PSI)],
      `the ${name} pressure droops too far: seat, or filter ahead, or the device failed`,
      'regulator does not hold',
    );
  }
  const lifts = number('reliefLifts');
  const highest = fromMilli(facts.highMilli ?? facts.lowMilli);
  const setting = facts.reliefMilli === null ? null : fromMilli(facts.reliefMilli);
  const isLiftRight = (value: number): boolean =>
    value > highest && (setting === null || Math.abs(value - setting) <= RELIEF_SHARE * setting + 1e-9);
  const liftWords = `above the highest setting, ${p(highest)}${setting === null ? '' : `, and within a tenth of its own, ${p(setting)}`}`;
  if (lifts !== null)
    check(
      'safety',
      isLiftRight(lifts),
      isLiftRight(lifts) ? `relief lifts ${liftWords}` : `relief does not lift ${liftWords}`,
    );
  const liftsAfter = entry.adjusted ? number('reliefLeft') : null;
  faulty(
    'reliefLifts',
    [lifts === null || isLiftRight(lifts), liftsAfter === null ? null : isLiftRight(liftsAfter)],
    `the relief must lift ${liftWords}`,
    'regulator does not hold',
  );
  const reseats = number('reliefReseats');
  if (reseats !== null && lifts !== null && reseats >= lifts)
    problems.push({
      field: 'reliefReseats',
      reason: 'a relief reseats below the pressure at which it lifts',
    });
  if (reseats !== null) check('safety', reseats > highest, `relief reseats at ${p(reseats)}`);
  const reseatsAfter = entry.adjusted ? number('reseatLeft') : null;
  faulty(
    'reliefReseats',
    [reseats === null || reseats > highest, reseatsAfter === null ? null : reseatsAfter > highest],
    `a relief that reseats below the highest setting, ${p(highest)}, keeps blowing`,
    'regulator does not hold',
  );
  const drop = number('filterDrop');
  const isDropRight = drop === null || psi(drop) <= MOST_FILTER_DROP_PSI + 1e-9;
  if (drop !== null) check('safety', isDropRight, `filter drop ${p(drop)}`);
  faulty(
    'filterDrop',
    [isDropRight, atMost('filterDropLeft', MOST_FILTER_DROP_PSI)],
    'the filter ahead takes too much: change the element',
    'filter drop high',
  );
  for (const [key, after, words] of [
    ['secondsUp', 'secondsUpLeft', 'low to high'],
    ['secondsDown', 'secondsDownLeft', 'high to low'],
  ] as const) {
    const seconds = number(key);
    const secondsAfter = entry.adjusted ? number(after) : null;
    const isInTime = (value: number): boolean => value > 0 && value <= MOST_SWITCH_SECONDS;
    if (seconds !== null)
      check('switching', isInTime(seconds), `${words} ${seconds} s; at most ${MOST_SWITCH_SECONDS}`);
    faulty(
      key,
      [seconds === null || isInTime(seconds), secondsAfter === null ? null : isInTime(secondsAfter)],
      `${words} takes some time, and at most ${MOST_SWITCH_SECONDS} s`,
      'does not change over in time',
    );
  }
  const { worstTrips } = facts;
  if (worstTrips) {
    const found = { low: number('lowLeft') ?? number('low'), high: number('highLeft') ?? number('high') };
    if (found.high !== null && found.high < fromMilli(worstTrips.risingMilli)) {
      check(
        'switching',
        false,
        `the high pressure does not reach ${figure(worstTrips.risingMilli, unit)}: some controllers stay low`,
      );
      wrong(
        'high',
        'the high pressure does not pass every changeover pressure downstream',
        'changeover out of place',
      );
    }
    if (found.low !== null && found.low > fromMilli(worstTrips.fallingMilli)) {
      check(
        'switching',
        false,
        `the low pressure stays above ${figure(worstTrips.fallingMilli, unit)}: some controllers stay high`,
      );
      wrong(
        'low',
        'the low pressure does not pass every changeover pressure downstream',
        'changeover out of place',
      );
    }
  }
  if (entry.adjusted && text('order') === 'high first')
    problems.push({
      field: 'order',
      reason: 'the low setting moves the high one: set low first, then high, and read both again',
    });
  if (entry.adjusted) say('left', 'plain', 'Room devices are calibrated only after the main passes.');
  const doubt = doubtOf(context.instruments.pressure, unit);
  const points = facts.points.map((point) => {
    const isLow = point.kind === 'regulator low';
    return {
      point: point.key,
      limits: limitsOfPoint(point),
      found: readError(number(isLow ? 'low' : 'high'), point.nominalMilli, doubt),
      left: entry.adjusted
        ? readError(number(isLow ? 'lowLeft' : 'highLeft'), point.nominalMilli, doubt)
        : null,
    };
  });
  if (symptoms.length === 0) {
    const first = points.find(({ found: one }) => one?.kind === 'error')?.found;
    if (first?.kind === 'error' && first.error !== 0)
      symptoms.push(first.error < 0 ? 'main low everywhere, receiver normal' : 'main above its setting');
  }
  return { expected, remarks, problems, points, isShut: false, airState: null, symptoms };
}

export const regulatorCard: CardDescription<RegulatorFacts> = {
  title: 'Pressure regulator',
  instruments: ['pressure'],
  preconditions: [
    preconditionTicks.supply,
    preconditionTicks.settled,
    preconditionTicks.weather,
    preconditionTicks.gauge,
    preconditionTicks.people,
    preconditionTicks.relieved,
  ],
  restored: [restoredTicks.main, restoredTicks.override, restoredTicks.valves, restoredTicks.plugs],
  circumstances: () => [circumstanceTicks.repaired],
  cautions: ({ isTwoPressure }) => [
    cautionTexts.storedAir,
    ...(isTwoPressure ? [cautionTexts.freeze, cautionTexts.special] : []),
    cautionTexts.smoke,
  ],
  steps,
  toleranceFor: (facts) => Math.min(...facts.points.map(({ toleranceMilli }) => fromMilli(toleranceMilli))),
  judge,
};
