/**
 * The bench card of one setpoint as arithmetic: what the gauge should read before it is read, and what the
 * readings come to. Pressures of one call share a unit, temperatures share a unit; the service converts
 * typed units before it calls. Unrounded.
 */
import { branchPressure, gainOf } from './proportional.ts';
import type { ControllerAction } from './proportional.ts';
import { errorByBranch, errorByDial, gainFromReadings, isClearOfEnds } from './setpointError.ts';
import type { SetpointError } from './setpointError.ts';
import { limitsOf, verdictInDoubt } from './doubt.ts';
import type { DoubtVerdict } from './doubt.ts';

export type SetpointFacts = {
  action: ControllerAction;
  calibrationPressure: number;
  outputLow: number;
  outputHigh: number;
  throttlingRange: number;
  /** Governing spring range, where an actuator is known; the full-travel test is held against it. */
  spring: { start: number; end: number } | null;
  /** As-found tolerance and as-left tolerance in degrees of the setpoint's unit. */
  toleranceFound: number;
  toleranceLeft: number;
  /** Clearance from 0 and main pressure within which M2 and M3 are not trusted. */
  endClearance: number;
};

export type ExpectedReadings = {
  calibrationPressure: number;
  gain: number;
  /** Expected branch at the dial and temperature in hand; null until both are known. */
  branch: number | null;
  /** Branch expected with the dial half a throttling range above and below the room temperature. */
  checkDialUp: { dial: number; branch: number } | null;
  checkDialDown: { dial: number; branch: number } | null;
};

/** What a right controller reads, before anything is read. */
export function expectedReadings(
  facts: SetpointFacts,
  at: { dial: number | null; temperature: number | null; mainPressure: number },
): ExpectedReadings {
  const gain = gainOf(facts.outputLow, facts.outputHigh, facts.throttlingRange);
  const read = (dial: number, temperature: number): number =>
    branchPressure(
      {
        action: facts.action,
        setpoint: dial,
        gain,
        calibrationPressure: facts.calibrationPressure,
        mainPressure: at.mainPressure,
      },
      temperature,
    ).pressure;
  const half = facts.throttlingRange / 2;
  const { dial, temperature } = at;
  return {
    calibrationPressure: facts.calibrationPressure,
    gain,
    branch: dial === null || temperature === null ? null : read(dial, temperature),
    checkDialUp:
      temperature === null
        ? null
        : { dial: temperature + half, branch: read(temperature + half, temperature) },
    checkDialDown:
      temperature === null
        ? null
        : { dial: temperature - half, branch: read(temperature - half, temperature) },
  };
}

export type FoundReadings = {
  mainPressure: number;
  temperature: number;
  dial: number;
  branch: number;
  /** Dial position at which the branch stood at the calibration pressure (method M1), when it was sought. */
  dialAtCalibrationPressure: number | null;
};

/**
 * Error from one set of readings. The dial method wins where its reading was taken. A branch within the
 * clearance of either end but not at it still gives a value by M2; the card asks for the dial method there.
 */
export function errorOf(facts: SetpointFacts, readings: FoundReadings): SetpointError {
  if (readings.dialAtCalibrationPressure !== null)
    return errorByDial(readings.temperature, readings.dialAtCalibrationPressure);
  return errorByBranch({
    action: facts.action,
    gain: gainOf(facts.outputLow, facts.outputHigh, facts.throttlingRange),
    calibrationPressure: facts.calibrationPressure,
    measuredTemperature: readings.temperature,
    dial: readings.dial,
    branch: readings.branch,
    mainPressure: readings.mainPressure,
  });
}

/** True when the reading lies too near an end for M2, so that the dial method should be used. */
export function asksForDialMethod(facts: SetpointFacts, readings: FoundReadings): boolean {
  return (
    readings.dialAtCalibrationPressure === null &&
    !isClearOfEnds(readings.branch, readings.mainPressure, facts.endClearance)
  );
}

/** As-found verdict by simple acceptance. */
export function foundVerdict(facts: SetpointFacts, error: SetpointError): DoubtVerdict {
  return verdictInDoubt(error, limitsOf(facts.toleranceFound), 0);
}

/** As-left verdict by simple acceptance, against the tighter as-left tolerance. */
export function leftVerdict(facts: SetpointFacts, error: SetpointError): DoubtVerdict {
  return verdictInDoubt(error, limitsOf(facts.toleranceLeft), 0);
}

export type TravelTest = 'pass' | 'fail' | 'no spring range';

/** Full-travel test: with the dial swung either way the branch must pass both ends of the spring range. */
export function travelTest(facts: SetpointFacts, branchOneWay: number, branchOtherWay: number): TravelTest {
  if (facts.spring === null) return 'no spring range';
  const low = Math.min(branchOneWay, branchOtherWay);
  const high = Math.max(branchOneWay, branchOtherWay);
  return low < facts.spring.start && high > facts.spring.end ? 'pass' : 'fail';
}

export type ThrottlingCheck = { gain: number; throttlingRange: number; action: ControllerAction };

/**
 * Gain, throttling range and true action from the two readings of the throttling-range check. Null when
 * the two readings allow no gain (clipped, or no movement).
 */
export function throttlingCheck(
  facts: SetpointFacts,
  up: { dial: number; branch: number },
  down: { dial: number; branch: number },
  mainPressure: number,
): ThrottlingCheck | null {
  try {
    const measured = gainFromReadings(up, down, mainPressure);
    return { ...measured, throttlingRange: (facts.outputHigh - facts.outputLow) / measured.gain };
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
