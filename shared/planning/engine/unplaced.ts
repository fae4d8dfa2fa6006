/** A reason for everything that a plan leaves out. */
import type { Unplaced } from '../instance.ts';
import type { Compiled } from './compile.ts';
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';

/** Why a task has no place in a plan. O(places of its window). */
export function whyNot(c: Compiled, heads: Heads, plan: Plan, task: number): Omit<Unplaced, 'task'> {
  const forced = heads.forcedOut[task];
  if (forced) return forced;
  for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
    if (plan.place[c.preds[edge]] < 0)
      return { reason: 'waits for an unplaced task', detail: c.taskList[c.preds[edge]].id };
  plan.limit(task);
  let cheapest = IMPOSSIBLE;
  for (let place = plan.lowSlot * c.crews; place < (plan.highSlot + 1) * c.crews; place += 1)
    cheapest = Math.min(cheapest, plan.price(task, place));
  return cheapest === IMPOSSIBLE
    ? {
        reason: 'no room in the shifts',
        detail: 'the open shifts of its window are full, or come before what it waits for',
      }
    : {
        reason: 'dearer than leaving it out',
        detail: `its cheapest place costs ${cheapest} points, leaving it out ${c.leaveOut[task]}`,
      };
}

/** In the order of ids. */
export function whyUnplaced(c: Compiled, heads: Heads, plan: Plan): Unplaced[] {
  const unplaced: Unplaced[] = [];
  for (let task = 0; task < c.tasks; task += 1)
    if (plan.place[task] < 0) unplaced.push({ task: c.taskList[task].id, ...whyNot(c, heads, plan, task) });
  return unplaced;
}
