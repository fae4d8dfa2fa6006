/** The card of one setpoint of a room controller: single, two-setpoint, changeover or humidity. */
import { gainOf } from '../trade/proportional.ts';
import { setpointDoubtParts } from '../trade/doubt.ts';
import { branchAboveMain } from '../trade/plausible.ts';
import {
  asksForDialMethod,
  errorOf,
  expectedReadings,
  throttlingCheck,
  travelTest,
} from '../trade/setpointCard.ts';
import type { SetpointFacts } from '../trade/setpointCard.ts';
import { liveSetpointOf, setpointFactsOfRow } from '../trade/cardSetting.ts';
import type { Changeover, SetpointRow } from '../trade/cardSetting.ts';
import { ADVISED_MARGIN_PSI, MAIN_AT_DEVICE_ALLOWANCE_PSI, switchoverMargins } from '../trade/switchover.ts';
import type { AirState } from '../trade/switchover.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import { convertPressure, formatMilli, fromMilli, toMilli, unitLabel } from '../units/units.ts';
import type {
  BaseFacts,
  CardDescription,
  CardEntry,
  CardProblem,
  CardStep,
  ClassJudgement,
  JudgeContext,
  MeasuredError,
} from './card.ts';
import {
  cautionTexts,
  choice,
  circumstanceTicks,
  figureOf,
  found,
  besidesOf,
  doesNotFollow,
  freezeProblems,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  limitsOfPoint,
  isCompleting,
} from './common.ts';
import { doubtOf } from './instruments.ts';
import type { Instruments } from './instruments.ts';
import { RANGE_TIMES, figure } from './measures.ts';

export type SetpointCardFacts = BaseFacts &
  SetpointRow &
  Changeover & {
    card: 'setpoint';
    controllerKind: string;
    spring: { startMilli: number; endMilli: number; tag: string } | null;
    /** Setting of the main in the state that is asked for, in the controller's unit. */
    mainMilli: number | null;
    /** The main's two pressures, where it has two, in the controller's unit. */
    mainPair: { lowMilli: number; highMilli: number } | null;
    /** True when another setpoint of the controller follows on the same visit. */
    isFirstOfTwo: boolean;
    duties: readonly string[];
  };

const mustFind = { isNeeded: true, onPaper: true } as const;
const byDial = (_: SetpointCardFacts, values: Readonly<Record<string, unknown>>): boolean =>
  values.foundDialAtCalibration === undefined;

const steps: readonly CardStep<SetpointCardFacts>[] = [
  {
    key: 'state',
    title: 'Air state',
    fields: [
      found('main', 'Main pressure at the device', 'pressure', {
        ...mustFind,
        quantity: 'main pressure',
        reads: ({ mainMilli }) => mainMilli,
        help: ({ airState }) => (airState ? `this setpoint asks for ${airState}` : 'any air state'),
      }),
      found('outdoor', 'Outdoor temperature', 'outdoor temperature', {
        isOn: ({ airState }) => airState !== null,
        help: 'needed when the main was forced',
      }),
      found('water', 'Water in the coil', 'medium temperature', {
        quantity: 'water temperature',
        isOn: ({ controllerKind }) => controllerKind === 'changeover',
      }),
    ],
  },
  {
    key: 'found',
    title: 'As found',
    fields: [
      found('foundDial', 'Dial', 'dial', {
        quantity: 'dial',
        isNeeded: byDial,
        onPaper: true,
        reads: ({ dialMilli }) => dialMilli,
      }),
      found('foundRoom', 'Room', 'scale', { ...mustFind, quantity: 'room temperature' }),
      found('foundBranch', 'Branch', 'pressure', {
        quantity: 'branch pressure',
        isNeeded: byDial,
        onPaper: true,
      }),
      found('foundDialAtCalibration', 'Dial at calibration pressure', 'dial', {
        help: 'only if sought: method M1',
      }),
    ],
  },
  {
    key: 'fullTravel',
    title: 'Full travel',
    isWhole: true,
    fields: [
      found('swingOne', 'Branch, dial 5 degrees one way', 'pressure', {
        ...mustFind,
        quantity: 'branch full travel one way',
      }),
      found('swingOther', 'Branch, 5 degrees the other way', 'pressure', {
        ...mustFind,
        quantity: 'branch full travel other way',
      }),
    ],
  },
  {
    key: 'changeover',
    title: 'Changeover, if tested',
    isWhole: true,
    isOn: ({ mainPair }) => mainPair !== null,
    lead: () => 'Raise the main slowly until the branch jumps, then lower it: note both pressures.',
    fields: [
      figureOf('check', { key: 'tripRising', label: 'Changes over, main rising', measure: 'pressure' }),
      figureOf('check', { key: 'tripFalling', label: 'Changes over, main falling', measure: 'pressure' }),
    ],
  },
  {
    key: 'left',
    title: 'As left',
    whenAdjusted: true,
    fields: [
      figureOf('left', { key: 'leftDial', label: 'Dial as left', measure: 'dial' }, { quantity: 'dial' }),
      figureOf(
        'left',
        { key: 'leftRoom', label: 'Room as left', measure: 'scale' },
        { quantity: 'room temperature', isNeeded: true },
      ),
      figureOf(
        'left',
        { key: 'leftBranch', label: 'Branch as left', measure: 'pressure' },
        { quantity: 'branch pressure' },
      ),
      figureOf(
        'left',
        { key: 'leftDialAtCalibration', label: 'Left, dial at calibration pressure', measure: 'dial' },
        { quantity: 'dial at calibration pressure', help: 'only if sought' },
      ),
    ],
  },
  {
    key: 'throttling',
    title: 'Throttling-range check',
    whenAdjusted: true,
    isWhole: true,
    fields: [
      figureOf('check', { key: 'dialUp', label: 'Dial up', measure: 'dial' }, { isNeeded: true }),
      figureOf(
        'check',
        { key: 'branchUp', label: 'Branch, dial up', measure: 'pressure' },
        { quantity: 'branch dial up', isNeeded: true },
      ),
      figureOf('check', { key: 'dialDown', label: 'Dial down', measure: 'dial' }, { isNeeded: true }),
      figureOf(
        'check',
        { key: 'branchDown', label: 'Branch, dial down', measure: 'pressure' },
        { quantity: 'branch dial down', isNeeded: true },
      ),
    ],
  },
  {
    key: 'readAgain',
    title: 'Read again after the other setpoint',
    isWhole: true,
    isOn: ({ isFirstOfTwo }) => isFirstOfTwo,
    fields: [
      figureOf(
        'check',
        { key: 'againRoom', label: 'Room again', measure: 'scale' },
        { quantity: 'room temperature' },
      ),
      figureOf('check', { key: 'againDial', label: 'Dial again', measure: 'dial' }, { quantity: 'dial' }),
      figureOf(
        'check',
        { key: 'againBranch', label: 'Branch again', measure: 'pressure' },
        { quantity: 'branch pressure' },
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
          ...mustFind,
          quantity: 'dial put back',
          reads: ({ dialMilli }) => dialMilli,
          help: ({ dialMilli, scaleUnit }) => `working value ${figure(dialMilli, scaleUnit)}`,
        },
      ),
      choice('moves', 'Valve or damper moves to the side it should', ['yes', 'no', 'not seen'], {
        quantity: 'final device moves',
      }),
    ],
  },
];

/** How far from its working value the dial may be put back, in thousandths: half a scale mark. Common practice. */
const DIAL_PUT_BACK_MILLI = 500;
/** Marks of a dial, and what one repeat of a reading scatters (standard). Common practice, no published source. */
const dialMarks = { degF: 1, degC: 0.5, percent: 2 } as const;
const repeatScatter = { degF: 0.1, degC: 0.05, percent: 0.5 } as const;
/** How well a gain is known without having been measured, as a part of it (limit of error). Common practice. */
const GAIN_LIMIT = 0.1;

const wrongStateOutcomes: readonly string[] = ['supply not right', 'no access', 'unsafe', 'not tested'];

function doubtParts(
  facts: SetpointCardFacts,
  setpoint: SetpointFacts,
  branchOff: number,
  instruments: Instruments,
) {
  const thermometer = doubtOf(
    facts.scaleUnit === 'percent' ? instruments.humidity : instruments.temperature,
    facts.scaleUnit,
  );
  const gauge = doubtOf(instruments.pressure, facts.pressureUnit);
  if (!thermometer || !gauge) return null;
  return setpointDoubtParts({
    thermometer,
    gauge,
    dialStep: dialMarks[facts.scaleUnit],
    repeat: repeatScatter[facts.scaleUnit],
    repeats: 1,
    gain: gainOf(setpoint.outputLow, setpoint.outputHigh, setpoint.throttlingRange),
    gainLimit: GAIN_LIMIT,
    branchOff,
  });
}

type Set4 = { room: string; dial: string; branch: string; dialAtCalibration: string | null };

function errorFrom(
  facts: SetpointCardFacts,
  setpoint: SetpointFacts,
  entry: CardEntry,
  { keys, instruments }: { keys: Set4; instruments: Instruments },
): MeasuredError | null {
  const { number } = reader(entry.values);
  const temperature = number(keys.room);
  const sought = keys.dialAtCalibration === null ? null : number(keys.dialAtCalibration);
  const dial = number(keys.dial);
  const branch = number(keys.branch);
  const main = number('main');
  if (temperature === null) return null;
  if (sought === null && (dial === null || branch === null || main === null)) return null;
  const error = errorOf(setpoint, {
    mainPressure: main ?? 0,
    temperature,
    dial: dial ?? 0,
    branch: branch ?? 0,
    dialAtCalibrationPressure: sought,
  });
  const off = sought === null ? (branch ?? 0) - setpoint.calibrationPressure : 0;
  return { kind: 'error', ...error, doubt: doubtParts(facts, setpoint, off, instruments) };
}

const foundKeys = {
  room: 'foundRoom',
  dial: 'foundDial',
  branch: 'foundBranch',
  dialAtCalibration: 'foundDialAtCalibration',
};
const leftKeys = {
  room: 'leftRoom',
  dial: 'leftDial',
  branch: 'leftBranch',
  dialAtCalibration: 'leftDialAtCalibration',
};
const againKeys = { room: 'againRoom', dial: 'againDial', branch: 'againBranch', dialAtCalibration: null };

/** How far the main at the device is off its setting beyond what is allowed there; 0 within it, or where no setting is known. */
function offMain(facts: SetpointCardFacts, main: number): number {
  if (facts.mainMilli === null) return 0;
  const off = main - fromMilli(facts.mainMilli);
  const allowance = convertPressure(MAIN_AT_DEVICE_ALLOWANCE_PSI, 'psi', facts.pressureUnit);
  return Math.abs(off) <= allowance + 1e-9 ? 0 : off;
}

function stateProblems(
  facts: SetpointCardFacts,
  entry: CardEntry,
  state: ReturnType<typeof liveSetpointOf>,
): CardProblem[] {
  const problems: CardProblem[] = [];
  if (state.live !== null && !state.stateIsRight && !wrongStateOutcomes.includes(entry.outcome))
    problems.push({
      field: 'outcome',
      reason:
        facts.airState === null
          ? 'the main’s two pressures do not mean this setpoint’s role: mend the register first; the outcome can only be “supply not right”'
          : `the main is ${state.live === 'between' ? 'between its two states' : `in its ${state.live} state`}, this setpoint asks for ${facts.airState}: the outcome can only be “supply not right”, “unsafe” or “not tested”`,
    });
  const main = entry.values.main;
  const off = typeof main === 'number' && state.stateIsRight ? offMain(facts, fromMilli(main)) : 0;
  if (off !== 0 && isCompleting(entry))
    problems.push({
      field: 'main',
      reason: `the main is ${figure(Math.abs(toMilli(off)), facts.pressureUnit)} ${off < 0 ? 'below' : 'above'} its setting: more than is allowed at a device; set the supply right first, the outcome is “supply not right”`,
    });
  return [...problems, ...freezeProblems(facts, entry)];
}

function branchProblems(facts: SetpointCardFacts, entry: CardEntry): CardProblem[] {
  const main = entry.values.main;
  if (typeof main !== 'number') return [];
  return [
    'foundBranch',
    'swingOne',
    'swingOther',
    'leftBranch',
    'branchUp',
    'branchDown',
    'againBranch',
  ].flatMap((key) => {
    const value = entry.values[key];
    const reason = typeof value === 'number' ? branchAboveMain(value, main, facts.pressureUnit) : null;
    return reason ? [{ field: key, reason }] : [];
  });
}

function symptomsOf(
  facts: SetpointCardFacts,
  entry: CardEntry,
  state: { stateIsRight: boolean },
): SymptomKey[] {
  const { number } = reader(entry.values);
  const main = number('main');
  const swings = [number('swingOne'), number('swingOther')].filter((one) => one !== null);
  const symptoms: SymptomKey[] = [];
  const off = main === null ? 0 : offMain(facts, main);
  if (off < 0)
    symptoms.push(facts.mainPair ? 'main low in one state only' : 'main low everywhere, receiver normal');
  else if (off > 0) symptoms.push('main above its setting');
  const branch = number('foundBranch');
  const all = branch === null ? swings : [branch, ...swings];
  if (main !== null && state.stateIsRight && all.length > 1) {
    if (all.every((one) => one <= 1)) symptoms.push('branch stuck at nothing');
    else if (all.every((one) => one >= main - 1)) symptoms.push('branch stuck at main');
  }
  if (symptoms.length === 0 && entry.adjusted) symptoms.push('does not hold its adjustment');
  return symptoms;
}

function judge(facts: SetpointCardFacts, entry: CardEntry, context: JudgeContext): ClassJudgement {
  const setpoint = setpointFactsOfRow(facts, facts.pressureUnit);
  const { remarks, expected, expect, check, say } = notes();
  const { number, text } = reader(entry.values);
  const [point] = facts.points;
  const limits = limitsOfPoint(point);
  if (!setpoint)
    return {
      expected,
      remarks,
      points: [{ point: point.key, limits, found: null, left: null }],
      problems: ['no access', 'not tested'].includes(entry.outcome)
        ? []
        : [
            {
              field: 'outcome',
              reason:
                'its calibration pressure is not known: the basis is the spring midpoint, and no actuator is in the register',
            },
          ],
      isShut: false,
      airState: facts.airState,
      symptoms: [],
    };
  const p = (value: number): string => figure(toMilli(value), facts.pressureUnit);
  const t = (value: number): string => figure(toMilli(value), facts.scaleUnit);
  const main = number('main');
  const state = liveSetpointOf(facts, facts.pressureUnit, main === null ? null : toMilli(main));
  const isShut = state.live !== null && !state.stateIsRight;
  if (state.live !== null) {
    if (state.live === 'not asked') say('state', 'right', 'this setpoint is alive in any state');
    else if (!isShut) say('state', 'right', `alive in the ${state.live} state`);
    else
      say(
        'state',
        'wrong',
        facts.airState === null
          ? 'wrong state: the main’s two pressures do not mean this role; mend the register first'
          : `wrong state: the main is ${state.live === 'between' ? 'between its two states' : state.live}, this setpoint is not alive. The card stays shut, and figures typed below are not asked for; the outcome can be “supply not right”, “no access”, “unsafe” or “not tested”.`,
      );
  }
  const off = main === null || isShut ? 0 : offMain(facts, main);
  if (off !== 0)
    say(
      'state',
      'wrong',
      `the main is ${p(Math.abs(off))} ${off < 0 ? 'below' : 'above'} its setting, ${figure(facts.mainMilli ?? 0, facts.pressureUnit)}: the supply is not right`,
    );
  if (facts.mainMilli !== null) expect('Main', figure(facts.mainMilli, facts.pressureUnit));
  const at = expectedReadings(setpoint, {
    dial: number('foundDial'),
    temperature: number('foundRoom'),
    mainPressure: main ?? Infinity,
  });
  expect('Calibration pressure', p(setpoint.calibrationPressure));
  expect('Branch at this dial and room', at.branch === null ? 'type dial and room below' : p(at.branch));
  for (const [label, one] of [
    ['Dial half a range up', at.checkDialUp],
    ['Dial half a range down', at.checkDialDown],
  ] as const)
    expect(label, one ? `${p(one.branch)} at ${t(one.dial)}` : 'after the room is typed');

  const problems = [...stateProblems(facts, entry, state), ...branchProblems(facts, entry)];
  const impossible = new Set(problems.map(({ field }) => field));
  const usable = (keys: Set4): boolean => state.stateIsRight && !impossible.has(keys.branch);
  const measure = (keys: Set4): MeasuredError | null =>
    usable(keys) ? errorFrom(facts, setpoint, entry, { keys, instruments: context.instruments }) : null;
  const foundError = measure(foundKeys);
  const leftError = entry.adjusted ? measure(leftKeys) : null;
  if (
    state.stateIsRight &&
    main !== null &&
    number('foundBranch') !== null &&
    number('foundDialAtCalibration') === null &&
    asksForDialMethod(setpoint, {
      mainPressure: main,
      temperature: 0,
      dial: 0,
      branch: number('foundBranch') ?? 0,
      dialAtCalibrationPressure: null,
    })
  )
    say(
      'found',
      'look',
      `The branch is within ${p(setpoint.endClearance)} of an end: turn the dial until it reads ${p(setpoint.calibrationPressure)} and note the dial.`,
    );

  const [one, other] = [number('swingOne'), number('swingOther')];
  const completes = isCompleting(entry);
  if (one !== null && other !== null) {
    const travel = travelTest(setpoint, one, other);
    const spring = facts.spring
      ? ` ${facts.spring.tag}: ${figure(facts.spring.startMilli, facts.pressureUnit)} to ${figure(facts.spring.endMilli, facts.pressureUnit)}`
      : '';
    if (travel === 'no spring range')
      say('fullTravel', 'plain', 'no actuator in the register to hold it against');
    else if (
      !check(
        'fullTravel',
        travel === 'pass',
        `${travel === 'pass' ? 'passes' : 'does not pass'} both ends of the spring range${spring}`,
      ) &&
      completes &&
      !isShut
    )
      problems.push({
        field: 'fullTravel',
        reason: 'the branch does not pass both ends of the spring range: the device failed',
      });
  }
  const [rising, falling] = [number('tripRising'), number('tripFalling')];
  if (rising !== null && falling !== null && facts.mainPair) {
    const low = fromMilli(facts.mainPair.lowMilli);
    const high = fromMilli(facts.mainPair.highMilli);
    const margins = switchoverMargins(
      { rising, falling },
      low,
      high,
      convertPressure(ADVISED_MARGIN_PSI, 'psi', facts.pressureUnit),
    );
    say(
      'changeover',
      margins.verdict === 'pass' ? 'right' : margins.verdict === 'look' ? 'look' : 'wrong',
      `margins ${p(margins.low)} low, ${p(margins.high)} high${margins.verdict === 'fail' ? ': it does not change over on this main' : ''}`,
    );
    if (margins.verdict === 'fail' && completes)
      problems.push({
        field: 'changeover',
        reason: 'the changeover margins are below zero: adjust the changeover, or the device failed',
      });
  }
  if (entry.adjusted && main !== null) problems.push(...throttlingProblems(facts, setpoint, entry, say));
  const again = facts.isFirstOfTwo ? measure(againKeys) : null;
  if (again?.kind === 'error') {
    const isInside = Math.abs(again.error) <= fromMilli(point.toleranceMilli) && again.relation === '=';
    check(
      'readAgain',
      isInside,
      `${isInside ? 'inside' : 'not inside'}: error ${signed(again.error)} ${unitLabel(facts.scaleUnit)}`,
    );
    if (completes && !isInside)
      problems.push({
        field: 'readAgain',
        reason: 'read again after the other setpoint it is not inside: adjust it again',
      });
  }
  const back = entry.values.dialBack;
  if (completes && typeof back === 'number' && Math.abs(back - facts.dialMilli) > DIAL_PUT_BACK_MILLI)
    problems.push({
      field: 'dialBack',
      reason: `the working value of the dial is ${formatMilli(facts.dialMilli)}`,
    });
  if (text('moves') === 'no') say('putBack', 'wrong', doesNotFollow);
  return {
    expected,
    remarks,
    problems,
    points: [{ point: point.key, limits, found: foundError, left: leftError }],
    isShut,
    airState: readState(facts, state),
    symptoms: symptomsOf(facts, entry, state),
    besides: besidesOf(entry),
  };
}

function signed(value: number): string {
  const milli = toMilli(value);
  return `${milli < 0 ? '−' : milli > 0 ? '+' : ''}${formatMilli(Math.abs(milli))}`;
}

/** The air state that readings were taken in: the one the main pressure tells of, whatever the setpoint asks for. */
function readState(facts: SetpointCardFacts, state: ReturnType<typeof liveSetpointOf>): AirState | null {
  if (facts.airState === null || state.stateIsRight || state.live === null) return facts.airState;
  return state.live === 'low' || state.live === 'high' ? state.live : null;
}

function throttlingProblems(
  facts: SetpointCardFacts,
  setpoint: SetpointFacts,
  entry: CardEntry,
  say: ReturnType<typeof notes>['say'],
): CardProblem[] {
  const { number } = reader(entry.values);
  const [dialUp, branchUp, dialDown, branchDown] = ['dialUp', 'branchUp', 'dialDown', 'branchDown'].map(
    number,
  );
  if (dialUp === null || branchUp === null || dialDown === null || branchDown === null) return [];
  const isAdjusted = entry.outcome === 'adjusted';
  const measured = throttlingCheck(
    setpoint,
    { dial: dialUp, branch: branchUp },
    { dial: dialDown, branch: branchDown },
    number('main') ?? 0,
  );
  if (!measured)
    return isAdjusted
      ? [
          {
            field: 'throttling',
            reason: 'these two readings give no throttling range: the branch did not move, or was clipped',
          },
        ]
      : [];
  const isOff =
    Math.abs(measured.throttlingRange - setpoint.throttlingRange) > setpoint.throttlingRange * 0.1;
  const unit = facts.scaleUnit;
  say(
    'throttling',
    isOff ? 'look' : 'right',
    `${figure(toMilli(measured.gain), facts.pressureUnit)} per ${unit === 'percent' ? 'percent' : 'degree'}, throttling range ${figure(toMilli(measured.throttlingRange), unit)}, ${measured.action} acting${
      isOff
        ? `: the registered range is ${figure(facts.throttlingRangeMilli, unit)}; if you changed it, take the as-found step again`
        : ''
    }`,
  );
  const times = measured.throttlingRange / setpoint.throttlingRange;
  if (isAdjusted && measured.action === setpoint.action && (times > RANGE_TIMES || times < 1 / RANGE_TIMES))
    return [
      {
        field: 'throttling',
        reason: `the measured throttling range is ${times > 1 ? 'more than twice' : 'less than half'} the registered one: set it, or mend the register`,
      },
    ];
  return isAdjusted && measured.action !== setpoint.action
    ? [
        {
          field: 'throttling',
          reason: `the branch moves the wrong way for a ${setpoint.action} acting controller: wrong unit or wrong state`,
        },
      ]
    : [];
}

export const setpointCard: CardDescription<SetpointCardFacts> = {
  title: 'Setpoint',
  instruments: ['pressure', 'temperature', 'humidity'],
  preconditions: [
    preconditionTicks.supply,
    preconditionTicks.settled,
    preconditionTicks.weather,
    preconditionTicks.thermometer,
    preconditionTicks.room,
    preconditionTicks.gauges,
    preconditionTicks.people,
  ],
  restored: [restoredTicks.main, restoredTicks.override, restoredTicks.valves],
  circumstances: ({ airState }) => [
    ...(airState === null ? [] : [circumstanceTicks.forced]),
    circumstanceTicks.repaired,
  ],
  cautions: ({ airState, controllerKind, duties }) => [
    ...(airState === null ? [] : [cautionTexts.freeze, cautionTexts.special, cautionTexts.smoke]),
    ...(controllerKind === 'changeover' ? [cautionTexts.wrongWater] : []),
    ...(duties.includes('steam') || duties.includes('hot water') ? [cautionTexts.heat] : []),
  ],
  steps,
  toleranceFor: (facts, kind) => {
    const tolerance = fromMilli(facts.points[0].toleranceMilli);
    if (kind !== 'pressure') return tolerance;
    const setpoint = setpointFactsOfRow(facts, facts.pressureUnit);
    return setpoint
      ? tolerance * gainOf(setpoint.outputLow, setpoint.outputHigh, setpoint.throttlingRange)
      : null;
  },
  judge,
};
