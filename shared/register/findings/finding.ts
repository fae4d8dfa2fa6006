/** A finding: what the register alone shows to be wrong, or lacks the data to tell. */

export const findingCodes = [
  'supply-orphan',
  'supply-loop',
  'main-kind',
  'main-meaning',
  'low-above-rating',
  'high-below-rating',
  'trip-margin',
  'stroke-short',
  'action-mismatch',
  'overlap',
  'abutting',
  'calibration-pressure',
  'relay-ports',
  'relay-fail-state',
  'relay-undriven',
  'relief-low',
  'air-budget',
  'air-quality',
  'gauge-coarse',
  'time-switch-gap',
  'no-history',
] as const;
export type FindingCode = (typeof findingCodes)[number];

/** `not checked`: a figure that the rule needs is not in the register. */
export type Severity = 'stop' | 'look' | 'not checked';

export type Finding = {
  code: FindingCode;
  severity: Severity;
  deviceId: number;
  tag: string;
  /** What it is about besides the device: a role, a neighbour, a kind of test point; empty where there is only one. */
  about: string;
  /** The figures that the rule used, each with its unit: an accepted finding comes back when one of them changes. */
  figures: Readonly<Record<string, string>>;
  /** What is wrong, in one sentence. */
  words: string;
  /** What to do, in one sentence. */
  advice: string;
};

/** What tells two findings apart, whatever their figures say. */
export function findingKey({ code, deviceId, about }: Pick<Finding, 'code' | 'deviceId' | 'about'>): string {
  return `${code} ${deviceId} ${about}`;
}

/** The figures as one text, for comparing. */
export function figuresText(figures: Finding['figures']): string {
  return Object.entries(figures)
    .map(([name, value]) => `${name} ${value}`)
    .join('; ');
}

/** psi as findings write them: up to two decimals, a measured one with its date. */
export function psiText({ value, on = null }: { value: number; on?: string | null }): string {
  const figure = `${Number(value.toFixed(2))} psi`;
  return on === null ? figure : `${figure} (measured ${on})`;
}
