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
  const diameterIn = size.diameterMicro / 1_000_000 / (size.diameterUnit === 'mm' ? MM_PER_INCH : 1);
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
