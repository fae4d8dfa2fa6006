/** A leak of the log: its size, the pressure behind it, and what it loses, low, likely and high. */
import { convertPressure, fromMilli } from '../../units/units.ts';
import type { PressureUnit } from '../../units/units.ts';
import type { Bleed } from './budget.ts';
import { COEFFICIENTS, SCIM_PER_SCFM, flowThrough } from './flow.ts';

export const diameterUnits = ['in', 'mm'] as const;
export type DiameterUnit = (typeof diameterUnits)[number];
const MM_PER_INCH = 25.4;

export type LeakSize = {
  /** Millionths of the unit, so that 1/64 in is exact. */
  diameterMicro: number;
  diameterUnit: DiameterUnit;
  pressureMilli: number;
  pressureUnit: PressureUnit;
  /** Thousandths; null: nobody has seen the edge. */
  coefficientMilli: number | null;
};

/**
 * Flow of a leak into the room, thousandths of a scim. The likely figure takes the coefficient given, else that of an edge
 * nobody has seen; low and high are those of a sharp and of a rounded edge, or the given one where it lies beyond. Throws
 * RangeError on a size, a pressure or a coefficient that cannot be.
 */
export function leakEstimate(size: LeakSize, atmospherePsi: number): Bleed {
  const given = size.coefficientMilli === null ? null : fromMilli(size.coefficientMilli);
  const diameterIn = diameterInches(size);
  const abovePsi = convertPressure(fromMilli(size.pressureMilli), size.pressureUnit, 'psi');
  const at = (coefficient: number): number =>
    Math.round(flowThrough({ diameterIn, abovePsi, coefficient, atmospherePsi }).scfm * SCIM_PER_SCFM * 1000);
  const typical = given ?? COEFFICIENTS.unknown;
  return {
    low: at(Math.min(typical, COEFFICIENTS.sharp)),
    typical: at(typical),
    high: at(Math.max(typical, COEFFICIENTS.rounded)),
  };
}

/**
 * A diameter as people write it, in millionths of its unit: 1/64, 3/32, 0.0156, 0,8. Null when it is none, or not above zero.
 * A fraction is rounded to the nearest millionth.
 */
export function parseDiameter(text: string): number | null {
  const fraction = /^(\d{1,3})\/(\d{1,3})$/.exec(text.trim());
  if (fraction) {
    const micro = Math.round((Number(fraction[1]) / Number(fraction[2])) * 1_000_000);
    return Number.isFinite(micro) && micro > 0 ? micro : null;
  }
  const decimal = /^(\d{1,3})(?:[.,](\d{1,6}))?$/.exec(text.trim());
  if (!decimal) return null;
  const micro = Number(decimal[1]) * 1_000_000 + Number((decimal[2] ?? '').padEnd(6, '0'));
  return micro > 0 ? micro : null;
}

/** A diameter as it is shown: a fraction of 64ths where it is one, else a decimal. */
export function diameterText(micro: number, unit: DiameterUnit): string {
  const parts = (micro * 64) / 1_000_000;
  if (unit === 'in' && Number.isInteger(parts) && parts < 64) {
    let [over, under] = [parts, 64];
    while (over % 2 === 0) [over, under] = [over / 2, under / 2];
    return `${over}/${under} in`;
  }
  return `${Number((micro / 1_000_000).toFixed(6))} ${unit}`;
}

/** The diameter in inches. */
export function diameterInches({
  diameterMicro,
  diameterUnit,
}: Pick<LeakSize, 'diameterMicro' | 'diameterUnit'>): number {
  return diameterMicro / 1_000_000 / (diameterUnit === 'mm' ? MM_PER_INCH : 1);
}
