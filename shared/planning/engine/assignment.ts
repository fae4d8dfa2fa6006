/** Between a plan's arrays and the assignment by ids that the format has. */
import { emptyAssignment, placeIn } from '../instance.ts';
import type { Assignment, Placement } from '../instance.ts';
import type { Compiled } from './compile.ts';
import { Plan } from './plan.ts';

/** A crew-slot and a way as the format has them. */
export function placementOf(c: Compiled, crewSlot: number, way: number): Placement {
  return {
    slot: Math.floor(crewSlot / c.crews),
    crew: c.instance.crews[crewSlot % c.crews].id,
    ...(way === 1 ? { portable: true as const } : {}),
  };
}

/** Where the tasks of a plan stand, by id. */
export function assignmentOf(c: Compiled, plan: Plan): Assignment {
  const assignment = emptyAssignment();
  for (const [index, task] of c.taskList.entries()) {
    const place = plan.place[index];
    assignment[task.id] = place < 0 ? null : placementOf(c, place, plan.portable[index]);
  }
  return assignment;
}

/** A plan with every task where an assignment has it; nothing is asked of whether it may stand there. */
export function planOf(c: Compiled, assignment: Assignment): Plan {
  const plan = new Plan(c);
  const crews = new Map(c.instance.crews.map((crew, index) => [crew.id, index]));
  for (const [index, task] of c.taskList.entries()) {
    const place = placeIn(assignment, task.id);
    const crew = place ? crews.get(place.crew) : undefined;
    if (place && crew !== undefined) plan.add(index, place.slot * c.crews + crew, place.portable ? 1 : 0);
  }
  return plan;
}
