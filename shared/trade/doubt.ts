/**
 * The doubt of a reading, and what a decision rule makes of it. Contributions are combined as variances (JCGM
 * 100:2008, 5.1); the expanded doubt U is twice the combined one (k = 2). All values of one call in one unit.
 */
import type { Relation } from './setpointError.ts';

export const accuracyForms = ['absolute', 'percent of span', 'grade'] as const;

/**
 * Grades of dial gauges by greatest error in percent of span; B and A have a smaller one in the middle half of the
 * range, which is not counted on here. From memory of the gauge standard; where the certificate says otherwise, it holds.
 */
export const gaugeGrades: Readonly<Record<string, number>> = {
  '4A': 0.1,
  '3A': 0.25,
  '2A': 0.5,
  '1A': 1,
  A: 2,
  B: 3,
};

export type Accuracy =
  | { form: 'absolute'; limit: number }
  | { form: 'percent of span'; percent: number }
  | { form: 'grade'; grade: string };

/** Greatest error, plus or minus, that an instrument's accuracy allows over a span; throws RangeError for an unknown grade. */
export function errorLimitOf(accuracy: Accuracy, span: number): number {
  if (accuracy.form === 'absolute') return accuracy.limit;
  if (accuracy.form === 'percent of span') return (accuracy.percent * span) / 100;
  if (!Object.hasOwn(gaugeGrades, accuracy.grade))
    throw new RangeError(`there is no grade ${accuracy.grade}`);
  return (gaugeGrades[accuracy.grade] * span) / 100;
}

/** Standard uncertainty of a limit of error with nothing else known: limit / sqrt 3 (rectangular; JCGM 100, 4.3.7). */
export function ofLimit(limit: number): number {
  return limit / Math.sqrt(3);
}

/** Standard uncertainty of reading a scale to the nearest step: half a step as a limit of error. */
export function ofStep(step: number): number {
  return ofLimit(step / 2);
}

/** Standard uncertainty of a certificate's expanded one, k = 2. */
export function ofCertificate(expanded: number): number {
  return expanded / 2;
}

export type Contribution = { name: string; u: number };

export type Doubt = {
  contributions: Contribution[];
  /** Combined standard uncertainty, and the expanded one, k = 2. */
  u: number;
  expanded: number;
};

/** Contributions, independent of each other, combined. */
export function combined(contributions: Contribution[]): Doubt {
  const u = Math.hypot(...contributions.map((one) => one.u));
  return { contributions, u, expanded: 2 * u };
}

export type SetpointDoubtInput = {
  /** Standard uncertainties of thermometer, gauge (in pressure), dial and one repeat. */
  thermometer: number;
  gauge: number;
  dial: number;
  repeat: number;
  repeats: number;
  /** Pressure per degree, how much of it is in doubt (standard), and how far the branch was from the calibration pressure. */
  gain: number;
  gainDoubt: number;
  branchOff: number;
};

/**
 * Doubt of a setpoint error from branch, thermometer and dial:
 * u^2 = u_T^2 + (u_P/G)^2 + u_dial^2 + s^2/n + ((P - P_cal) u_G/G^2)^2.
 * In degrees. Throws RangeError for a gain or a number of repeats that is not above zero.
 */
export function setpointDoubt(input: SetpointDoubtInput): Doubt {
  const { gain, repeats } = input;
  if (!(gain > 0)) throw new RangeError('the gain must be greater than zero');
  if (!(repeats > 0)) throw new RangeError('there must be a reading');
  return combined([
    { name: 'thermometer', u: input.thermometer },
    { name: 'gauge', u: input.gauge / gain },
    { name: 'dial', u: input.dial },
    { name: 'repeats', u: input.repeat / Math.sqrt(repeats) },
    { name: 'gain', u: Math.abs(input.branchOff * input.gainDoubt) / gain ** 2 },
  ]);
}

/** Tolerance over expanded doubt; Infinity without doubt. */
export function uncertaintyRatio(tolerance: number, expanded: number): number {
  return expanded === 0 ? Infinity : tolerance / expanded;
}

export const decisionRules = [
  'simple acceptance',
  'guard band 0.83 U',
  'guard band U',
  'guard band by ratio',
] as const;
export type DecisionRule = (typeof decisionRules)[number];

/** From this ratio on the guard band by ratio is nothing. */
const NO_BAND_FROM = 4.6;

/**
 * How far inside the tolerance a reading is accepted: 0 by simple acceptance, 0.83 U (ISO 14253-1:2017), U
 * (ILAC-G8:2009), or M U with M = 1.04 - exp(0.38 ln ratio - 0.54), which keeps false acceptance at 2 % at most
 * (handbook of ANSI/NCSL Z540.3, method 6; from memory).
 */
export function guardBand(rule: DecisionRule, tolerance: number, expanded: number): number {
  if (rule === 'simple acceptance') return 0;
  if (rule === 'guard band 0.83 U') return 0.83 * expanded;
  if (rule === 'guard band U') return expanded;
  const ratio = uncertaintyRatio(tolerance, expanded);
  if (ratio >= NO_BAND_FROM) return 0;
  return Math.max(0, 1.04 - Math.exp(0.38 * Math.log(ratio) - 0.54)) * expanded;
}

export const doubtVerdicts = [
  'inside',
  'inside, in doubt',
  'outside, in doubt',
  'outside',
  'unknown',
] as const;
export type DoubtVerdict = (typeof doubtVerdicts)[number];

/**
 * Verdict of an error against a symmetric tolerance, limits counted in, with a guard band on both sides of each
 * limit (ILAC-G8:09/2019, 4.2.3). A bound proves only what lies beyond the limit it points to.
 */
export function verdictInDoubt(
  { error, relation }: { error: number; relation: Relation },
  tolerance: number,
  band: number,
): DoubtVerdict {
  if (relation !== '=') {
    const beyond = relation === '>=' ? error : -error;
    if (beyond > tolerance + band) return 'outside';
    return beyond > tolerance ? 'outside, in doubt' : 'unknown';
  }
  const size = Math.abs(error);
  if (size <= tolerance - band) return 'inside';
  if (size <= tolerance) return 'inside, in doubt';
  return size <= tolerance + band ? 'outside, in doubt' : 'outside';
}

/** Whether an instrument is good enough for a tolerance: its limit of error under a half, and better under a quarter, of it. */
export function adequacyOf(tolerance: number, errorLimit: number): 'good' | 'coarse' | 'too coarse' {
  if (tolerance >= 4 * errorLimit) return 'good';
  return tolerance >= 2 * errorLimit ? 'coarse' : 'too coarse';
}
