/** Ways of doing a task, once a plan has chosen between them. */
import { emptyAssignment, placeIn } from './instance.ts';
import type { Assignment, PlanInstance } from './instance.ts';

/**
 * The instance and plan with every chosen portable supply written into the task itself: its longer minutes, and no
 * state of a main. Whoever reads them needs to know of one way only, and finds the same cost.
 */
export function settleWays(
  instance: PlanInstance,
  assignment: Assignment,
): { instance: PlanInstance; assignment: Assignment } {
  const settled = emptyAssignment();
  const tasks = instance.tasks.map((task) => {
    const place = placeIn(assignment, task.id);
    settled[task.id] = place === null ? null : { slot: place.slot, crew: place.crew };
    if (!place?.portable || task.portableMin === undefined) return task;
    const { main: _main, state: _state, portableMin, ...rest } = task;
    return { ...rest, min: portableMin, byPortable: true as const };
  });
  return { instance: { ...instance, tasks }, assignment: settled };
}
