/** A reason for everything that a plan leaves out, true of the plan as it stands. */
import type { Unplaced } from '../instance.ts';
import type { Compiled } from './compile.ts';
import { slotName } from './heads.ts';
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';
import { cheapestPlace, lackingPlaces } from './places.ts';

/** Which of the tasks around it leaves a task no shift. */
function whatBounds(c: Compiled, plan: Plan, task: number): string {
  const named = (other: number, verb: string): string =>
    `${c.taskList[other].id} ${verb} ${slotName(c, Math.floor(plan.place[other] / c.crews))}`;
  let before = -1;
  for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
    if (before < 0 || plan.place[c.preds[edge]] > plan.place[before]) before = c.preds[edge];
  let after = -1;
  for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1) {
    const other = c.succs[edge];
    if (plan.place[other] >= 0 && (after < 0 || plan.place[other] < plan.place[after])) after = other;
  }
  return [
    ...(before < 0 ? [] : [named(before, 'stands on')]),
    ...(after < 0 ? [] : [named(after, 'waits for it on')]),
  ].join('; ');
}

/** Why a task has no place in a plan. O(places of its window). */
export function whyNot(c: Compiled, heads: Heads, plan: Plan, task: number): Omit<Unplaced, 'task'> {
  const forced = heads.forcedOut[task];
  if (forced) return forced;
  for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
    if (plan.place[c.preds[edge]] < 0)
      return { reason: 'waits for an unplaced task', detail: c.taskList[c.preds[edge]].id };
  plan.limit(task);
  const [cheapest, place] = cheapestPlace(plan, task);
  if (cheapest !== IMPOSSIBLE && cheapest < c.leaveOut[task])
    return {
      reason: 'left out, though a place is open',
      detail: `${slotName(c, Math.floor(place / c.crews))}, ${c.instance.crews[place % c.crews].id}, for ${cheapest} points`,
    };
  if (cheapest !== IMPOSSIBLE)
    return {
      reason: 'dearer than leaving it out',
      detail: `its cheapest place costs ${cheapest} points, leaving it out ${c.leaveOut[task]}`,
    };
  const [nearest] = lackingPlaces(plan, task);
  if (!nearest) return { reason: 'no open shift after what it waits for', detail: whatBounds(c, plan, task) };
  return {
    reason: 'no room in the shifts',
    detail: `the shift that lacks least lacks ${nearest.lacks} minutes: ${slotName(c, Math.floor(nearest.place / c.crews))}, ${c.instance.crews[nearest.place % c.crews].id}; what stands there could not be moved, or is dearer to leave out`,
  };
}

/** In the order of ids. */
export function whyUnplaced(c: Compiled, heads: Heads, plan: Plan): Unplaced[] {
  const unplaced: Unplaced[] = [];
  for (let task = 0; task < c.tasks; task += 1)
    if (plan.place[task] < 0) unplaced.push({ task: c.taskList[task].id, ...whyNot(c, heads, plan, task) });
  return unplaced;
}
