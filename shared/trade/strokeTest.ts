/**
 * The stroke test of an actuator, on the bench or in place: branch pressure raised and lowered by hand, and where it
 * begins to move, ends, and comes back. Unrounded; one pressure unit in one call. Limits are common practice, no source.
 */
import type { SpringRange } from './actuators.ts';

export type StrokeTest = {
  /** First movement and end of travel on the way up; first movement back and normal position on the way down. */
  startUp: number;
  endUp: number;
  endDown: number;
  startDown: number;
};

/** Most hysteresis that passes, in psi, for an actuator without a positioner. */
export const MOST_HYSTERESIS_PSI = 1;
/** Most that passes with a positioner, as a part of the span. */
export const MOST_HYSTERESIS_WITH_POSITIONER = 0.02;
/** Most pressure lost in 5 minutes with the signal closed off, in psi. */
export const MOST_LEAK_PSI = 0.5;

/** The wider of the two gaps between the way up and the way down. */
export function hysteresisOf({ startUp, endUp, endDown, startDown }: StrokeTest): number {
  return Math.max(endUp - endDown, startUp - startDown);
}

/** Hysteresis as a part of the spring range. Throws RangeError for a range without width. */
export function hysteresisShare(test: StrokeTest, spring: SpringRange): number {
  if (!(spring.end > spring.start)) throw new RangeError('a spring range must end above its start');
  return hysteresisOf(test) / (spring.end - spring.start);
}

/** Whether the hysteresis passes; pressures in psi. */
export function isHysteresisRight(test: StrokeTest, spring: SpringRange, hasPositioner: boolean): boolean {
  return hasPositioner
    ? hysteresisShare(test, spring) <= MOST_HYSTERESIS_WITH_POSITIONER + 1e-9
    : hysteresisOf(test) <= MOST_HYSTERESIS_PSI + 1e-9;
}

/**
 * How far the fluid moves the spring range of a valve: pressure drop over the plug times seat area over diaphragm
 * area (equilibrium of forces). Areas in one unit. Throws RangeError for a diaphragm without area.
 */
export function springShift(valve: { drop: number; seatArea: number; diaphragmArea: number }): number {
  if (!(valve.diaphragmArea > 0)) throw new RangeError('the diaphragm must have an area');
  return (valve.drop * valve.seatArea) / valve.diaphragmArea;
}
