/** Tasks that are fixed to a shift and person: whether they can stand there, seen without the others. */
import { checkAssignment } from '../check.ts';
import type { Breach } from '../check.ts';
import { InstanceError, emptyAssignment } from '../instance.ts';
import type { OutOfOrder } from '../instance.ts';
import { placementOf } from './assignment.ts';
import { PORTABLE_ONLY, opennessOf } from './compile.ts';
import type { Compiled } from './compile.ts';
import type { Plan } from './plan.ts';

/** 1 when a fixed task can be done there by portable supply only. */
export function fixedWay(c: Compiled, task: number): 0 | 1 {
  return opennessOf(c, task, Math.floor(c.frozen[task] / c.crews)) === PORTABLE_ONLY ? 1 : 0;
}

/** Every constraint that the fixed tasks break among themselves; what waits for a task that is not fixed breaks none. */
export function fixedBreaches(c: Compiled): Breach[] {
  const assignment = emptyAssignment();
  const isFixed = (id: string): boolean => c.frozen[c.indexOf.get(id) as number] >= 0;
  const tasks = c.taskList.filter((task) => isFixed(task.id));
  for (const { id } of tasks) {
    const task = c.indexOf.get(id) as number;
    assignment[id] = placementOf(c, c.frozen[task], fixedWay(c, task));
  }
  return checkAssignment(
    { ...c.instance, tasks: tasks.map((task) => ({ ...task, preds: task.preds?.filter(isFixed) })) },
    assignment,
  );
}

/** Throws InstanceError naming the first fixed task that cannot stand where it is fixed, and how many there are. */
export function requireSoundFixes(c: Compiled): void {
  const breaches = fixedBreaches(c);
  if (breaches.length === 0) return;
  const [{ task, constraint, detail }] = breaches;
  const more = new Set(breaches.map((one) => one.task)).size - 1;
  throw new InstanceError(
    `task ${task} is fixed where it cannot stand (${constraint}: ${detail})${more > 0 ? `, and so are ${more} more` : ''}`,
  );
}

/** Fixed tasks of a plan that wait for one without a place. */
export function outOfOrder(c: Compiled, plan: Plan): OutOfOrder[] {
  const found: OutOfOrder[] = [];
  for (let task = 0; task < c.tasks; task += 1) {
    if (c.frozen[task] < 0) continue;
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
      if (plan.place[c.preds[edge]] < 0)
        found.push({ task: c.taskList[task].id, waitsFor: c.taskList[c.preds[edge]].id });
  }
  return found;
}
