import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { limitsOf, verdictInDoubt } from '../../shared/trade/doubt.ts';
import { daysLate, dueOn, dueStanding } from '../../shared/trade/due.ts';
import { branchPressure, temperatureAt } from '../../shared/trade/proportional.ts';
import { expectedReadings, travelTest } from '../../shared/trade/setpointCard.ts';
import type { SetpointFacts } from '../../shared/trade/setpointCard.ts';
import { errorByBranch, gainFromReadings } from '../../shared/trade/setpointError.ts';
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
    expect(verdictInDoubt({ error, relation }, limitsOf(1), 0)).toBe(verdict),
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
  it('without an actuator there is nothing to hold the swing against', () =>
    expect(travelTest({ ...facts, spring: null }, 0, 13)).toBe('no spring range'));
});
