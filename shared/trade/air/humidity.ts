/**
 * Saturation pressure of water after Hyland and Wexler (1983), as in ASHRAE Handbook - Fundamentals ch. 1, eqs. 5 and 6;
 * checked against a reference library in the tests. The dew point goes with the absolute pressure; below freezing it is a
 * frost point (over ice) unless supercooled water is asked for. Records of cards keep the form of `../dewPoint.ts`.
 */

export type Over = 'ice' | 'water';

const ZERO = 273.15;

function overIce(k: number): number {
  return Math.exp(
    -5674.5359 / k +
      6.3925247 -
      9.677843e-3 * k +
      6.2215701e-7 * k ** 2 +
      2.0747825e-9 * k ** 3 -
      9.484024e-13 * k ** 4 +
      4.1635019 * Math.log(k),
  );
}

function overWater(k: number): number {
  return Math.exp(
    -5800.2206 / k +
      1.3914993 -
      4.8640239e-2 * k +
      4.1764768e-5 * k ** 2 -
      1.4452093e-8 * k ** 3 +
      6.5459673 * Math.log(k),
  );
}

/** Saturation pressure in Pa, -100 to 200 degC; below the triple point over ice, or over water where that is asked for. */
export function saturation(degC: number, over: Over = 'ice'): number {
  if (!(degC >= -100 && degC <= 200)) throw new RangeError('a temperature of -100 to 200 degC');
  return degC <= 0.01 && over === 'ice' ? overIce(degC + ZERO) : overWater(degC + ZERO);
}

/** The temperature, degC, at which a vapour pressure in Pa saturates; by bisection to a millionth. */
export function saturatesAt(pascal: number, over: Over = 'ice'): number {
  let [low, high] = [-100, 200];
  if (!(pascal >= saturation(low, over) && pascal <= saturation(high, over)))
    throw new RangeError('a vapour pressure of air between -100 and 200 degC');
  while (high - low > 1e-7) {
    const middle = (low + high) / 2;
    if (saturation(middle, over) < pascal) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** A dew point in degC moved from one gauge pressure to another, psi. `from` over ice below freezing. */
export function dewPointMoved(
  degC: number,
  { fromPsi, toPsi, atmospherePsi = 14.696 }: { fromPsi: number; toPsi: number; atmospherePsi?: number },
  over: Over = 'ice',
): number {
  const vapour = (saturation(degC) * (toPsi + atmospherePsi)) / (fromPsi + atmospherePsi);
  return saturatesAt(vapour, over);
}

/** Dew point, degC, of air of a temperature and a relative humidity, 0 to 1. */
export function dewPointOfAir(degC: number, humidity: number): number {
  if (!(humidity > 0 && humidity <= 1)) throw new RangeError('a relative humidity above 0 and up to 1');
  return saturatesAt(saturation(degC) * humidity);
}
