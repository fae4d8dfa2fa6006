/**
 * A dew point belongs to a pressure: the vapour keeps its share of the air when the pressure changes. Saturation by
 * the Magnus form, over ice below 0 degC (so below freezing these are frost points): water 611.2 exp(17.62 t /
 * (243.12 + t)), ice 611.2 exp(22.46 t / (272.62 + t)) Pa, t in degC (from memory; within 0.3 % of Hyland and Wexler
 * from -40 to 38 degC). Unrounded.
 */

const water = { a: 17.62, b: 243.12 };
const ice = { a: 22.46, b: 272.62 };
const AT_ZERO_PA = 611.2;
/** Standard atmosphere in psi. */
const ATMOSPHERE_PSI = 14.696;

/** Saturation pressure in Pa at a temperature in degC, over ice below freezing. */
export function saturationPressure(degC: number): number {
  const { a, b } = degC < 0 ? ice : water;
  return AT_ZERO_PA * Math.exp((a * degC) / (b + degC));
}

/** Dew or frost point in degC of a vapour pressure in Pa. Throws RangeError when it is not above zero. */
export function dewPointOf(vapourPa: number): number {
  if (!(vapourPa > 0)) throw new RangeError('a vapour pressure is above zero');
  const { a, b } = vapourPa < AT_ZERO_PA ? ice : water;
  const logarithm = Math.log(vapourPa / AT_ZERO_PA);
  return (b * logarithm) / (a - logarithm);
}

/** The dew or frost point in degC at another gauge pressure (psi): the vapour pressure goes with the absolute pressure. */
export function dewPointAt(degC: number, fromPsi: number, toPsi: number): number {
  return dewPointOf((saturationPressure(degC) * (toPsi + ATMOSPHERE_PSI)) / (fromPsi + ATMOSPHERE_PSI));
}

/**
 * Highest pressure dew point at the dryer, in degF: 18 degF below the coldest place, and never above 39 degF, at line
 * pressure (ISA-7.0.01, as reported). Without a coldest place the 39 degF alone.
 */
export function mostDewPoint(coldestDegF: number | null): number {
  return coldestDegF === null ? 39 : Math.min(39, coldestDegF - 18);
}
