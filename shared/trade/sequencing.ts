/**
 * Several actuators on one branch: where heating ends and cooling begins. A gap is a dead band; below zero both are open at
 * once. Measured spring ranges decide, not the nameplate (air-energy reference 4.6, pneumatics 3.2; arithmetic). Pressures in
 * one unit, gain in that unit a degree.
 */

/** Least gap that leaves room for a shift, psi. Common practice. */
export const LEAST_GAP_PSI = 0.5;

/**
 * The gap between two springs on one branch, from the end of the lower one to the start of the higher one; negative where
 * they overlap. In degrees by the gain.
 */
export function gapBetween(
  one: { start: number; end: number },
  other: { start: number; end: number },
  gain: number,
): { pressure: number; degrees: number } {
  const [lower, upper] = one.start + one.end <= other.start + other.end ? [one, other] : [other, one];
  const pressure = upper.start - lower.end;
  return { pressure, degrees: pressure / gain };
}

/**
 * What heating and cooling that overlap waste against each other at the worst, and on average over the overlap: `overlap`
 * psi above zero, `heating` and `cooling` power by pressure over their springs. Linear coils; a low estimate of others.
 */
export function overlapWaste(
  overlap: number,
  heating: number,
  cooling: number,
): { peak: number; mean: number } {
  if (!(overlap >= 0) || !(heating > 0) || !(cooling > 0))
    throw new RangeError('an overlap, and powers above zero');
  const peak = (overlap * heating * cooling) / (heating + cooling);
  return { peak, mean: peak / 2 };
}
