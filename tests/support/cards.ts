/** Facts and good entries of every card, for tests of the descriptions. */
import type { CardEntry, CardPoint, CardValues } from '../../shared/cards/card.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts, CardKind } from '../../shared/cards/index.ts';
import type { Instrument } from '../../shared/cards/instruments.ts';
import { judgeCard } from '../../shared/cards/judge.ts';
import type { DecisionRule } from '../../shared/trade/doubt.ts';
import type { TestPointKind } from '../../shared/trade/words.ts';
import type { Unit } from '../../shared/units/units.ts';

export const instrument = (change: Partial<Instrument> = {}): Instrument => ({
  id: 1,
  tag: 'PG-1',
  kind: 'pressure',
  unit: 'psi',
  rangeLowMilli: 0,
  rangeHighMilli: 30_000,
  accuracyForm: 'absolute',
  accuracyMilli: 75,
  accuracyGrade: null,
  stepMilli: null,
  certificate: null,
  certificateDueOn: '2027-06-30',
  ...change,
});
export const thermometer = (change: Partial<Instrument> = {}): Instrument =>
  instrument({
    id: 2,
    tag: 'TH-1',
    kind: 'temperature',
    unit: 'degF',
    rangeLowMilli: 32_000,
    rangeHighMilli: 212_000,
    accuracyMilli: 200,
    ...change,
  });
export const hygrometer = (change: Partial<Instrument> = {}): Instrument =>
  instrument({
    id: 3,
    tag: 'HY-1',
    kind: 'humidity',
    unit: 'percent',
    rangeLowMilli: 0,
    rangeHighMilli: 100_000,
    accuracyMilli: 1_000,
    ...change,
  });

let nextPoint = 0;
function point(
  kind: TestPointKind,
  unit: Unit,
  nominal: number | null,
  tolerance: number,
  left: number = tolerance,
): CardPoint {
  nextPoint += 1;
  return {
    key: kind,
    testPointId: nextPoint,
    kind,
    role: '',
    unit,
    nominalMilli: nominal,
    toleranceMilli: tolerance,
    toleranceLeftMilli: left,
  };
}

const base = {
  pressureUnit: 'psi',
  temperatureUnit: 'degF',
  scaleUnit: 'degF',
  freezeLockoutMilli: 40_000,
} as const;

const setpointFacts: CardFacts = {
  ...base,
  card: 'setpoint',
  points: [point('setpoint', 'degF', 71_000, 1_000, 500)],
  controllerKind: 'two-setpoint',
  role: 'occupied',
  airState: 'low',
  action: 'direct',
  dialMilli: 71_000,
  throttlingRangeMilli: 4_000,
  outputLowMilli: 3_000,
  outputHighMilli: 13_000,
  calibrationPressureMilli: 8_000,
  spring: { startMilli: 3_000, endMilli: 8_000, tag: 'VH-1' },
  toleranceMilli: 1_000,
  toleranceLeftMilli: 500,
  rated: { lowMilli: 13_000, highMilli: 18_000 },
  measuredTrips: null,
  mainMilli: 13_000,
  mainPair: { lowMilli: 13_000, highMilli: 18_000 },
  isFirstOfTwo: false,
  duties: [],
};

/** Facts of each class; the setpoint is an occupied one on a 13/18 psi main. */
export const factsOf: Record<CardKind | 'humidity' | 'single regulator' | 'single main', CardFacts> = {
  setpoint: setpointFacts,
  humidity: {
    ...(setpointFacts as Extract<CardFacts, { card: 'setpoint' }>),
    scaleUnit: 'percent',
    points: [point('setpoint', 'percent', 45_000, 3_000, 2_000)],
    controllerKind: 'humidity',
    role: 'only',
    airState: null,
    mainMilli: 20_000,
    dialMilli: 45_000,
    throttlingRangeMilli: 20_000,
    spring: null,
    toleranceMilli: 3_000,
    toleranceLeftMilli: 2_000,
    mainPair: null,
  },
  receiver: {
    ...base,
    card: 'receiver',
    points: [point('setpoint', 'degF', 140_000, 3_000, 2_000)],
    dialMilli: 140_000,
    action: 'direct',
    calibrationPressureMilli: 8_000,
    throttlingRangeMilli: 20_000,
    outputLowMilli: 3_000,
    outputHighMilli: 13_000,
    transmitter: {
      tag: 'TX-1',
      spanLowMilli: 40_000,
      spanHighMilli: 240_000,
      signalLowMilli: 3_000,
      signalHighMilli: 15_000,
    },
    reset: { fromAtMilli: 0, fromSetpointMilli: 180_000, toAtMilli: 60_000, toSetpointMilli: 100_000 },
  },
  regulator: {
    ...base,
    card: 'regulator',
    points: [point('regulator low', 'psi', 13_000, 500), point('regulator high', 'psi', 18_000, 500)],
    isTwoPressure: true,
    lowMilli: 13_000,
    highMilli: 18_000,
    reliefMilli: 25_000,
    worstTrips: { risingMilli: 17_000, fallingMilli: 14_000 },
  },
  'single regulator': {
    ...base,
    card: 'regulator',
    points: [point('regulator low', 'psi', 20_000, 500)],
    isTwoPressure: false,
    lowMilli: 20_000,
    highMilli: null,
    reliefMilli: null,
    worstTrips: null,
  },
  switchover_relay: {
    ...base,
    card: 'switchover_relay',
    points: [point('relay switching', 'none', null, 0)],
    coilVoltage: 120,
    noPort: 'supply air',
    ncPort: 'exhaust',
    energisedState: 'low',
    wantedOnPowerLoss: 'high',
  },
  time_switch: {
    ...base,
    card: 'time_switch',
    points: [point('clock', 'minutes', 0, 5_000)],
    programme: ['Mon Tue 06:00-18:00 low'],
    restState: 'high',
    holidays: ['2026-12-25'],
    reserveHours: 48,
  },
  main: {
    ...base,
    card: 'main',
    points: [point('main low', 'psi', 13_000, 1_000), point('main high', 'psi', 18_000, 1_000)],
    isTwoPressure: true,
    lowMilli: 13_000,
    highMilli: 18_000,
    lowMeans: 'occupied',
    highMeans: 'unoccupied',
    worstTrips: { risingMilli: 17_000, fallingMilli: 14_000 },
    controllers: 62,
    wantedOnPowerLoss: 'high',
  },
  'single main': {
    ...base,
    card: 'main',
    points: [point('main low', 'psi', 20_000, 1_000)],
    isTwoPressure: false,
    lowMilli: 20_000,
    highMilli: null,
    lowMeans: null,
    highMeans: null,
    worstTrips: null,
    controllers: 0,
    wantedOnPowerLoss: null,
  },
  transmitter: {
    ...base,
    card: 'transmitter',
    points: [point('transmitter zero', 'psi', 3_000, 240), point('transmitter span', 'psi', 15_000, 240)],
    spanLowMilli: 50_000,
    spanHighMilli: 100_000,
    outputLowMilli: 3_000,
    outputHighMilli: 15_000,
  },
  actuator: {
    ...base,
    card: 'actuator',
    points: [point('spring start', 'psi', 3_000, 500), point('spring end', 'psi', 8_000, 500)],
    actuatorKind: 'valve',
    normalPosition: 'open',
    startMilli: 3_000,
    endMilli: 8_000,
    duty: 'hot water',
    hasPositioner: false,
  },
  air_station: {
    ...base,
    card: 'air_station',
    points: [point('dew point', 'degF', null, 2_000)],
    coldestMilli: 60_000,
  },
};

/** Values with which each card closes as held. */
export const goodValues: Record<keyof typeof factsOf, CardValues> = {
  setpoint: {
    main: 13_100,
    foundDial: 72_000,
    foundRoom: 72_000,
    foundBranch: 9_000,
    swingOne: 0,
    swingOther: 13_100,
    dialBack: 71_000,
  },
  humidity: {
    main: 20_000,
    foundDial: 50_000,
    foundRoom: 50_000,
    foundBranch: 8_500,
    swingOne: 0,
    swingOther: 20_000,
    dialBack: 45_000,
  },
  receiver: {
    main: 20_000,
    dial: 140_000,
    test: 9_060,
    testUp: 9_500,
    outputUp: 12_100,
    testDown: 8_500,
    outputDown: 3_900,
    resetAt1: 30_000,
    resetSetpoint1: 141_000,
    resetAt2: 0,
    resetSetpoint2: 179_000,
    dialBack: 140_000,
    moves: 'yes',
  },
  regulator: {
    outdoor: 55_000,
    inlet: 80_000,
    low: 13_100,
    high: 17_900,
    pilot: 18_000,
    lowShut: 13_400,
    lowShutLater: 13_700,
    highShut: 18_200,
    highShutLater: 18_500,
    reliefLifts: 25_100,
    reliefReseats: 23_000,
    filterDrop: 2_000,
    secondsUp: 40_000,
    secondsDown: 55_000,
  },
  'single regulator': { low: 20_200, lowShut: 20_500, lowShutLater: 20_900 },
  switchover_relay: {
    outdoor: 55_000,
    noIs: 'supply air',
    ncIs: 'exhaust',
    volts: 118_000,
    click: 'yes',
    hum: 'no',
    sourceOff: 18_000,
    commonOff: 17_800,
    sourceOn: 0,
    commonOn: 100,
    leak: 'no',
    powerLossState: 'high',
  },
  time_switch: {
    clock: -2_000,
    weekday: 'yes',
    daylight: 'yes',
    programme: 'yes',
    holidays: 'yes',
    reserve: 'yes',
    override: 'yes',
  },
  main: {
    outdoor: 55_000,
    stationLow: 13_100,
    farLow: 12_800,
    stationHigh: 18_200,
    farHigh: 17_900,
    minutesUp: 3_500,
    minutesDown: 6_000,
    powerLossState: 'high',
    sampled: 7_000,
    changed: 7_000,
    farthest: 'yes',
  },
  'single main': { stationLow: 20_200, farLow: 19_700 },
  transmitter: {
    main: 20_000,
    reference1up: 60_000,
    output1up: 5_400,
    reference2up: 90_000,
    output2up: 12_700,
  },
  actuator: {
    normal: 'open',
    load: 'unloaded',
    startUp: 3_200,
    endUp: 8_300,
    endDown: 7_800,
    startDown: 2_700,
    reached: 100_000,
    holdAtOnce: 9_600,
    holdLater: 9_300,
    linkage: 'yes',
    seat: 'yes',
  },
  air_station: {
    on1: 3_000,
    off1: 8_000,
    on2: 3_000,
    off2: 7_500,
    on3: 3_200,
    off3: 8_100,
    cutIn: 70_000,
    cutOut: 90_000,
    receiver: 85_000,
    drained: 200_000,
    oil: 'no',
    autoDrain: 'yes',
    handDrain: 'yes',
    belt: 'yes',
    oilLevel: 'yes',
    intake: 'yes',
    dewPoint: 35_000,
    dewPressure: 85_000,
    drop1: 2_000,
    drop2: 1_000,
    reducing: 'yes',
    relief: 'yes',
    safetyValve: '2026-05-04',
    standby: 'yes',
  },
};

export const instruments = { pressure: instrument(), temperature: thermometer(), humidity: hygrometer() };

/** A whole entry of a card: everything ticked, found inside. */
export function goodEntry(name: keyof typeof factsOf, change: Partial<CardEntry> = {}): CardEntry {
  const facts = factsOf[name];
  const { preconditions, restored } = descriptionOf(facts);
  return {
    values: goodValues[name],
    ticks: Object.fromEntries([...preconditions, ...restored].map(({ key }) => [key, true])),
    tickNote: '',
    adjusted: false,
    outcome: 'held',
    ...change,
  };
}

/** What a card comes to with some values changed; undefined takes one away. */
export function judgedWith(
  name: keyof typeof factsOf,
  values: Record<string, number | string | undefined> = {},
  {
    rule = 'simple acceptance',
    facts = factsOf[name],
    ...change
  }: Partial<CardEntry> & { rule?: DecisionRule; facts?: CardFacts } = {},
) {
  const merged = Object.entries({ ...goodValues[name], ...values }).filter(
    ([, value]) => value !== undefined,
  );
  return judgeCard(
    descriptionOf(facts),
    facts,
    goodEntry(name, { ...change, values: Object.fromEntries(merged) as CardValues }),
    { instruments, rule, doneOn: '2026-11-25' },
  );
}
