/**
 * Proportional control of a pneumatic room controller. All pressures of one call share one gauge-pressure
 * unit and all temperatures one unit (psi with degF, or kPa with degC and K); nothing is converted here.
 * Formulas: textbook proportional control, ASHRAE Handbook - Fundamentals ch. 7 section 1.2 (terms) with the
 * arithmetic written out in the published checks. Unrounded.
 */

export const controllerActions = ['direct', 'reverse'] as const;
export type ControllerAction = (typeof controllerActions)[number];

/** +1 for direct acting (output rises with the measured variable), -1 for reverse acting. */
export function actionSign(action: ControllerAction): 1 | -1 {
  return action === 'direct' ? 1 : -1;
}

/** Gain in pressure per degree: output span over throttling range. Throws RangeError when TR is not positive. */
export function gainOf(outputLow: number, outputHigh: number, throttlingRange: number): number {
  if (!(throttlingRange > 0)) throw new RangeError('the throttling range must be greater than zero');
  if (!(outputHigh > outputLow)) throw new RangeError('the output range must end above its start');
  return (outputHigh - outputLow) / throttlingRange;
}

/** Throttling range in degrees of a device whose spring spans `start` to `end`, at a gain: (end - start)/G. */
export function throttlingRangeOf(start: number, end: number, gain: number): number {
  if (!(gain > 0)) throw new RangeError('the gain must be greater than zero');
  return (end - start) / gain;
}

/** Midpoint of a pressure range. */
export function midpoint(low: number, high: number): number {
  return (low + high) / 2;
}

export const calibrationBases = ['output midpoint', 'spring midpoint', 'stated'] as const;
export type CalibrationBasis = (typeof calibrationBases)[number];

export type CalibrationPressureInput = {
  basis: CalibrationBasis;
  outputLow: number;
  outputHigh: number;
  /** Spring range of the governing actuator; needed for `spring midpoint`. */
  spring?: { start: number; end: number } | null;
  /** The pressure that the site stated; needed for `stated`. */
  stated?: number | null;
};

/**
 * The branch pressure that a controller is calibrated to: midpoint of its output range, midpoint of the
 * governing device's spring, or a pressure that the site states (for two sequenced devices the pressure at
 * which both are just closed). Answers null when the basis lacks its figure: never a guess.
 */
export function calibrationPressure(input: CalibrationPressureInput): number | null {
  if (input.basis === 'output midpoint') return midpoint(input.outputLow, input.outputHigh);
  if (input.basis === 'spring midpoint')
    return input.spring ? midpoint(input.spring.start, input.spring.end) : null;
  return input.stated ?? null;
}

export type ControlLaw = {
  action: ControllerAction;
  setpoint: number;
  gain: number;
  calibrationPressure: number;
  mainPressure: number;
};

export type BranchPressure = { pressure: number; raw: number; clipped: 'low' | 'high' | null };

/** Branch pressure at a room temperature, P = P_cal + a G (T - SP), limited to 0 .. main pressure. */
export function branchPressure(law: ControlLaw, temperature: number): BranchPressure {
  const raw = law.calibrationPressure + actionSign(law.action) * law.gain * (temperature - law.setpoint);
  if (raw <= 0) return { pressure: 0, raw, clipped: raw < 0 ? 'low' : null };
  if (raw >= law.mainPressure)
    return { pressure: law.mainPressure, raw, clipped: raw > law.mainPressure ? 'high' : null };
  return { pressure: raw, raw, clipped: null };
}

/**
 * The room temperature that a branch pressure stands for, T = SP + a (P - P_cal)/G. Answers null at or
 * beyond 0 and main pressure, where the output is clipped and the temperature is not known.
 */
export function temperatureAt(law: ControlLaw, pressure: number): number | null {
  if (pressure <= 0 || pressure >= law.mainPressure) return null;
  return law.setpoint + (actionSign(law.action) * (pressure - law.calibrationPressure)) / law.gain;
}

/** Offset = control point - setpoint: a property of proportional control, not an error of calibration. */
export function offsetOf(controlPoint: number, setpoint: number): number {
  return controlPoint - setpoint;
}

/** The setpoint change that moving the calibration pressure amounts to: dP_cal / G. It starts a new series. */
export function setpointShiftOfCalibrationChange(from: number, to: number, gain: number): number {
  return (to - from) / gain;
}
