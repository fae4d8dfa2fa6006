/**
 * What a gauge or thermometer can show at all. Wide on purpose: it stops slips of the pen and swapped columns
 * before they become records that cannot be changed, and it judges no device. Limits by common practice of
 * 15 to 25 psi systems, no source; the register's own limits are the same or wider.
 */
import { convertPressure, convertScale, convertScaleDifference, fromMilli } from '../units/units.ts';
import type { PressureUnit, ScaleUnit } from '../units/units.ts';
import { MAIN_AT_DEVICE_ALLOWANCE_PSI } from './switchover.ts';

export type ReadingQuantity =
  'gauge pressure' | 'supply pressure' | 'dial' | 'room temperature' | 'air temperature' | 'error';
export type ReadingUnits = { pressure: PressureUnit; temperature: ScaleUnit };

const limits: Record<ReadingQuantity, { from: number; to: number; unit: string }> = {
  'gauge pressure': { from: 0, to: 50, unit: 'psi' },
  'supply pressure': { from: 0, to: 200, unit: 'psi' },
  dial: { from: -60, to: 300, unit: 'degF' },
  'room temperature': { from: -60, to: 150, unit: 'degF' },
  'air temperature': { from: -100, to: 500, unit: 'degF' },
  error: { from: -60, to: 60, unit: 'degF' },
};

/**
 * Why a reading cannot be right, or null. `milli` is in thousandths of the given units; the limits are included.
 */
export function implausible(quantity: ReadingQuantity, milli: number, units: ReadingUnits): string | null {
  const value = fromMilli(milli);
  const isPressure = quantity === 'gauge pressure' || quantity === 'supply pressure';
  if (!isPressure && units.temperature === 'percent') {
    const least = quantity === 'error' ? -100 : 0;
    return value >= least && value <= 100
      ? null
      : `${value} cannot be: a humidity lies between ${least} and 100 %`;
  }
  const base = isPressure
    ? convertPressure(value, units.pressure, 'psi')
    : quantity === 'error'
      ? convertScaleDifference(value, units.temperature, 'degF')
      : convertScale(value, units.temperature, 'degF');
  const { from, to, unit } = limits[quantity];
  return base >= from - 1e-9 && base <= to + 1e-9
    ? null
    : `${fromMilli(milli)} cannot be: a ${quantity} lies between ${from} and ${to} ${unit}`;
}

/**
 * Why a branch pressure cannot stand beside a main pressure, or null: a controller only lets its main's air
 * through. 1 psi is left for the gauge. Both in thousandths of `unit`.
 */
export function branchAboveMain(branchMilli: number, mainMilli: number, unit: PressureUnit): string | null {
  const above = convertPressure(fromMilli(branchMilli - mainMilli), unit, 'psi');
  return above > MAIN_AT_DEVICE_ALLOWANCE_PSI + 1e-9
    ? 'a branch cannot stand above its main: read both again, on the same gauge'
    : null;
}
