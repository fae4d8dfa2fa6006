/**
 * Intervals by simple response to what was found: the staircase (method 1 of ILAC-G24 / OIML D 10, share of 80 % as quoted
 * from its 2007 edition) and the methods A1 and A2 of NCSLI RP-1 (formulas from memory). Months, not rounded; days are
 * rounded only where a plan needs them.
 */

export type StaircaseRule = {
  /** Extend where the error is within this share of the tolerance. */
  share: number;
  extend: number;
  shorten: number;
  least: number;
  most: number;
};

export type StaircaseStep = 'extend' | 'keep' | 'shorten';

/** What one result asks for; error and tolerance (> 0) in one unit. */
export function staircaseStep(
  error: number,
  tolerance: number,
  { share }: Pick<StaircaseRule, 'share'>,
): StaircaseStep {
  if (!(tolerance > 0)) throw new RangeError('a tolerance above zero');
  const size = Math.abs(error);
  if (size > tolerance) return 'shorten';
  return size <= share * tolerance ? 'extend' : 'keep';
}

/** The interval after one result, within the least and the most. */
export function afterStep(interval: number, step: StaircaseStep, rule: StaircaseRule): number {
  const factor = step === 'extend' ? rule.extend : step === 'shorten' ? rule.shorten : 1;
  return Math.min(rule.most, Math.max(rule.least, interval * factor));
}

/** Simple response (A1): the share b to shorten by, so that the interval settles at the target for an extension by a. */
export function simpleReduction(extension: number, target: number): number {
  return 1 - (1 + extension) ** (-target / (1 - target));
}

/** A1: intervals after each result, true where found in tolerance. */
export function simpleResponse(
  start: number,
  results: readonly boolean[],
  { extension, target }: { extension: number; target: number },
): number[] {
  const reduction = simpleReduction(extension, target);
  let interval = start;
  return results.map((isIn) => (interval *= isIn ? 1 + extension : 1 - reduction));
}

/** A2: as A1, with a step that halves whenever the result flips; before the first the instrument counts as in. */
export function incrementalResponse(start: number, results: readonly boolean[], target: number): number[] {
  let interval = start;
  let step = 1;
  let before: boolean | null = null;
  return results.map((isIn) => {
    if (before !== null && before !== isIn) step /= 2;
    before = isIn;
    return (interval *= 1 + step * (isIn ? 1 - target : -target));
  });
}
