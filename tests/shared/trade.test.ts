import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeCard, preconditions } from '../../shared/trade/benchRules.ts';
import type { CardEntry, CardSetting } from '../../shared/trade/benchRules.ts';
import { daysLate, dueOn, dueStanding } from '../../shared/trade/due.ts';
import { branchPressure, temperatureAt } from '../../shared/trade/proportional.ts';
import { expectedReadings, travelTest } from '../../shared/trade/setpointCard.ts';
import type { SetpointFacts } from '../../shared/trade/setpointCard.ts';
import {
  errorByBranch,
  gainFromReadings,
  verdictBySimpleAcceptance,
} from '../../shared/trade/setpointError.ts';
import {
  airStateOfCoil,
  liveAirState,
  portContents,
  relayAgrees,
  relayArrangement,
} from '../../shared/trade/switchover.ts';

const facts: SetpointFacts = {
  action: 'direct',
  calibrationPressure: 8,
  outputLow: 3,
  outputHigh: 13,
  throttlingRange: 4,
  spring: { start: 3, end: 8 },
  toleranceFound: 1,
  toleranceLeft: 0.5,
  endClearance: 1,
};
const setting: CardSetting = {
  facts,
  units: { pressure: 'psi', temperature: 'degF' },
  dialMilli: 71_000,
  airState: 'low',
  rated: { low: 13, high: 18, allowance: 1 },
  measured: null,
};
const ticked = Object.fromEntries(preconditions.map(({ key }) => [key, true]));
const held: CardEntry = {
  mainPressureMilli: 13_100,
  preconditions: ticked,
  preconditionNote: '',
  found: { dialMilli: 72_000, temperatureMilli: 72_000, branchMilli: 9_000, dialAtCalibrationMilli: null },
  fullTravel: { oneWayMilli: 0, otherWayMilli: 13_100 },
  left: null,
  throttling: null,
  readAgain: null,
  dialPutBackMilli: 71_000,
  restored: { main: true, override: true, valves: true },
  outcome: 'held',
};

describe('proportional control', () => {
  const law = fc.record({
    action: fc.constantFrom('direct' as const, 'reverse' as const),
    setpoint: fc.double({ min: 40, max: 90, noNaN: true }),
    gain: fc.double({ min: 0.5, max: 6, noNaN: true }),
    calibrationPressure: fc.double({ min: 4, max: 12, noNaN: true }),
    mainPressure: fc.double({ min: 13, max: 25, noNaN: true }),
  });
  it('gives the temperature back that made the pressure, wherever it is not clipped', () =>
    fc.assert(
      fc.property(law, fc.double({ min: 30, max: 100, noNaN: true }), (one, temperature) => {
        const { pressure, clipped } = branchPressure(one, temperature);
        expect(pressure).toBeGreaterThanOrEqual(0);
        expect(pressure).toBeLessThanOrEqual(one.mainPressure);
        const back = temperatureAt(one, pressure);
        if (clipped === null && back !== null) expect(back).toBeCloseTo(temperature, 7);
      }),
    ));
  it('a controller off by e reads as off by e, and a clipped one never claims more than is true', () =>
    fc.assert(
      fc.property(law, fc.double({ min: -8, max: 8, noNaN: true }), (one, error) => {
        const room = 72;
        const { pressure } = branchPressure({ ...one, setpoint: room + error }, room);
        const read = errorByBranch({ ...one, measuredTemperature: room, dial: room, branch: pressure });
        if (read.relation === '=') expect(read.error).toBeCloseTo(error, 7);
        else if (read.relation === '>=') expect(error).toBeGreaterThanOrEqual(read.error - 1e-9);
        else expect(error).toBeLessThanOrEqual(read.error + 1e-9);
      }),
    ));
  it('refuses a gain from a clipped or unmoved branch', () => {
    expect(() => gainFromReadings({ dial: 70, branch: 0 }, { dial: 71, branch: 3 }, 18)).toThrow('clipped');
    expect(() => gainFromReadings({ dial: 70, branch: 5 }, { dial: 71, branch: 5 }, 18)).toThrow(
      'did not move',
    );
  });
});

describe('verdicts by simple acceptance', () => {
  it.each([
    [1, '=', 'inside'],
    [-1, '=', 'inside'],
    [1.001, '=', 'outside'],
    [3.2, '>=', 'outside'],
    [0.5, '>=', 'unknown'],
    [-3, '<=', 'outside'],
    [3, '<=', 'unknown'],
  ] as const)('%f with relation %s against 1.0 is %s', (error, relation, verdict) =>
    expect(verdictBySimpleAcceptance(error, relation, 1)).toBe(verdict),
  );
});

describe('which setpoint is alive', () => {
  const rated = { low: 13, high: 18, allowance: 1 };
  it.each([
    [13, 'low'],
    [14, 'low'],
    [14.1, 'between'],
    [16.9, 'between'],
    [17, 'high'],
    [18.3, 'high'],
  ])('a main of %f psi on a 13/18 controller: %s', (main, state) =>
    expect(liveAirState(main, rated)).toBe(state),
  );
  it('measured changeover pressures decide where they are known', () =>
    expect(
      [14.4, 14.5, 16.5, 16.6].map((main) => liveAirState(main, rated, { falling: 14.5, rising: 16.5 })),
    ).toEqual(['low', 'between', 'between', 'high']));
});

describe('relay ports', () => {
  it('contradicting ports give no air state', () => {
    for (const no of portContents)
      for (const nc of portContents)
        expect(relayArrangement({ no, nc }) === null).toBe(airStateOfCoil({ no, nc }, true) === null);
  });
  it('the state without current is the other one than with current', () => {
    for (const ports of [
      { no: 'supply air', nc: 'exhaust' },
      { no: 'low regulator', nc: 'high regulator' },
    ] as const)
      expect(airStateOfCoil(ports, true)).not.toBe(airStateOfCoil(ports, false));
  });
  it('says whether the noted state is the real one', () =>
    expect([
      relayAgrees({ no: 'supply air', nc: 'exhaust' }, 'low'),
      relayAgrees({ no: 'supply air', nc: 'exhaust' }, 'high'),
    ]).toEqual([true, false]));
});

describe('due dates', () => {
  it('follow the last completed calibration, else the date put in service', () =>
    expect([
      dueOn({ lastDoneOn: '2026-02-27', intervalDays: 365, inServiceOn: '1964-09-01' }),
      dueOn({ lastDoneOn: null, intervalDays: 365, inServiceOn: '2026-08-24' }),
    ]).toEqual(['2027-02-27', '2026-08-24']));
  it('today is due, not late', () =>
    expect([
      dueStanding('2026-11-25', '2026-11-25'),
      daysLate('2026-11-25', '2026-11-25'),
      dueStanding('2026-11-24', '2026-11-25'),
      daysLate('2026-11-24', '2026-11-25'),
    ]).toEqual(['due in 30 days', 0, 'late', 1]));
  it('spans of 30 and 90 days', () =>
    expect(
      ['2026-12-25', '2026-12-26', '2027-02-23', '2027-02-24'].map((due) => dueStanding(due, '2026-11-25')),
    ).toEqual(['due in 30 days', 'due in 90 days', 'due in 90 days', 'later']));
});

describe('the bench card', () => {
  it('says what to expect before anything is read', () =>
    expect(expectedReadings(facts, { dial: 71, temperature: 72, mainPressure: 13 })).toEqual({
      calibrationPressure: 8,
      gain: 2.5,
      branch: 10.5,
      checkDialUp: { dial: 74, branch: 3 },
      checkDialDown: { dial: 70, branch: 13 },
    }));
  it('lets a card go that was found inside and put back', () => {
    const result = judgeCard(setting, held);
    expect(result.problems).toEqual([]);
    expect(result.found).toEqual({ errorMilli: -400, relation: '=', method: 'M3', verdict: 'inside' });
  });
  it('stays shut in the wrong air state, and lets only the supply be blamed', () => {
    const wrong = { ...held, mainPressureMilli: 18_000 };
    expect(judgeCard(setting, wrong)).toMatchObject({ live: 'high', stateIsRight: false, found: null });
    expect(judgeCard(setting, wrong).problems.map(({ field }) => field)).toContain('outcome');
    expect(judgeCard(setting, { ...wrong, outcome: 'supply not right' }).problems).toEqual([]);
  });
  it('stays shut where the main’s pressures do not mean the role', () =>
    expect(judgeCard({ ...setting, airState: 'unknown' }, held).problems.map(({ reason }) => reason)).toEqual(
      [expect.stringContaining('do not mean this setpoint’s role')],
    ));
  it.each([
    ['the dial is not put back', { dialPutBackMilli: 75_000 }, 'dialPutBack'],
    ['the dial was not noted', { dialPutBackMilli: null }, 'dialPutBack'],
    [
      'the main is not restored',
      { restored: { main: false, override: true, valves: true } },
      'restored.main',
    ],
    [
      'a precondition is not ticked and nothing says why',
      { preconditions: { ...ticked, people: false } },
      'preconditionNote',
    ],
    ['the main is below nothing', { mainPressureMilli: -1_000 }, 'mainPressure'],
    [
      'the room is a furnace',
      {
        found: {
          dialMilli: 72_000,
          temperatureMilli: 720_000,
          branchMilli: 9_000,
          dialAtCalibrationMilli: 720_000,
        },
      },
      'found',
    ],
    [
      'a branch stands above its main',
      { fullTravel: { oneWayMilli: 0, otherWayMilli: 14_200 } },
      'fullTravel',
    ],
    ['a branch is below nothing', { fullTravel: { oneWayMilli: -100, otherWayMilli: 13_000 } }, 'fullTravel'],
    ['the swing was not made', { fullTravel: null }, 'fullTravel'],
    [
      'the swing does not pass the spring range',
      { fullTravel: { oneWayMilli: 4_000, otherWayMilli: 13_000 } },
      'fullTravel',
    ],
    [
      'it was found outside and not touched',
      {
        found: {
          dialMilli: 72_000,
          temperatureMilli: 72_000,
          branchMilli: 3_000,
          dialAtCalibrationMilli: null,
        },
      },
      'outcome',
    ],
    [
      'only a bound was found',
      {
        found: { dialMilli: 72_000, temperatureMilli: 72_000, branchMilli: 0, dialAtCalibrationMilli: null },
      },
      'outcome',
    ],
    ['it was adjusted and not read again', { outcome: 'adjusted' as const }, 'left'],
    [
      'reading the first again shows it disturbed',
      { readAgain: { temperatureMilli: 72_000, dialMilli: 72_000, branchMilli: 12_000 } },
      'readAgain',
    ],
  ])('does not close when %s', (_words, change, field) =>
    expect(judgeCard(setting, { ...held, ...change }).problems.map((problem) => problem.field)).toContain(
      field,
    ),
  );
  it('closes as adjusted with an as-left inside and the throttling range checked', () => {
    const adjusted: CardEntry = {
      ...held,
      found: {
        dialMilli: 72_000,
        temperatureMilli: 72_000,
        branchMilli: 3_000,
        dialAtCalibrationMilli: null,
      },
      left: { dialMilli: 72_000, temperatureMilli: 72_000, branchMilli: 8_200, dialAtCalibrationMilli: null },
      throttling: {
        dialUpMilli: 73_000,
        branchUpMilli: 5_700,
        dialDownMilli: 71_000,
        branchDownMilli: 10_700,
      },
      outcome: 'adjusted',
    };
    const result = judgeCard(setting, adjusted);
    expect(result.problems).toEqual([]);
    expect([result.found?.errorMilli, result.left?.errorMilli]).toEqual([2000, -80]);
    expect(result.throttling?.throttlingRange).toBeCloseTo(4, 9);
    expect(
      judgeCard(setting, {
        ...adjusted,
        throttling: {
          dialUpMilli: 73_000,
          branchUpMilli: 10_700,
          dialDownMilli: 71_000,
          branchDownMilli: 5_700,
        },
      }).problems.map(({ field }) => field),
    ).toEqual(['throttling']);
  });
  it('advises the dial method near an end', () =>
    expect(
      judgeCard(setting, {
        ...held,
        found: {
          dialMilli: 70_000,
          temperatureMilli: 72_000,
          branchMilli: 12_600,
          dialAtCalibrationMilli: null,
        },
      }).dialMethodAdvised,
    ).toBe(true));
  it('without an actuator there is nothing to hold the swing against', () =>
    expect(travelTest({ ...facts, spring: null }, 0, 13)).toBe('no spring range'));
});
