/**
 * Check values of proportional control, setpoint errors, travel, action match and switchover.
 *
 * Sources, by the number of the check:
 * 1-12   arithmetic from the exact definition of psi; temperature rows and the psi factor: NIST SP 811
 *        appendix B (temperature rows read second hand; psi factor from memory). Rows 7 and 8: main pairs of
 *        ASHRAE Handbook - Fundamentals ch. 7 section 2.3.
 * 13-25, 28-37, 39-60   arithmetic from the formulas stated with each function; no outside figure.
 * 26, 27 midpoints named in a trade discussion of calibrating room thermostats (read), and arithmetic.
 * 42, 43 definition of normally open and closed: ASHRAE Handbook - Fundamentals ch. 7 section 2.1.
 * Tolerance on results 0.005 unless stated.
 */
import { describe, expect, it } from 'vitest';
import {
  actionMatchesDuty,
  flowOnAirLoss,
  neededAction,
  openingSign,
} from '../../shared/trade/actionMatch.ts';
import {
  commonSpringRanges,
  openPercent,
  strokeMargin,
  travelPercent,
} from '../../shared/trade/actuators.ts';
import {
  branchPressure,
  calibrationPressure,
  gainOf,
  midpoint,
  offsetOf,
  setpointShiftOfCalibrationChange,
  temperatureAt,
  throttlingRangeOf,
} from '../../shared/trade/proportional.ts';
import { errorByBranch, errorByDial, gainFromReadings } from '../../shared/trade/setpointError.ts';
import {
  airStateOnPowerLoss,
  idealChangeoverPressure,
  switchoverMargins,
} from '../../shared/trade/switchover.ts';
import {
  convertPressure,
  fahrenheitDifferenceToKelvin,
  fahrenheitToCelsius,
  gainPsiPerFahrenheitToKpaPerKelvin,
  kpaToPsi,
  psiToKpa,
} from '../../shared/units/units.ts';

const near = (value: number, expected: number): void =>
  expect(Math.abs(value - expected)).toBeLessThanOrEqual(0.005);

const direct = {
  action: 'direct' as const,
  setpoint: 70,
  gain: 2.5,
  calibrationPressure: 8,
  mainPressure: 18,
};
const reverse = { ...direct, action: 'reverse' as const };

describe('conversions, checks 1 to 12', () => {
  it.each([
    [1, 1, 6.894757],
    [2, 3, 20.684],
    [3, 15, 103.421],
    [6, 8, 55.158],
  ])('check %i: %f psi in kPa', (_check, psi, kpa) => near(psiToKpa(psi), kpa));

  it.each([
    [4, 20, 2.9008],
    [5, 100, 14.5038],
    [7, 90, 13.053],
    [7, 120, 17.405],
    [8, 100, 14.504],
    [8, 140, 20.305],
  ])('check %i: %f kPa in psi', (_check, kpa, psi) => near(kpaToPsi(kpa), psi));

  it('check 9: a gain of 2.5 psi per degree in kPa per K', () =>
    near(gainPsiPerFahrenheitToKpaPerKelvin(2.5), 31.026));
  it('check 10: a reading of 70 degrees', () => near(fahrenheitToCelsius(70), 21.111));
  it('check 11: a difference of 2 degrees has no offset', () =>
    near(fahrenheitDifferenceToKelvin(2), 1.1111));
  it('check 12: a difference of nothing is nothing', () => expect(fahrenheitDifferenceToKelvin(0)).toBe(0));
  it('the same unit is never touched', () => expect(convertPressure(13.1, 'psi', 'psi')).toBe(13.1));
});

describe('proportional control, checks 13 to 27 and 36 to 37', () => {
  it.each([
    [13, direct, 68, 3, null],
    [14, direct, 70, 8, null],
    [15, direct, 72, 13, null],
    [16, direct, 66, 0, 'low'],
    [17, direct, 75, 18, 'high'],
    [18, { ...direct, mainPressure: 15 }, 73, 15, 'high'],
    [19, reverse, 68, 13, null],
    [20, reverse, 72, 3, null],
    [21, { ...direct, setpoint: 72, gain: gainOf(3, 13, 6) }, 70, 4.667, null],
    [22, { ...direct, setpoint: 72, gain: gainOf(3, 15, 5), calibrationPressure: 9 }, 74, 13.8, null],
    [
      23,
      {
        action: 'direct' as const,
        setpoint: 21,
        gain: gainOf(20, 90, 2),
        calibrationPressure: 55,
        mainPressure: 140,
      },
      21.5,
      72.5,
      null,
    ],
  ])('check %i', (_check, law, temperature, pressure, clipped) => {
    const result = branchPressure(law, temperature);
    near(result.pressure, pressure);
    expect(result.clipped).toBe(clipped);
  });

  it('check 17: the unclipped figure is kept', () => near(branchPressure(direct, 75).raw, 20.5));
  it('check 18: the unclipped figure is kept', () =>
    near(branchPressure({ ...direct, mainPressure: 15 }, 73).raw, 15.5));
  it('check 24: from pressure back to temperature, and the offset', () => {
    const temperature = temperatureAt(direct, 10.5) as number;
    near(temperature, 71);
    near(offsetOf(temperature, 70), 1);
  });
  it('a clipped pressure has no temperature', () =>
    expect([temperatureAt(direct, 0), temperatureAt(direct, 18)]).toEqual([null, null]));
  it('check 25: spring 8 to 13', () => near(midpoint(8, 13), 10.5));
  it('check 26: spring 3 to 9', () =>
    near(
      calibrationPressure({
        basis: 'spring midpoint',
        outputLow: 3,
        outputHigh: 13,
        spring: { start: 3, end: 9 },
      }) as number,
      6,
    ));
  it('check 27: signal 3 to 15', () =>
    near(calibrationPressure({ basis: 'output midpoint', outputLow: 3, outputHigh: 15 }) as number, 9));
  it('check 36: throttling range of a 3 to 8 device', () => near(throttlingRangeOf(3, 8, 2.5), 2));
  it('check 37: a calibration pressure moved from 8 to 10.5', () =>
    near(setpointShiftOfCalibrationChange(8, 10.5, 2.5), 1));
});

describe('setpoint errors, checks 28 to 35', () => {
  const reading = { gain: 2.5, calibrationPressure: 8, measuredTemperature: 72, dial: 72, mainPressure: 18 };
  it.each([
    [28, 'direct' as const, 9, -0.4, '=', 'M3'],
    [29, 'reverse' as const, 9, 0.4, '=', 'M3'],
    [30, 'direct' as const, 3, 2, '=', 'M3'],
    [31, 'direct' as const, 0, 3.2, '>=', 'M3'],
  ])('check %i', (_check, action, branch, error, relation, method) => {
    const result = errorByBranch({ ...reading, action, branch });
    near(result.error, error);
    expect([result.relation, result.method]).toEqual([relation, method]);
  });
  it('check 32: undisturbed, dial and room apart', () => {
    const result = errorByBranch({ ...reading, action: 'direct', dial: 70, branch: 10.5 });
    near(result.error, 1);
    expect(result.method).toBe('M2');
  });
  it('check 33: the dial method', () =>
    expect(errorByDial(72, 70.5)).toEqual({ error: 1.5, relation: '=', method: 'M1' }));
  it('check 34: gain of a direct acting controller', () =>
    expect(gainFromReadings({ dial: 70, branch: 8 }, { dial: 71, branch: 5.5 }, 18)).toEqual({
      gain: 2.5,
      action: 'direct',
    }));
  it('check 35: gain of a reverse acting controller', () =>
    expect(gainFromReadings({ dial: 70, branch: 8 }, { dial: 71, branch: 10 }, 18)).toEqual({
      gain: 2,
      action: 'reverse',
    }));
});

describe('travel, checks 39 to 43', () => {
  const heating = { start: 3, end: 8 };
  const cooling = { start: 8, end: 13 };
  it('check 39', () =>
    expect([travelPercent(5.5, heating), openPercent(5.5, heating, 'open')]).toEqual([50, 50]));
  it('check 40', () =>
    expect([travelPercent(9, cooling), openPercent(9, cooling, 'closed')]).toEqual([20, 20]));
  it('check 41', () =>
    expect([travelPercent(13, heating), openPercent(13, heating, 'open')]).toEqual([100, 0]));
  it('check 42', () => expect(openPercent(0, cooling, 'closed')).toBe(0));
  it('check 43', () => expect(openPercent(0, heating, 'open')).toBe(100));
});

describe('spring ranges in general use', () => {
  // Exact conversions of the ranges named in an HVAC control textbook (Fundamentals of HVAC Control Systems, SI
  // edition, ch. 7, p. 191) and in ASHRAE Handbook - Fundamentals ch. 7 section 2.1; the nominal metric ones are
  // hardware of their own, never conversions.
  it.each([
    [3, 13, 20.7, 89.6, { start: 20, end: 90 }],
    [3, 8, 20.7, 55.2, { start: 20, end: 55 }],
    [5, 10, 34.5, 68.9, { start: 35, end: 70 }],
    [8, 13, 55.2, 89.6, { start: 55, end: 90 }],
    [4, 8, 27.6, 55.2, { start: 28, end: 55 }],
    [3, 15, 20.7, 103.4, { start: 20, end: 100 }],
  ])('%i to %i psi', (start, end, startKpa, endKpa, nominalKpa) => {
    const range = commonSpringRanges.find(({ psi }) => psi.start === start && psi.end === end);
    expect(range?.nominalKpa).toEqual(nominalKpa);
    expect([psiToKpa(start).toFixed(1), psiToKpa(end).toFixed(1)]).toEqual([
      startKpa.toFixed(1),
      endKpa.toFixed(1),
    ]);
  });
});

describe('action, normal position and duty, checks 48 to 53', () => {
  it('check 48', () =>
    expect([actionMatchesDuty('direct', 'open', 'heating'), openingSign('direct', 'open')]).toEqual([
      true,
      -1,
    ]));
  it('check 49', () =>
    expect([actionMatchesDuty('direct', 'closed', 'heating'), openingSign('direct', 'closed')]).toEqual([
      false,
      1,
    ]));
  it('check 50', () =>
    expect([actionMatchesDuty('reverse', 'open', 'cooling'), openingSign('reverse', 'open')]).toEqual([
      true,
      1,
    ]));
  it('check 51', () =>
    expect([actionMatchesDuty('reverse', 'closed', 'cooling'), openingSign('reverse', 'closed')]).toEqual([
      false,
      -1,
    ]));
  it('on loss of air a normally open device gives full flow, a normally closed one none', () =>
    expect([flowOnAirLoss('open'), flowOnAirLoss('closed')]).toEqual(['full flow', 'no flow']));
  it('check 52: normally open on chilled water', () =>
    expect(neededAction('open', 'cooling')).toBe('reverse'));
  it('check 53: normally closed on hot water', () =>
    expect(neededAction('closed', 'heating')).toBe('reverse'));
});

describe('switchover, checks 54 to 60', () => {
  const trips = { falling: 14.5, rising: 16.5 };
  it.each([
    [54, 13, 18, 1.5, 1.5, 'pass'],
    [55, 13, 16.2, 1.5, -0.3, 'fail'],
    [56, 15.2, 20, -0.7, 3.5, 'fail'],
    [57, 14.5, 20, 0, 3.5, 'look'],
  ])('check %i', (_check, low, high, marginLow, marginHigh, verdict) => {
    const margins = switchoverMargins(trips, low, high, 1);
    near(margins.low, marginLow);
    near(margins.high, marginHigh);
    expect(margins.verdict).toBe(verdict);
  });
  it('check 58: the ideal single changeover pressure', () =>
    expect(idealChangeoverPressure(15, 20)).toBe(17.5));
  it('check 59: power lost with the high regulator on the port open without current', () =>
    expect(airStateOnPowerLoss({ no: 'high regulator', nc: 'low regulator' })).toBe('high'));
  it('check 60: power lost with the exhaust on the port open without current', () =>
    expect(airStateOnPowerLoss({ no: 'exhaust', nc: 'supply air' })).toBe('low'));
  it('stroke margin of an 8 to 13 device on a 13 psi main', () => expect(strokeMargin(13, 13)).toBe(0));
});
