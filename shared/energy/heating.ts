/**
 * Heating that a setpoint asks for, by its balance point: K the loss of a zone, Btu/(h degF), gains Btu/h, efficiency 0 to 1.
 * A drift moves the balance point by itself. Steady state, one zone: fair for the year of a zone that its skin loads, poor
 * for inner zones and single days (ASHRAE Fundamentals, energy estimating, from memory).
 */

const HOURS_A_DAY = 24;
export const BTU_PER_THERM = 100_000;

/** Outdoor temperature below which heat is needed, degF. Throws RangeError unless K is above zero. */
export function balancePoint(setDegF: number, gainBtuH: number, k: number): number {
  if (!(k > 0)) throw new RangeError('a loss K above zero');
  return setDegF - gainBtuH / k;
}

/** Fuel of degree days, therms. Throws RangeError unless the efficiency lies above 0 and up to 1. */
export function fuelOfDegreeDays(
  degreeDays: number,
  { k, efficiency }: { k: number; efficiency: number },
): number {
  return fuelOfHours(HOURS_A_DAY * degreeDays, { k, efficiency });
}

/** Fuel of degF.hours, therms. */
export function fuelOfHours(
  degreeHours: number,
  { k, efficiency }: { k: number; efficiency: number },
): number {
  if (!(efficiency > 0 && efficiency <= 1)) throw new RangeError('an efficiency above 0 and up to 1');
  return (k * degreeHours) / (efficiency * BTU_PER_THERM);
}

/** Degree days that each month's drift adds or saves: `at` gives those of a month at a base. */
export function addedDegreeDays(
  drifts: readonly number[],
  base: number,
  at: (month: number, base: number) => number,
): number[] {
  return drifts.map((drift, month) => (drift === 0 ? 0 : at(month, base + drift) - at(month, base)));
}

/** Percent that one degree more of setpoint adds at a base: from half a degree below to half above. */
export function slopePercent(base: number, degreeDays: (base: number) => number): number {
  return (100 * (degreeDays(base + 0.5) - degreeDays(base - 0.5))) / degreeDays(base);
}
