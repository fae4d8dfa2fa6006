/** The shifts of a plan as they are worked: visits in order, when mains are changed and everybody is done, what runs over. */
import { heldStates } from './heldStates.ts';
import type { Assignment, DrawnVisit, Overrun, PlanInstance } from './instance.ts';
import { furtherChanges, overrunsOf, shiftTimes } from './tours/switchTimes.ts';
import { drawVisits } from './visits.ts';
import { settleWays } from './ways.ts';

export type WorkedShifts = {
  visits: DrawnVisit[];
  metres: number;
  overruns: Overrun[];
  furtherChanges: number;
};

/** The shifts of whole slots. `held` is of the whole plan, and has to be given where the assignment is only a part of it. */
export function workedShifts(
  instance: PlanInstance,
  assignment: Assignment,
  held = heldStates(instance, assignment),
): WorkedShifts {
  const { visits, metres } = drawVisits(instance, assignment, held);
  const settled = settleWays(instance, assignment).instance;
  const times = shiftTimes(settled, visits, held);
  return { visits, metres, overruns: overrunsOf(settled, times), furtherChanges: furtherChanges(times) };
}
