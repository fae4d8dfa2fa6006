/** From a setpoint as the register holds it to what its arithmetic and its card need. One rule for screen and service. */
import { convertPressure, fromMilli } from '../units/units.ts';
import type { PressureUnit } from '../units/units.ts';
import type { CardSetting } from './benchRules.ts';
import type { ReadingUnits } from './plausible.ts';
import type { ControllerAction } from './proportional.ts';
import type { SetpointFacts } from './setpointCard.ts';
import { CLEAR_OF_ENDS_PSI } from './setpointError.ts';
import { MAIN_AT_DEVICE_ALLOWANCE_PSI } from './switchover.ts';
import type { AirState } from './switchover.ts';

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

/** How the card judges a setpoint; null while its calibration pressure is not known. */
export function cardSetting(
  row: SetpointRow,
  units: ReadingUnits,
  { rated, measuredTrips }: Changeover,
): CardSetting | null {
  const facts = setpointFactsOfRow(row, units.pressure);
  if (!facts) return null;
  return {
    facts,
    units,
    dialMilli: row.dialMilli,
    airState: row.airState ?? (row.role === 'only' ? null : 'unknown'),
    rated: rated
      ? {
          low: fromMilli(rated.lowMilli),
          high: fromMilli(rated.highMilli),
          allowance: convertPressure(MAIN_AT_DEVICE_ALLOWANCE_PSI, 'psi', units.pressure),
        }
      : null,
    measured: measuredTrips
      ? { falling: fromMilli(measuredTrips.fallingMilli), rising: fromMilli(measuredTrips.risingMilli) }
      : null,
  };
}
