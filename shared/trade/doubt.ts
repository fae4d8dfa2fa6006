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

export type SetpointDoubtParts = {
  /** Contributions of thermometer (degrees) and gauge (pressure). */
  thermometer: readonly Contribution[];
  gauge: readonly Contribution[];
  /** Degrees between two marks of the dial, scatter of one repeat (standard), and how many repeats. */
  dialStep: number;
  repeat: number;
  repeats: number;
  /** Pressure per degree, and the part of it that may be wrong (limit of error). */
  gain: number;
  gainLimit: number;
  branchOff: number;
};

/** The contributions to a setpoint's doubt, in degrees, with those of each instrument kept apart; formula of `setpointDoubt`. */
export function setpointDoubtParts(parts: SetpointDoubtParts): Contribution[] {
  const sum = (contributions: readonly Contribution[]): number =>
    Math.hypot(...contributions.map(({ u }) => u));
  const { contributions } = setpointDoubt({
    thermometer: sum(parts.thermometer),
    gauge: sum(parts.gauge),
    dial: ofStep(parts.dialStep),
    repeat: parts.repeat,
    repeats: parts.repeats,
    gain: parts.gain,
    gainDoubt: ofLimit(parts.gainLimit * parts.gain),
    branchOff: parts.branchOff,
  });
  return [
    ...parts.thermometer,
    ...parts.gauge.map(({ name, u }) => ({ name, u: u / parts.gain })),
    ...contributions.filter(({ name }) => name !== 'thermometer' && name !== 'gauge'),
  ];
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

/** Limits that an error must keep; null: none on that side. */
export type ErrorLimits = { low: number | null; high: number | null };

/** The limits of a symmetric tolerance. */
export function limitsOf(tolerance: number): ErrorLimits {
  return { low: -tolerance, high: tolerance };
}

/**
 * Verdict of an error against its limits, the limits counted in, with a guard band on both sides of each limit
 * (ILAC-G8:09/2019, 4.2.3). A bound proves only what lies beyond the limit it points to.
 */
export function verdictInDoubt(
  { error, relation }: { error: number; relation: Relation },
  { low, high }: ErrorLimits,
  band: number,
): DoubtVerdict {
  const isWithin = (margin: number): boolean =>
    (high === null || error <= high + margin) && (low === null || error >= low - margin);
  if (relation !== '=') {
    const limit = relation === '>=' ? high : low === null ? null : -low;
    const beyond = relation === '>=' ? error : -error;
    if (limit === null || beyond <= limit) return 'unknown';
    return beyond > limit + band ? 'outside' : 'outside, in doubt';
  }
  if (isWithin(-band)) return 'inside';
  if (isWithin(0)) return 'inside, in doubt';
  return isWithin(band) ? 'outside, in doubt' : 'outside';
}

/** Whether an instrument is good enough for a tolerance: its limit of error under a half, and better under a quarter, of it. */
export function adequacyOf(tolerance: number, errorLimit: number): 'good' | 'coarse' | 'too coarse' {
  if (tolerance >= 4 * errorLimit - 1e-9) return 'good';
  return tolerance >= 2 * errorLimit - 1e-9 ? 'coarse' : 'too coarse';
}
