/** The card of a switchover relay: both coil states, its ports, and what it gives when the power fails. */
import { airStateOfCoil, airStateOnPowerLoss } from '../trade/switchover.ts';
import type { AirState, PortContent } from '../trade/switchover.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import { convertPressure, toMilli } from '../units/units.ts';
import type { BaseFacts, CardDescription, CardEntry, CardStep, ClassJudgement } from './card.ts';
import {
  cautionTexts,
  choice,
  figureOf,
  found,
  notes,
  preconditionTicks,
  reader,
  restoredTicks,
  weatherStep,
  freezeProblems,
  isCompleting,
  isTestedAgain,
  TESTED_AGAIN,
  testedAgain,
  testedAgainProblems,
  yesNo,
} from './common.ts';
import { figure } from './measures.ts';

export type RelayFacts = BaseFacts & {
  card: 'switchover_relay';
  coilVoltage: number | null;
  noPort: PortContent;
  ncPort: PortContent;
  energisedState: AirState;
  wantedOnPowerLoss: AirState | null;
};

/** How far the common port may stand from its source, psi, and the coil voltage from its label. Common practice. */
const PORT_ALLOWANCE_PSI = 1;
const VOLTAGE_SHARE = 0.1;
/** From here on a coil is line voltage, in volts. */
const LINE_VOLTAGE = 50;
const needed = { isNeeded: true, onPaper: true } as const;

const steps: readonly CardStep<RelayFacts>[] = [
  weatherStep(),
  {
    key: 'ports',
    title: 'Ports as piped',
    fields: [
      choice(
        'noIs',
        'On the port open without current',
        ['supply air', 'exhaust', 'low regulator', 'high regulator'],
        { ...needed, phase: 'found', quantity: 'port open without current' },
      ),
      choice(
        'ncIs',
        'On the port open with current',
        ['supply air', 'exhaust', 'low regulator', 'high regulator'],
        { ...needed, phase: 'found', quantity: 'port open with current' },
      ),
    ],
  },
  {
    key: 'coil',
    title: 'Coil',
    fields: [
      found('volts', 'Voltage at the coil', 'volts', { ...needed, quantity: 'coil voltage' }),
      choice('click', 'Pulls in and drops out cleanly', yesNo, {
        ...needed,
        phase: 'found',
        quantity: 'click both ways',
      }),
      choice('hum', 'Hums', yesNo, { phase: 'found', quantity: 'hum' }),
    ],
  },
  {
    key: 'found',
    title: 'Common port',
    fields: [
      found('sourceOff', 'Source, port open without current', 'pressure', {
        ...needed,
        quantity: 'source without current',
      }),
      found('commonOff', 'Common, without current', 'pressure', { ...needed }),
      found('sourceOn', 'Source, port open with current', 'pressure', {
        ...needed,
        quantity: 'source with current',
      }),
      found('commonOn', 'Common, with current', 'pressure', { ...needed }),
      choice('leak', 'Leak at the blocked or exhaust port', yesNo, {
        ...needed,
        phase: 'found',
        quantity: 'leak',
      }),
    ],
  },
  {
    key: 'powerLoss',
    title: 'Power loss',
    lead: () => 'Take the coil’s current away and read which state the main goes to.',
    fields: [
      choice('powerLossState', 'Main goes to', ['low', 'high'], {
        ...needed,
        phase: 'found',
        quantity: 'state on power loss',
      }),
    ],
  },
  {
    key: 'left',
    title: 'After the repair',
    whenAdjusted: true,
    fields: [
      figureOf(
        'left',
        { key: 'commonOffLeft', label: 'Common as left, without current', measure: 'pressure' },
        { isNeeded: true, quantity: 'common, without current' },
      ),
      figureOf(
        'left',
        { key: 'commonOnLeft', label: 'Common as left, with current', measure: 'pressure' },
        { isNeeded: true, quantity: 'common, with current' },
      ),
      choice('leakLeft', 'Still leaks', yesNo, { phase: 'left', isNeeded: true, quantity: 'leak' }),
      testedAgain<RelayFacts>('coil, ports and power loss'),
    ],
  },
];

function judge(facts: RelayFacts, entry: CardEntry): ClassJudgement {
  const { remarks, expected, expect, check } = notes();
  const { number, text } = reader(entry.values);
  const symptoms: SymptomKey[] = [];
  // The card sends the main to both its pressures, whether or not anybody ticks so.
  const problems: ClassJudgement['problems'] = [
    ...freezeProblems(facts, { ...entry, ticks: { ...entry.ticks, forced: true } }),
    ...testedAgainProblems(entry),
  ];
  const unit = facts.pressureUnit;
  const psi = (value: number): number => convertPressure(value, unit, 'psi');
  const ports = { no: facts.noPort, nc: facts.ncPort };
  const word = (state: AirState | null): string => state ?? 'nothing: the ports contradict each other';
  expect('Without current the main goes', word(airStateOfCoil(ports, false)));
  expect('With current', word(airStateOfCoil(ports, true)));
  expect('Wanted on power loss', facts.wantedOnPowerLoss ?? 'not noted in the register');
  if (facts.coilVoltage !== null) expect('Coil', `${facts.coilVoltage} V, ±10 %`);
  const given: boolean[] = [];
  const judgeOne = (step: string, isRight: boolean, words: string, symptom: SymptomKey): void => {
    given.push(check(step, isRight, words));
    if (!isRight) symptoms.push(symptom);
  };
  for (const [key, port, words] of [
    ['noIs', facts.noPort, 'without'],
    ['ncIs', facts.ncPort, 'with'],
  ] as const) {
    const piped = text(key);
    if (piped === null) continue;
    judgeOne(
      'ports',
      piped === port,
      piped === port
        ? `port open ${words} current: as registered`
        : `port open ${words} current: registered is ${port}`,
      'power loss gives the wrong state',
    );
  }
  const volts = number('volts');
  if (volts !== null && facts.coilVoltage !== null)
    judgeOne(
      'coil',
      Math.abs(volts - facts.coilVoltage) <= VOLTAGE_SHARE * facts.coilVoltage + 1e-9,
      `${volts} V at a coil for ${facts.coilVoltage} V`,
      'relay does not shift',
    );
  if (text('click') !== null)
    judgeOne(
      'coil',
      text('click') === 'yes',
      text('click') === 'yes' ? 'shifts both ways' : 'does not shift both ways',
      'relay does not shift',
    );
  if (text('hum') !== null)
    judgeOne(
      'coil',
      text('hum') === 'no',
      text('hum') === 'no' ? 'does not hum' : 'hums: it does not seat, or its voltage is low',
      'relay does not shift',
    );
  const follows = (common: number | null, source: number | null): boolean | null =>
    common === null || source === null ? null : Math.abs(psi(common - source)) <= PORT_ALLOWANCE_PSI + 1e-9;
  const sources = { off: number('sourceOff'), on: number('sourceOn') };
  const portRight = {
    off: follows(number('commonOff'), sources.off),
    on: follows(number('commonOn'), sources.on),
  };
  for (const [key, words] of [
    ['off', 'without'],
    ['on', 'with'],
  ] as const) {
    const isRight = portRight[key];
    if (isRight === null) continue;
    const source = figure(toMilli(sources[key] ?? 0), unit);
    judgeOne(
      'found',
      isRight,
      `${words} current the common port ${isRight ? 'follows' : 'does not follow'} its source, ${source}`,
      'relay passes partly',
    );
  }
  const states = { off: airStateOfCoil(ports, false), on: airStateOfCoil(ports, true) };
  const isHigher = (off: number | null, on: number | null): boolean | null =>
    off === null || on === null || states.off === null || states.on === null
      ? null
      : psi(states.on === 'high' ? on - off : off - on) > PORT_ALLOWANCE_PSI;
  const isRight = isHigher(number('commonOff'), number('commonOn'));
  if (isRight !== null)
    judgeOne(
      'found',
      isRight,
      isRight
        ? 'the common port is higher where it should be'
        : `the common port is not higher ${states.on === 'high' ? 'with' : 'without'} current, as its ports say`,
      'power loss gives the wrong state',
    );
  if (text('leak') !== null)
    judgeOne(
      'found',
      text('leak') === 'no',
      text('leak') === 'no' ? 'no leak' : 'leaks',
      'relay passes partly',
    );
  const lost = text('powerLossState');
  if (lost !== null) {
    const byPorts = airStateOnPowerLoss(ports);
    const wanted = facts.wantedOnPowerLoss ?? byPorts;
    judgeOne(
      'powerLoss',
      lost === wanted,
      lost === wanted
        ? `${lost}, as ${facts.wantedOnPowerLoss ? 'wanted' : 'the ports give'}`
        : `${lost}; ${facts.wantedOnPowerLoss ? 'wanted' : 'the ports give'} is ${word(wanted)}`,
      'power loss gives the wrong state',
    );
  }
  const isWhole = [
    'volts',
    'click',
    'commonOff',
    'sourceOff',
    'commonOn',
    'sourceOn',
    'leak',
    'powerLossState',
  ].every((key) => entry.values[key] !== undefined);
  const leftFollows = [
    follows(number('commonOffLeft'), sources.off),
    follows(number('commonOnLeft'), sources.on),
  ];
  const leftLeak = text('leakLeft');
  const isLeftWhole = leftFollows.every((one) => one !== null) && leftLeak !== null;
  const [point] = facts.points;
  const isFailing = given.includes(false);
  // What a repair cannot show as left is still judged as found.
  const stays =
    !isTestedAgain(entry) &&
    remarks.some(
      ({ step, tone }) => tone === 'wrong' && (step === 'powerLoss' || step === 'ports' || step === 'coil'),
    );
  const isLeftHigher = isHigher(number('commonOffLeft'), number('commonOnLeft')) !== false;
  if (entry.adjusted && !isLeftHigher)
    check('left', false, 'as left the common port is not higher where it should be');
  if (entry.adjusted && stays && isCompleting(entry))
    problems.push({
      field: TESTED_AGAIN,
      reason: 'coil, ports or power loss were found wrong: repaired, test them again and say so',
    });
  return {
    expected,
    remarks,
    problems,
    points: [
      {
        point: point.key,
        limits: { found: { low: null, high: null }, left: { low: null, high: null } },
        found: isWhole ? { kind: 'proof', passes: !isFailing, method: 'proved' } : null,
        left:
          entry.adjusted && isLeftWhole
            ? {
                kind: 'proof',
                passes:
                  leftFollows.every((one) => one === true) && isLeftHigher && leftLeak === 'no' && !stays,
                method: 'proved',
              }
            : null,
      },
    ],
    isShut: false,
    airState: null,
    symptoms: [...new Set(symptoms)],
  };
}

/** True when a coil is driven by line voltage. */
export function isLineVoltage(volts: number | null): boolean {
  return volts === null || volts >= LINE_VOLTAGE;
}

export const relayCard: CardDescription<RelayFacts> = {
  title: 'Switchover relay',
  instruments: ['pressure'],
  preconditions: [
    preconditionTicks.supply,
    preconditionTicks.weather,
    preconditionTicks.gauge,
    preconditionTicks.people,
    preconditionTicks.lockout,
  ],
  restored: [restoredTicks.main, restoredTicks.override, restoredTicks.valves, restoredTicks.covers],
  circumstances: () => [],
  cautions: ({ coilVoltage }) => [
    ...(isLineVoltage(coilVoltage) ? [cautionTexts.lineVoltage] : []),
    cautionTexts.freeze,
    cautionTexts.special,
    cautionTexts.mercury,
  ],
  steps,
  toleranceFor: (facts) => convertPressure(PORT_ALLOWANCE_PSI, 'psi', facts.pressureUnit),
  judge,
};
