/** The air state of a main in the words of the book, and in the letters of the planner. */
import type { PlanState } from '../../shared/planning/instance.ts';
import type { AirState } from '../../shared/trade/switchover.ts';

export function airStateOf(state: PlanState): AirState {
  return state === 'H' ? 'high' : 'low';
}

export function planStateOf(state: AirState): PlanState {
  return state === 'high' ? 'H' : 'L';
}
