/**
 * From readings to the error of a setpoint: e = (temperature at which the controller delivers its
 * calibration pressure) - (dial). e > 0: the room is held warmer than the dial says. Methods M1, M2 and M3
 * of the trade; a branch at 0 or at main pressure gives a bound, never a value. Unrounded; same units
 * throughout one call.
 */
import { actionSign } from './proportional.ts';
import type { ControllerAction } from './proportional.ts';

export const errorMethods = ['M1', 'M2', 'M3'] as const;
export type ErrorMethod = (typeof errorMethods)[number];
export const relations = ['=', '>=', '<='] as const;
export type Relation = (typeof relations)[number];

export type SetpointError = { error: number; relation: Relation; method: ErrorMethod };

/** M1, the dial method: the dial is turned until the branch reads P_cal; e = T_measured - dial. */
export function errorByDial(measuredTemperature: number, dialAtCalibrationPressure: number): SetpointError {
  return { error: measuredTemperature - dialAtCalibrationPressure, relation: '=', method: 'M1' };
}

export type BranchReading = {
  action: ControllerAction;
  gain: number;
  calibrationPressure: number;
  measuredTemperature: number;
  dial: number;
  branch: number;
  mainPressure: number;
};

/**
 * M2, the undisturbed reading: e = (T - D) - a (P - P_cal)/G. With D = T this is M3, the usual trade
 * method. At 0 or at main pressure the sign of the action decides which way the bound points: a direct
 * acting output at 0 says that P_cal is delivered only at a temperature at least this far up.
 */
export function errorByBranch(reading: BranchReading): SetpointError {
  if (!(reading.gain > 0)) throw new RangeError('the gain must be greater than zero');
  const sign = actionSign(reading.action);
  const branch = Math.min(Math.max(reading.branch, 0), reading.mainPressure);
  const error =
    reading.measuredTemperature -
    reading.dial -
    (sign * (branch - reading.calibrationPressure)) / reading.gain;
  const method: ErrorMethod = reading.measuredTemperature === reading.dial ? 'M3' : 'M2';
  if (reading.branch <= 0) return { error, relation: sign === 1 ? '>=' : '<=', method };
  if (reading.branch >= reading.mainPressure) return { error, relation: sign === 1 ? '<=' : '>=', method };
  return { error, relation: '=', method };
}

/**
 * How far from either end a branch reading must be for M2 or M3 to be trusted, in psi.
 * Common practice, no published source.
 */
export const CLEAR_OF_ENDS_PSI = 1;

/** True when a branch reading is at least `clearance` away from 0 and from main pressure. */
export function isClearOfEnds(branch: number, mainPressure: number, clearance: number): boolean {
  return branch >= clearance && branch <= mainPressure - clearance;
}

export type GainMeasurement = { gain: number; action: ControllerAction };

/**
 * Gain from two dial positions: G = |P2 - P1| / |D2 - D1|. Raising the dial acts like a colder room, so a
 * branch that falls when the dial rises is direct acting. Both readings must be unclipped; the caller says
 * so by giving the main pressure. Throws RangeError where no gain can be had.
 */
export function gainFromReadings(
  first: { dial: number; branch: number },
  second: { dial: number; branch: number },
  mainPressure: number,
): GainMeasurement {
  if (first.dial === second.dial) throw new RangeError('the dial must be turned between the two readings');
  for (const { branch } of [first, second])
    if (branch <= 0 || branch >= mainPressure) throw new RangeError('a clipped branch reading gives no gain');
  if (first.branch === second.branch) throw new RangeError('the branch did not move with the dial');
  const slope = (second.branch - first.branch) / (second.dial - first.dial);
  return { gain: Math.abs(slope), action: slope < 0 ? 'direct' : 'reverse' };
}
