/** Tests of a station: worked figures, the factor of a fall against other ways to reach it, and what is refused. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  airTestFields,
  airTestKinds,
  airTestProblems,
  airTestResult,
  airUnits,
  storedAirResult,
} from '../../shared/trade/air/airTests.ts';
import type { AirTestKind, AirTestReading } from '../../shared/trade/air/airTests.ts';
import { atmosphereAt, flowThrough } from '../../shared/trade/air/flow.ts';
import { fallFactor } from '../../shared/trade/air/leakTests.ts';
import { diameterText, leakEstimate, parseDiameter } from '../../shared/trade/air/leaks.ts';

const facts = { capacity: 8, atmospherePsi: 14.7 };
const readings = (given: Record<string, [number, string]>): AirTestReading[] =>
  Object.entries(given).map(([quantity, [value, unit]]) => ({
    quantity,
    valueMilli: Math.round(value * 1000),
    unit,
  }));
const fall = (volume: number, from: number, to: number, minutes: number): AirTestReading[] =>
  readings({
    volume: [volume, 'gal'],
    'pressure at the start': [from, 'psi'],
    'pressure at the end': [to, 'psi'],
    time: [minutes, 'minutes'],
  });

describe('worked figures (air-energy reference 1.4, worked out there)', () => {
  it.each<[AirTestKind, AirTestReading[], number]>([
    ['on and off', readings({ 'on time 1': [3, 'minutes'], 'off time 1': [9, 'minutes'] }), 2],
    ['bleed-down', fall(80, 100, 50, 30), 1.593],
    ['regulated demand', fall(60, 80, 60, 12), 0.909],
    ['pump-up', fall(60, 60, 80, 1.5), 7.28],
    ['bleed of a device', readings({ 'steady flow': [864, 'scim'] }), 0.5],
  ])('%s', (kind, given, scfm) => expect(airTestResult(kind, given, facts).scfm).toBeCloseTo(scfm, 2));

  it.each([
    [100, 50, 1.313],
    [80, 40, 1.299],
    [80, 60, 1.123],
    [100, 80, 1.099],
    [100, 90, 1.046],
  ])('from %i to %i psi the factor is %f', (from, to, factor) => {
    const worked = fallFactor({ from, to });
    expect([worked.factor.toFixed(3), worked.isChoked]).toEqual([factor.toFixed(3), true]);
  });

  it('a third of the time of 8 scfm is 2.667 scfm, over hours as over cycles', () => {
    const cycles = readings({
      'on time 1': [3, 'minutes'],
      'off time 1': [6, 'minutes'],
      'on time 2': [3, 'minutes'],
      'off time 2': [6, 'minutes'],
      'on time 3': [3, 'minutes'],
      'off time 3': [6, 'minutes'],
    });
    const hours = readings({ 'hours run': [56, 'hours'], 'hours by the clock': [168, 'hours'] });
    for (const [kind, given] of [
      ['on and off', cycles],
      ['hour meter', hours],
    ] as const)
      expect(airTestResult(kind, given, facts)).toMatchObject({ share: 1 / 3, scfm: 8 / 3 });
    expect(airTestResult('on and off', cycles, facts).cautions).not.toContain(
      'Fewer than three cycles: the next ones may differ.',
    );
  });

  it('without a capacity a share is no flow', () => {
    const hours = readings({ 'hours run': [56, 'hours'], 'hours by the clock': [168, 'hours'] });
    expect(storedAirResult(airTestResult('hour meter', hours, { ...facts, capacity: null }))).toEqual({
      flowScimMilli: null,
      sharePpm: 333_333,
    });
  });

  it('the demand that went on is added to what was pumped', () => {
    const alone = airTestResult('pump-up', fall(60, 60, 80, 1.5), facts).scfm ?? 0;
    const together = [...fall(60, 60, 80, 1.5), ...readings({ 'demand meanwhile': [1728, 'scim'] })];
    expect(airTestResult('pump-up', together, facts).scfm).toBeCloseTo(alone + 1, 9);
  });

  it('units differ, the result does not', () => {
    const metric = readings({
      volume: [227.125, 'L'],
      'pressure at the start': [551.581, 'kPa'],
      'pressure at the end': [413.685, 'kPa'],
      time: [12, 'minutes'],
    });
    expect(airTestResult('regulated demand', metric, facts).scfm).toBeCloseTo(
      airTestResult('regulated demand', fall(60, 80, 60, 12), facts).scfm ?? 0,
      4,
    );
  });
});

describe('the factor of a fall', () => {
  /** A vessel with a hole, let down in small steps of time: what its first flow is over its mean. */
  function letDown(from: number, to: number, atmospherePsi: number): number {
    const flow = (abovePsi: number): number =>
      flowThrough({ diameterIn: 0.05, coefficient: 0.65, abovePsi, atmospherePsi }).scfm;
    let pressure = from;
    let minutes = 0;
    const step = 0.0005;
    while (pressure > to) {
      // One cubic foot, isothermal; the midpoint of each step.
      const middle = pressure - (flow(pressure) * 14.7 * step) / 2;
      pressure -= flow(middle) * 14.7 * step;
      minutes += step;
    }
    return flow(from) / ((from - to) / (minutes * 14.7));
  }
  it.each([
    [80, 20, 14.7],
    [20, 5, 14.7],
    [18, 2, 14.7],
    [25, 6, 12.1],
  ])('from %i to %i psi at %f psi outside is what a simulated vessel gives', (from, to, atmosphere) =>
    expect(fallFactor({ from, to }, atmosphere).factor).toBeCloseTo(letDown(from, to, atmosphere), 2),
  );

  it('is above one, grows with the fall, and goes over smoothly where the flow stops to be choked', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 30, max: 150 }),
        fc.integer({ min: 2, max: 20 }),
        fc.integer({ min: 1, max: 8 }),
        (from, to, less) => {
          const one = fallFactor({ from, to: to + less }).factor;
          const other = fallFactor({ from, to }).factor;
          return one > 1 && other > one;
        },
      ),
    );
    const at = 13.124;
    expect(fallFactor({ from: 60, to: at - 0.01 }).factor).toBeCloseTo(
      fallFactor({ from: 60, to: at + 0.01 }).factor,
      3,
    );
  });
  it('needs a fall that ends at 1 psi or more', () => {
    expect(() => fallFactor({ from: 20, to: 20 })).toThrow(RangeError);
    expect(() => fallFactor({ from: 20, to: 0.5 })).toThrow(RangeError);
  });
});

describe('what a test refuses', () => {
  const reasons = (kind: AirTestKind, given: AirTestReading[]): string[] =>
    airTestProblems(kind, given).map(({ quantity, reason }) => `${quantity}: ${reason}`);
  it.each<[AirTestKind, AirTestReading[], string]>([
    ['regulated demand', fall(60, 60, 80, 12), 'pressure at the end: lies below that at the start'],
    ['pump-up', fall(60, 80, 60, 12), 'pressure at the end: lies above that at the start'],
    [
      'bleed-down',
      fall(60, 20, 0.5, 12),
      'pressure at the end: end the test at 1 psi or more: below, the flow all but stops',
    ],
    ['regulated demand', fall(0, 80, 60, 12), 'volume: lies above zero'],
    ['regulated demand', fall(60, 80, 60, 0), 'time: lies above zero'],
    ['regulated demand', fall(60, 80, 60, -1), 'time: lies between 0 and 10080 minutes'],
    ['regulated demand', fall(60, 400, 60, 1), 'pressure at the start: lies between 0 and 300 psi'],
    [
      'hour meter',
      readings({ 'hours run': [9, 'hours'], 'hours by the clock': [8, 'hours'] }),
      'hours run: it cannot run longer than the clock does',
    ],
    [
      'hour meter',
      readings({ 'hours run': [0, 'hours'], 'hours by the clock': [0, 'hours'] }),
      'hours by the clock: lies above zero',
    ],
    ['on and off', readings({ 'on time 1': [3, 'minutes'] }), 'off time 1: is needed'],
    [
      'on and off',
      readings({ 'on time 1': [3, 'minutes'], 'off time 1': [6, 'minutes'], 'on time 3': [1, 'minutes'] }),
      'off time 3: a cycle has both times',
    ],
    [
      'on and off',
      readings({ 'on time 1': [0, 'minutes'], 'off time 1': [0, 'minutes'] }),
      'off time 1: a cycle lasts some time',
    ],
    ['air quality', [], 'oil: give oil, particles, or both'],
    ['air quality', readings({ oil: [1, 'psi'] }), 'oil: is given in mg/m3'],
    [
      'hour meter',
      readings({ 'hours run': [1, 'hours'], 'hours by the clock': [8, 'hours'], oil: [1, 'mg/m3'] }),
      'oil: a test of the kind “hour meter” does not ask for it',
    ],
  ])('%s', (kind, given, reason) => expect(reasons(kind, given)).toEqual([reason]));

  it('anything that it takes has a result; anything that it refuses throws', () => {
    const value = fc.integer({ min: -1_000, max: 400_000 });
    fc.assert(
      fc.property(
        fc.constantFrom(...airTestKinds),
        fc.array(value, { minLength: 8, maxLength: 8 }),
        fc.array(fc.boolean(), { minLength: 8, maxLength: 8 }),
        (kind, values, given) => {
          const own = airTestFields[kind].flatMap(({ quantity, measure }, index) =>
            given[index] ? [{ quantity, valueMilli: values[index], unit: airUnits[measure][0] }] : [],
          );
          if (airTestProblems(kind, own).length > 0) {
            expect(() => airTestResult(kind, own, facts)).toThrow(RangeError);
            return;
          }
          const { scfm, share } = airTestResult(kind, own, facts);
          expect(scfm === null || (Number.isFinite(scfm) && scfm >= 0)).toBe(true);
          expect(share === null || (share >= 0 && share <= 1)).toBe(true);
        },
      ),
      { numRuns: 2_000 },
    );
  });
});

describe('a leak of the log', () => {
  const size = {
    diameterMicro: 31_250,
    diameterUnit: 'in' as const,
    pressureMilli: 20_000,
    pressureUnit: 'psi' as const,
    coefficientMilli: 610,
  };
  const scfm = (scimMilli: number): number => scimMilli / 1_728_000;
  it('of 1/32 in at 20 psi with 0.61 loses 0.3005 scfm, 0.2780 at 5280 ft (reference 1.2, worked out there)', () => {
    expect(scfm(leakEstimate(size, 14.696).typical)).toBeCloseTo(0.3005, 4);
    expect(scfm(leakEstimate(size, atmosphereAt(5280)).typical)).toBeCloseTo(0.278, 4);
  });
  it('that nobody has seen lies between a sharp and a rounded edge; a given coefficient widens the band', () => {
    const { low, typical, high } = leakEstimate({ ...size, coefficientMilli: null }, 14.696);
    expect([low / typical, high / typical].map((ratio) => ratio.toFixed(4))).toEqual(['0.9385', '1.4923']);
    const narrow = leakEstimate({ ...size, coefficientMilli: 500 }, 14.696);
    expect(narrow.low).toBe(narrow.typical);
  });
  it.each([
    ['1/64', 15_625],
    ['3/32', 93_750],
    ['0.0156', 15_600],
    ['0,8', 800_000],
    ['2', 2_000_000],
    ['0', null],
    ['0/64', null],
    ['1/0', null],
    ['1.0000001', null],
    ['-1', null],
    ['wide', null],
  ])('a size of %s', (text, micro) => expect(parseDiameter(text)).toBe(micro));
  it('a size is shown as it is read', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 99_000_000 }),
        fc.constantFrom('in' as const, 'mm' as const),
        (micro, unit) => {
          const [figure, own] = diameterText(micro, unit).split(' ');
          return own === unit && parseDiameter(figure) === micro;
        },
      ),
    );
    expect([diameterText(31_250, 'in'), diameterText(93_750, 'in'), diameterText(800_000, 'mm')]).toEqual([
      '1/32 in',
      '3/32 in',
      '0.8 mm',
    ]);
  });
});
