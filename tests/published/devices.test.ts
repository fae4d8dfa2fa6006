/**
 * Check values of transmitters, reset schedules, stroke tests and instrument ratios. Arithmetic from the formulas
 * stated with each function, worked outside this project; the ratio of 2 is asked by a public commissioning guide
 * (read), grades of gauges are from memory. Numbers are those of the list they were worked in.
 */
import { describe, expect, it } from 'vitest';
import { strokeMargin } from '../../shared/trade/actuators.ts';
import { adequacyOf, combined, errorLimitOf } from '../../shared/trade/doubt.ts';
import {
  hysteresisOf,
  hysteresisShare,
  isHysteresisRight,
  springShift,
} from '../../shared/trade/strokeTest.ts';
import {
  degreesOfSignal,
  receiverGain,
  resetSetpoint,
  transmittedPressure,
  transmittedTemperature,
  transmitterError,
} from '../../shared/trade/transmitters.ts';

describe('transmitters', () => {
  const hundred = { low: 0, high: 100 };
  it('75, 76: 0 to 100', () => {
    expect(transmittedPressure(70, hundred)).toBeCloseTo(11.4, 9);
    expect(transmittedTemperature(11.1, hundred)).toBeCloseTo(67.5, 9);
  });
  it('77, 78: 40 to 240 and -40 to 160', () => {
    expect(transmittedPressure(180, { low: 40, high: 240 })).toBeCloseTo(11.4, 9);
    expect(transmittedPressure(0, { low: -40, high: 160 })).toBeCloseTo(5.4, 9);
  });
  it('79: 0.12 psi are one degree of 0 to 100', () => {
    expect(degreesOfSignal(0.12, hundred)).toBeCloseTo(1, 9);
    expect(transmitterError({ reference: 70, output: 11.52 }, hundred)).toBeCloseTo(1, 9);
  });
  it('a span without width is refused', () =>
    expect(() => transmittedPressure(1, { low: 5, high: 5 })).toThrow('span'));
  it('80: reset from 180 at 0 to 100 at 60, held beyond', () => {
    const schedule = { from: { at: 0, setpoint: 180 }, to: { at: 60, setpoint: 100 } };
    expect(resetSetpoint(30, schedule)).toBe(140);
    expect(resetSetpoint(-10, schedule)).toBe(180);
    expect(resetSetpoint(75, schedule)).toBe(100);
    expect(() => resetSetpoint(0, { from: schedule.from, to: schedule.from })).toThrow('two temperatures');
  });
  it('gain of a receiver-controller over half a psi either way', () => {
    expect(receiverGain({ test: 9, output: 4 }, { test: 10, output: 14 })).toBe(10);
    expect(() => receiverGain({ test: 9, output: 4 }, { test: 9, output: 5 })).toThrow('moved');
  });
});

describe('the stroke test', () => {
  const test = { endUp: 13.2, endDown: 12, startUp: 8.3, startDown: 7.6 };
  const spring = { start: 8, end: 13 };
  it('47: hysteresis of 1.2 psi, 24 % of a span of 5, does not pass', () => {
    expect(hysteresisOf(test)).toBeCloseTo(1.2, 9);
    expect(hysteresisShare(test, spring)).toBeCloseTo(0.24, 9);
    expect(isHysteresisRight(test, spring, false)).toBe(false);
    expect(isHysteresisRight({ ...test, endUp: 12.9 }, spring, false)).toBe(true);
    expect(isHysteresisRight({ ...test, endUp: 12.9 }, spring, true)).toBe(false);
  });
  it('46: 20 psi on a one-inch seat and 10 square inches of diaphragm', () =>
    expect(springShift({ drop: 20, seatArea: 0.7854, diaphragmArea: 10 })).toBeCloseTo(1.571, 3));
  it('91, 92: stroke margin with and without a shift of half a psi', () => {
    expect(strokeMargin(13, 13 + 0.5)).toBeCloseTo(-0.5, 9);
    expect(strokeMargin(15, 13)).toBeCloseTo(2, 9);
  });
});

describe('instruments', () => {
  it('38: half a degree with a quarter psi at a gain of 2.5', () =>
    expect(
      combined([
        { name: 'thermometer', u: 0.5 },
        { name: 'gauge', u: 0.25 / 2.5 },
      ]).u,
    ).toBeCloseTo(0.51, 3));
  it('89, 90: gauges of 0 to 30 psi against half a psi', () => {
    const coarse = errorLimitOf({ form: 'grade', grade: '1A' }, 30);
    const better = errorLimitOf({ form: 'grade', grade: '2A' }, 30);
    expect(0.5 / coarse).toBeCloseTo(1.67, 2);
    expect(0.5 / better).toBeCloseTo(3.33, 2);
    expect([adequacyOf(0.5, coarse), adequacyOf(0.5, better)]).toEqual(['too coarse', 'coarse']);
  });
});
