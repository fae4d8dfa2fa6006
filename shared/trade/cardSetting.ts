/** From a setpoint as the register holds it to what its arithmetic needs, and whether it is alive. One rule for screen, service and files. */
import { convertPressure, fromMilli } from '../units/units.ts';
import type { PressureUnit } from '../units/units.ts';
import type { ControllerAction } from './proportional.ts';
import type { SetpointFacts } from './setpointCard.ts';
import { CLEAR_OF_ENDS_PSI } from './setpointError.ts';
import { MAIN_AT_DEVICE_ALLOWANCE_PSI, liveAirState } from './switchover.ts';
import type { AirState, LiveSetpoint } from './switchover.ts';

/** A setpoint's columns, in thousandths of the controller's units. */
export type SetpointRow = {
  role: string;
  airState: AirState | null;
  action: ControllerAction;
  dialMilli: number;
  throttlingRangeMilli: number;
  outputLowMilli: number;
  outputHighMilli: number;
  calibrationPressureMilli: number | null;
  spring: { startMilli: number; endMilli: number } | null;
  toleranceMilli: number;
  toleranceLeftMilli: number;
};

/** What is known of a controller's changeover, in thousandths of its pressure unit. */
export type Changeover = {
  rated: { lowMilli: number; highMilli: number } | null;
  measuredTrips: { fallingMilli: number; risingMilli: number } | null;
};

/** The facts of a setpoint as plain numbers for the trade's arithmetic; null without a calibration pressure. */
export function setpointFactsOfRow(row: SetpointRow, unit: PressureUnit): SetpointFacts | null {
  if (row.calibrationPressureMilli === null) return null;
  return {
    action: row.action,
    calibrationPressure: fromMilli(row.calibrationPressureMilli),
    outputLow: fromMilli(row.outputLowMilli),
    outputHigh: fromMilli(row.outputHighMilli),
    throttlingRange: fromMilli(row.throttlingRangeMilli),
    spring: row.spring
      ? { start: fromMilli(row.spring.startMilli), end: fromMilli(row.spring.endMilli) }
      : null,
    toleranceFound: fromMilli(row.toleranceMilli),
    toleranceLeft: fromMilli(row.toleranceLeftMilli),
    endClearance: convertPressure(CLEAR_OF_ENDS_PSI, 'psi', unit),
  };
}

/** What of a setpoint and its controller decides whether it is alive. */
export type StateFacts = Pick<SetpointRow, 'role' | 'airState'> & Changeover;

/** Which setpoint is alive at a main pressure in thousandths, and whether it is the one in hand. */
export function liveSetpointOf(
  { role, airState, rated, measuredTrips }: StateFacts,
  unit: PressureUnit,
  mainMilli: number | null,
): { live: LiveSetpoint | 'not asked' | null; stateIsRight: boolean } {
  if (mainMilli === null) return { live: null, stateIsRight: false };
  // A setpoint with a role that its main does not mean asks for a state that there is not.
  if (airState === null)
    return role === 'only'
      ? { live: 'not asked', stateIsRight: true }
      : { live: 'between', stateIsRight: false };
  if (!(rated || measuredTrips)) return { live: 'between', stateIsRight: false };
  const live = liveAirState(
    fromMilli(mainMilli),
    rated
      ? {
          low: fromMilli(rated.lowMilli),
          high: fromMilli(rated.highMilli),
          allowance: convertPressure(MAIN_AT_DEVICE_ALLOWANCE_PSI, 'psi', unit),
        }
      : { low: -Infinity, high: Infinity, allowance: 0 },
    measuredTrips
      ? { falling: fromMilli(measuredTrips.fallingMilli), rising: fromMilli(measuredTrips.risingMilli) }
      : null,
  );
  return { live, stateIsRight: live === airState };
}
