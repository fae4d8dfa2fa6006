/** Tasks that are fixed to a shift and person: whether they can stand there, seen without the others. */
import { checkAssignment } from '../check.ts';
import type { Breach } from '../check.ts';
import { InstanceError, emptyAssignment } from '../instance.ts';
import type { OutOfOrder } from '../instance.ts';
import { placementOf } from './assignment.ts';
import { PORTABLE_ONLY, opennessOf } from './compile.ts';
import type { Compiled } from './compile.ts';
import { Plan } from './plan.ts';

/** A plan of the fixed tasks alone, by portable supply where there is no other way or their shift would be too long. */
export function planOfFixed(c: Compiled): Plan {
  const plan = new Plan(c);
  for (let task = 0; task < c.tasks; task += 1) {
    const place = c.frozen[task];
    if (place < 0) continue;
    plan.add(task, place, opennessOf(c, task, Math.floor(place / c.crews)) === PORTABLE_ONLY ? 1 : 0);
  }
  for (let place = 0; place < c.crewSlots; place += 1)
    if (plan.load[place] > c.capacity[place]) shorten(plan, place);
  return plan;
}

/** Has tasks of a place done by portable supply, one by one, what shortens it most first, until all fit, if they ever do. */
function shorten(plan: Plan, place: number): void {
  const { c } = plan;
  const open: number[] = [];
  for (let task = plan.head[place]; task >= 0; task = plan.next[task])
    if (plan.portable[task] === 0 && c.portable[task] >= 0) open.push(task);
  const changed: number[] = [];
  const change = (task: number, way: number): void => {
    plan.remove(task);
    plan.add(task, place, way);
  };
  while (plan.load[place] > c.capacity[place] && open.length > 0) {
    const loadWith = open.map((task) => {
      change(task, 1);
      const load = plan.load[place];
      change(task, 0);
      return load;
    });
    const [task] = open.splice(loadWith.indexOf(Math.min(...loadWith)), 1);
    change(task, 1);
    changed.push(task);
  }
  if (plan.load[place] > c.capacity[place]) for (const task of changed) change(task, 0);
}

/** Every constraint that the fixed tasks break among themselves; what waits for a task that is not fixed breaks none. */
export function fixedBreaches(c: Compiled): Breach[] {
  const assignment = emptyAssignment();
  const plan = planOfFixed(c);
  const isFixed = (id: string): boolean => c.frozen[c.indexOf.get(id) as number] >= 0;
  const tasks = c.taskList.filter((task) => isFixed(task.id));
  for (const { id } of tasks) {
    const task = c.indexOf.get(id) as number;
    assignment[id] = placementOf(c, plan.place[task], plan.portable[task]);
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
