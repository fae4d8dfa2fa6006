/**
 * Tests of an air station, and the measured bleed of a device: what each asks for, what it comes to, which factor applies
 * and why. Flows in scfm of air at 14.7 psi absolute and 70 degF. A control-air system bleeds by design: a test of the whole
 * measures leaks and normal bleed together. Forms and their sources: `leakTests.ts`, `docs/air.md`.
 */
import { fromMilli } from '../../units/units.ts';
import type { PressureUnit } from '../../units/units.ts';
import { convertPressure } from '../../units/units.ts';
import { SCIM_PER_SCFM } from './flow.ts';
import {
  BLEED_DOWN_FACTOR,
  CUBIC_FEET_PER_GALLON,
  LEAST_END_PSI,
  bleedDown,
  delivered,
  fallFactor,
  regulatedDemand,
  runShare,
} from './leakTests.ts';

/** Kept with every test and leak: which arithmetic its figures were worked out by. */
export const AIR_METHOD_VERSION = 'air 1';

export const airTestKinds = [
  'on and off',
  'hour meter',
  'bleed-down',
  'regulated demand',
  'pump-up',
  'air quality',
  'bleed of a device',
] as const;
export type AirTestKind = (typeof airTestKinds)[number];
export const stationTestKinds = airTestKinds.filter((kind) => kind !== 'bleed of a device');

export const airUnits = {
  time: ['minutes'],
  hours: ['hours'],
  pressure: ['psi', 'kPa'],
  volume: ['gal', 'ft3', 'L'],
  flow: ['scfm', 'scim', 'L/min'],
  oil: ['mg/m3'],
  count: ['per m3'],
  size: ['um'],
} as const;
export type AirMeasure = keyof typeof airUnits;
export type AirUnit = (typeof airUnits)[AirMeasure][number];

export type AirTestField = {
  quantity: string;
  label: string;
  measure: AirMeasure;
  isNeeded: boolean;
  /** Upper end of what may be typed, in the field's first unit. */
  most: number;
  help?: string;
};

const field = (
  quantity: string,
  measure: AirMeasure,
  rest: { isNeeded?: boolean; most?: number; help?: string } = {},
): AirTestField => ({
  quantity,
  label: quantity[0].toUpperCase() + quantity.slice(1),
  measure,
  isNeeded: rest.isNeeded ?? true,
  most:
    rest.most ??
    {
      time: 10_080,
      hours: 100_000,
      pressure: 300,
      volume: 100_000,
      flow: 10_000,
      oil: 1_000,
      count: 1_000_000,
      size: 10_000,
    }[measure],
  ...(rest.help === undefined ? {} : { help: rest.help }),
});

const cycles = [1, 2, 3] as const;
const fall = (volumeHelp: string): AirTestField[] => [
  field('volume', 'volume', { help: volumeHelp }),
  field('pressure at the start', 'pressure'),
  field('pressure at the end', 'pressure'),
  field('time', 'time'),
];

/** What each kind asks for, in the order in which it is read. */
export const airTestFields: Record<AirTestKind, readonly AirTestField[]> = {
  'on and off': cycles.flatMap((index) => [
    field(`on time ${index}`, 'time', { isNeeded: index === 1, most: 1_440 }),
    field(`off time ${index}`, 'time', { isNeeded: index === 1, most: 1_440 }),
  ]),
  'hour meter': [
    field('hours run', 'hours', { help: 'difference of the hour meter' }),
    field('hours by the clock', 'hours'),
  ],
  'bleed-down': fall('of what empties through its own leaks, shut off: receiver, pipes, or both'),
  'regulated demand': fall('of the receiver’s side alone'),
  'pump-up': [
    field('volume', 'volume', { help: 'of the receiver' }),
    field('pressure at the start', 'pressure'),
    field('pressure at the end', 'pressure'),
    field('time', 'time'),
    field('demand meanwhile', 'flow', { isNeeded: false, help: 'empty: the load was shut off' }),
  ],
  'air quality': [
    field('oil', 'oil', { isNeeded: false, help: 'aerosol, liquid and vapour together' }),
    field('largest particle', 'size', { isNeeded: false }),
    field('particles of 1 to 5 um', 'count', { isNeeded: false }),
  ],
  'bleed of a device': [
    field('steady flow', 'flow', { help: 'while nothing moves, at its own supply pressure' }),
  ],
};

/** What each kind is for, in one sentence. */
export const airTestWords: Record<AirTestKind, string> = {
  'on and off':
    'How long the compressor runs and rests: the share of the time, and with the capacity the demand of everything, leaks and normal bleed together.',
  'hour meter': 'The same over days or weeks, by the hour meter: steadier than three cycles.',
  'bleed-down': 'A vessel or a pipe, shut off, loses pressure through its own leaks alone.',
  'regulated demand':
    'The compressor is off and the receiver feeds the building through the reducing valve: what leaks and bleeds behind it takes the same flow all the while.',
  'pump-up': 'How fast the compressor fills the receiver: what it delivers, against its nameplate.',
  'air quality': 'Oil and particles, from a laboratory or a tube.',
  'bleed of a device': 'What one device takes while nothing moves; it stands before its sheet and its class.',
};

export type AirTestReading = { quantity: string; valueMilli: number; unit: string };

/** What a test is worked out with besides its readings. `capacity`: scfm, in force on its day. */
export type AirTestFacts = { capacity: number | null; atmospherePsi: number };

export type AirTestResult = {
  measures: 'demand' | 'leaks' | 'capacity' | 'bleed' | 'quality';
  scfm: number | null;
  share: number | null;
  factor: number | null;
  /** Which form and factor applies, and why. */
  why: string;
  /** Other forms of the same readings, for who compares. */
  others: { words: string; scfm: number }[];
  cautions: string[];
};

export type AirTestProblem = { quantity: string; reason: string };

const CUBIC_FEET_PER_LITRE = 0.0353146667;

/** A reading in the unit of the arithmetic: psi, ft3, scfm; anything else as it is. */
export function inAirUnits(value: number, unit: string): number {
  switch (unit) {
    case 'kPa':
      return convertPressure(value, 'kPa' as PressureUnit, 'psi');
    case 'gal':
      return value * CUBIC_FEET_PER_GALLON;
    case 'L':
    case 'L/min':
      return value * CUBIC_FEET_PER_LITRE;
    case 'scim':
      return value / SCIM_PER_SCFM;
    default:
      return value;
  }
}

/** A flow beyond these is a slip of the pen. */
const MOST_SCFM = 10_000;
const LEAST_SCFM = 0.0001;

function number(get: Get, quantity: string): number {
  return get(quantity) ?? 0;
}

type Get = (quantity: string) => number | null;

function getterOf(readings: readonly AirTestReading[]): Get {
  return (quantity) => {
    const found = readings.find((one) => one.quantity === quantity);
    return found === undefined ? null : inAirUnits(fromMilli(found.valueMilli), found.unit);
  };
}

/** What of the readings cannot be: missing, not asked for, in another unit, out of order. Empty when all is well. */
export function airTestProblems(kind: AirTestKind, readings: readonly AirTestReading[]): AirTestProblem[] {
  const fields = airTestFields[kind];
  const get = getterOf(readings);
  const problems: AirTestProblem[] = [];
  const refuse = (quantity: string, reason: string): void => void problems.push({ quantity, reason });
  for (const { quantity, unit } of readings) {
    const own = fields.find((one) => one.quantity === quantity);
    if (!own) refuse(quantity, `a test of the kind “${kind}” does not ask for it`);
    else if (!(airUnits[own.measure] as readonly string[]).includes(unit))
      refuse(quantity, `is given in ${airUnits[own.measure].join(', ')}`);
  }
  for (const { quantity, measure, isNeeded, most } of fields) {
    const value = get(quantity);
    const unit = readings.find((one) => one.quantity === quantity)?.unit ?? airUnits[measure][0];
    const limit = inAirUnits(most, airUnits[measure][0]);
    if (value === null) {
      if (isNeeded) refuse(quantity, 'is needed');
    } else if (value < 0 || value > limit + 1e-9)
      refuse(quantity, `lies between 0 and ${Number((limit / inAirUnits(1, unit)).toPrecision(6))} ${unit}`);
  }
  if (problems.length > 0) return problems;
  const [from, to] = [get('pressure at the start'), get('pressure at the end')];
  if (from !== null && to !== null) {
    if (kind === 'pump-up' ? to <= from : to >= from)
      refuse(
        'pressure at the end',
        kind === 'pump-up' ? 'lies above that at the start' : 'lies below that at the start',
      );
    if (kind === 'bleed-down' && to < LEAST_END_PSI)
      refuse(
        'pressure at the end',
        `end the test at ${LEAST_END_PSI} psi or more: below, the flow all but stops`,
      );
    for (const quantity of ['volume', 'time']) if (get(quantity) === 0) refuse(quantity, 'lies above zero');
  }
  if (from !== null && to !== null && problems.length === 0) {
    const flow = (number(get, 'volume') * Math.abs(from - to)) / number(get, 'time') / 14.7;
    if (flow > MOST_SCFM)
      refuse('time', `comes to ${Math.round(flow)} scfm, which no station moves: minutes, and not seconds?`);
    if (flow < LEAST_SCFM) refuse('time', 'comes to next to nothing: are volume and time right?');
  }
  if (kind === 'on and off')
    for (const index of cycles) {
      const [on, off] = [get(`on time ${index}`), get(`off time ${index}`)];
      if ((on === null) !== (off === null))
        refuse(`${on === null ? 'on' : 'off'} time ${index}`, 'a cycle has both times');
      if (on === 0 && off === 0) refuse(`off time ${index}`, 'a cycle lasts some time');
    }
  if (kind === 'hour meter') {
    const [run, clock] = [get('hours run') ?? 0, get('hours by the clock') ?? 0];
    if (clock === 0) refuse('hours by the clock', 'lies above zero');
    else if (run > clock) refuse('hours run', 'it cannot run longer than the clock does');
  }
  if (kind === 'air quality' && readings.length === 0) refuse('oil', 'give oil, particles, or both');
  return problems;
}

const scfmText = (value: number): string => `${value < 0.1 ? value.toFixed(4) : value.toFixed(3)} scfm`;

function ofShare(share: number, facts: AirTestFacts, cautions: string[]): AirTestResult {
  return {
    measures: 'demand',
    scfm: facts.capacity === null ? null : facts.capacity * share,
    share,
    factor: null,
    why:
      facts.capacity === null
        ? 'The share of the time alone: without a capacity it is no flow.'
        : `The capacity of ${Number(facts.capacity.toPrecision(3))} scfm times the share of the time that it runs.`,
    others: [],
    cautions: [
      ...cautions,
      ...(share === 0 ? ['It never ran: was it switched on?'] : []),
      'A long run time means leaks, load or a worn pump: a pump-up test tells which.',
    ],
  };
}

/**
 * What a test comes to. Throws RangeError on readings that `airTestProblems` refuses. Unrounded.
 * Factors: regulated demand 1.0 (what hangs behind a reducing valve takes one flow); bleed-down the exact ratio of the flow at
 * the start to the mean flow, where a rounded 1.25 is usual for a fall to half.
 */
export function airTestResult(
  kind: AirTestKind,
  readings: readonly AirTestReading[],
  facts: AirTestFacts,
): AirTestResult {
  const [problem] = airTestProblems(kind, readings);
  if (problem) throw new RangeError(`${problem.quantity}: ${problem.reason}`);
  const get = getterOf(readings);
  const test = {
    volume: number(get, 'volume'),
    from: number(get, 'pressure at the start'),
    to: number(get, 'pressure at the end'),
    minutes: number(get, 'time'),
  };
  switch (kind) {
    case 'on and off': {
      const timed = cycles.flatMap((index) => {
        const [on, off] = [get(`on time ${index}`), get(`off time ${index}`)];
        return on === null || off === null ? [] : [{ on, off }];
      });
      const sum = (of: 'on' | 'off'): number => timed.reduce((total, one) => total + one[of], 0);
      const startsAnHour = (60 * timed.length) / (sum('on') + sum('off'));
      return ofShare(runShare(sum('on'), sum('off')), facts, [
        ...(timed.length < 3 ? ['Fewer than three cycles: the next ones may differ.'] : []),
        ...(startsAnHour >= 10
          ? [
              `${startsAnHour.toFixed(0)} starts an hour: ten and more wear the motor; look at the receiver and the pressure switch.`,
            ]
          : []),
      ]);
    }
    case 'hour meter':
      return ofShare(number(get, 'hours run') / number(get, 'hours by the clock'), facts, []);
    case 'bleed-down': {
      const { factor, isChoked } = fallFactor(test, facts.atmospherePsi);
      const simple = bleedDown(test, 1);
      return {
        measures: 'leaks',
        scfm: simple * factor,
        share: null,
        factor,
        why: `Factor ${factor.toFixed(3)}: leaks flow less as the pressure falls, and the figure is that at the start. ${
          isChoked
            ? 'Their flow was choked all the way: the exact form holds.'
            : 'Below some 13 psi the flow is no longer choked and falls faster: it is summed up over the fall.'
        }`,
        others: [
          { words: 'mean over the fall, no factor', scfm: simple },
          {
            words: `with the rounded factor ${BLEED_DOWN_FACTOR}, meant for a fall to half`,
            scfm: bleedDown(test),
          },
        ],
        cautions: ['One temperature is taken: air that cools loses pressure without a leak.'],
      };
    }
    case 'regulated demand':
      return {
        measures: 'demand',
        scfm: regulatedDemand(test),
        share: null,
        factor: 1,
        why: 'Factor 1: what hangs behind the reducing valve takes one flow whatever the receiver holds, so that its pressure falls in a line.',
        others: [
          {
            words: `the factor ${BLEED_DOWN_FACTOR} of a bleed-down would give too much`,
            scfm: bleedDown(test),
          },
        ],
        cautions: ['Stop before the receiver comes near the pressure that the reducing valve needs.'],
      };
    case 'pump-up': {
      const demand = number(get, 'demand meanwhile');
      return {
        measures: 'capacity',
        scfm: delivered({ ...test, demand }),
        share: null,
        factor: 1,
        why:
          demand === 0
            ? 'Factor 1: the load was shut off, and all that was delivered stayed in the receiver.'
            : `Factor 1: what stayed in the receiver, and the ${scfmText(demand)} that flowed off meanwhile.`,
        others: [],
        cautions: [
          'Warm air inflates it: let it cool and read again, or repeat. Well below the nameplate the pump is worn.',
        ],
      };
    }
    case 'air quality':
      return {
        measures: 'quality',
        scfm: null,
        share: null,
        factor: null,
        why: '',
        others: [],
        cautions: [],
      };
    case 'bleed of a device':
      return {
        measures: 'bleed',
        scfm: number(get, 'steady flow'),
        share: null,
        factor: null,
        why: 'As it was read.',
        others: [],
        cautions: [],
      };
  }
}

/** A result as it is stored: thousandths of a scim, and millionths. */
export function storedAirResult(result: Pick<AirTestResult, 'scfm' | 'share'>): {
  flowScimMilli: number | null;
  sharePpm: number | null;
} {
  return {
    flowScimMilli: result.scfm === null ? null : Math.round(result.scfm * SCIM_PER_SCFM * 1000),
    sharePpm: result.share === null ? null : Math.round(result.share * 1_000_000),
  };
}
