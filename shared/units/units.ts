/**
 * Units and exact conversions. Values are stored as integer thousandths ("milli") of the unit that was
 * typed; conversions are for display, comparison and arithmetic, never for storage.
 */

export const pressureUnits = ['psi', 'kPa'] as const;
export const temperatureUnits = ['degF', 'degC'] as const;
export type PressureUnit = (typeof pressureUnits)[number];
export type TemperatureUnit = (typeof temperatureUnits)[number];
/** What a dial can be marked in: percent of relative humidity on a humidity controller. */
export type ScaleUnit = TemperatureUnit | 'percent';
export const units = [
  ...pressureUnits,
  ...temperatureUnits,
  'minutes',
  'seconds',
  'percent',
  'V',
  'ml',
  'none',
] as const;
export type Unit = (typeof units)[number];

/**
 * One psi in kPa: (0.45359237 kg x 9.80665 m/s2) / (0.0254 m)^2 / 1000, every factor exact by definition.
 * Source: NIST SP 811 appendix B prints 6.894 757 E+03 Pa (from memory); the digits are arithmetic.
 */
export const KPA_PER_PSI = 6.894757293168361;

/** Pressure in psi to kPa. Unrounded. */
export function psiToKpa(psi: number): number {
  return psi * KPA_PER_PSI;
}

/** Pressure in kPa to psi. Unrounded. */
export function kpaToPsi(kpa: number): number {
  return kpa / KPA_PER_PSI;
}

/** Temperature reading, degF to degC: (t - 32) / 1.8. Source: NIST SP 811 appendix B. Unrounded. */
export function fahrenheitToCelsius(degF: number): number {
  return (degF - 32) / 1.8;
}

/** Temperature reading, degC to degF. Unrounded. */
export function celsiusToFahrenheit(degC: number): number {
  return degC * 1.8 + 32;
}

/** Temperature difference (error, tolerance, throttling range), degF to K: no offset. */
export function fahrenheitDifferenceToKelvin(deltaF: number): number {
  return deltaF / 1.8;
}

/** Temperature difference, K to degF: no offset. */
export function kelvinDifferenceToFahrenheit(deltaK: number): number {
  return deltaK * 1.8;
}

/** Controller gain in psi per degF to kPa per K. */
export function gainPsiPerFahrenheitToKpaPerKelvin(gain: number): number {
  return gain * KPA_PER_PSI * 1.8;
}

/** A pressure in one unit expressed in another. Same unit gives the same number, untouched. */
export function convertPressure(value: number, from: PressureUnit, to: PressureUnit): number {
  if (from === to) return value;
  return from === 'psi' ? psiToKpa(value) : kpaToPsi(value);
}

/** A temperature reading in one unit expressed in another. */
export function convertTemperature(value: number, from: TemperatureUnit, to: TemperatureUnit): number {
  if (from === to) return value;
  return from === 'degF' ? fahrenheitToCelsius(value) : celsiusToFahrenheit(value);
}

/** A scale reading in one unit expressed in another; relative humidity has one unit only. Throws RangeError between humidity and temperature. */
export function convertScale(value: number, from: ScaleUnit, to: ScaleUnit): number {
  if (from === to) return value;
  if (from === 'percent' || to === 'percent') throw new RangeError('humidity is no temperature');
  return convertTemperature(value, from, to);
}

/** A temperature difference in one unit (K for degC) expressed in another; never an offset. */
export function convertTemperatureDifference(
  value: number,
  from: TemperatureUnit,
  to: TemperatureUnit,
): number {
  if (from === to) return value;
  return from === 'degF' ? fahrenheitDifferenceToKelvin(value) : kelvinDifferenceToFahrenheit(value);
}

/** A scale difference in one unit expressed in another. Throws RangeError between humidity and temperature. */
export function convertScaleDifference(value: number, from: ScaleUnit, to: ScaleUnit): number {
  if (from === to) return value;
  if (from === 'percent' || to === 'percent') throw new RangeError('humidity is no temperature');
  return convertTemperatureDifference(value, from, to);
}

/** A live-zero signal as percent of its range: 100 (P - lo) / (hi - lo). Throws RangeError when hi = lo. */
export function signalPercent(pressure: number, low: number, high: number): number {
  if (high === low) throw new RangeError('a signal range needs two different end points');
  return (100 * (pressure - low)) / (high - low);
}

/** Thousandths of a unit as a plain number, for arithmetic and display. */
export function fromMilli(milli: number): number {
  return milli / 1000;
}

/** A number as integer thousandths, halves away from zero, so that a typed 0.0005 never vanishes silently. */
export function toMilli(value: number): number {
  const scaled = Math.abs(value) * 1000;
  const rounded = Math.floor(scaled + 0.5 + 1e-9);
  return value < 0 ? -rounded || 0 : rounded;
}

export type DecimalMark = 'point' | 'comma';

/**
 * Reads a typed decimal exactly into integer thousandths. Returns null when the text is not a plain number
 * in the declared decimal mark or has more than three decimals (a fourth would be lost).
 */
export function parseMilli(text: string, mark: DecimalMark = 'point'): number | null {
  const pattern =
    mark === 'point' ? /^([+-]?)(\d{1,9})(?:\.(\d{1,3}))?$/ : /^([+-]?)(\d{1,9})(?:,(\d{1,3}))?$/;
  const match = pattern.exec(text.trim());
  if (!match) return null;
  const milli = Number(match[2]) * 1000 + Number((match[3] ?? '').padEnd(3, '0'));
  return match[1] === '-' ? -milli || 0 : milli;
}

/** Integer thousandths as the shortest decimal text: 13000 -> "13", 13250 -> "13.25". */
export function formatMilli(milli: number, mark: DecimalMark = 'point'): string {
  const sign = milli < 0 ? '-' : '';
  const size = Math.abs(milli);
  const whole = Math.floor(size / 1000);
  const rest = size % 1000;
  if (rest === 0) return `${sign}${whole}`;
  const decimals = String(rest).padStart(3, '0').replace(/0+$/, '');
  return `${sign}${whole}${mark === 'point' ? '.' : ','}${decimals}`;
}

/** How a unit is written on screens and paper. */
export function unitLabel(unit: Unit): string {
  const labels: Record<Unit, string> = {
    psi: 'psi',
    kPa: 'kPa',
    degF: '°F',
    degC: '°C',
    minutes: 'min',
    seconds: 's',
    percent: '%',
    V: 'V',
    ml: 'ml',
    none: '',
  };
  return labels[unit];
}

/** How a difference in a unit is written: a difference in degC is stated in K. */
export function differenceLabel(unit: Unit): string {
  return unit === 'degC' ? 'K' : unitLabel(unit);
}
