import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  celsiusToFahrenheit,
  convertPressure,
  convertTemperature,
  convertTemperatureDifference,
  fahrenheitToCelsius,
  formatMilli,
  fromMilli,
  kpaToPsi,
  parseMilli,
  psiToKpa,
  signalPercent,
  toMilli,
} from '../../shared/units/units.ts';

const milli = fc.integer({ min: -999_999_999, max: 999_999_999 });

describe('typed figures', () => {
  it('are written and read back exactly, with a point and with a comma', () =>
    fc.assert(
      fc.property(
        milli,
        fc.constantFrom('point' as const, 'comma' as const),
        (value, mark) => parseMilli(formatMilli(value, mark), mark) === value,
      ),
    ));
  it('as numbers and thousandths are the same thing', () =>
    fc.assert(fc.property(milli, (value) => toMilli(fromMilli(value)) === value)));
  it.each(['', ' ', '.', '1.', '.5', '1.2345', '1,5', '1e3', 'NaN', '1 000', '--1', '0x10', '9999999999'])(
    'refuses %j as a figure',
    (text) => expect(parseMilli(text)).toBe(null),
  );
  it('reads minus zero as zero', () => expect(Object.is(parseMilli('-0'), 0)).toBe(true));
});

describe('conversions', () => {
  const size = fc.double({ min: -500, max: 500, noNaN: true });
  it('go there and back', () =>
    fc.assert(
      fc.property(size, (value) => {
        expect(kpaToPsi(psiToKpa(value))).toBeCloseTo(value, 9);
        expect(celsiusToFahrenheit(fahrenheitToCelsius(value))).toBeCloseTo(value, 9);
      }),
    ));
  it('a difference between two readings is the difference of the converted ones', () =>
    fc.assert(
      fc.property(size, size, (a, b) => {
        const difference = convertTemperature(a, 'degF', 'degC') - convertTemperature(b, 'degF', 'degC');
        expect(convertTemperatureDifference(a - b, 'degF', 'degC')).toBeCloseTo(difference, 8);
      }),
    ));
  it('leave a value in its own unit untouched', () =>
    fc.assert(fc.property(size, (value) => convertPressure(value, 'kPa', 'kPa') === value)));
  it('a live-zero signal in percent', () =>
    expect([3, 9, 15].map((pressure) => signalPercent(pressure, 3, 15))).toEqual([0, 50, 100]));
});
