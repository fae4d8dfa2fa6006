/** What the bounds count: which tasks, and at least how many minutes of them and of a visit. */
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';

/** Tasks that the cheap bounds may count. */
export function countedTasks(c: Compiled, heads: Heads): Uint8Array {
  const horizon = (c.slots > 0 ? c.day[c.slots - 1] : 0) + 1;
  const { prices } = c;
  const visit = prices.walk * (c.walkBuilding + c.walkFloor);
  const session = 2 * (prices.switchover + prices.switchoverOccupied);
  return Uint8Array.from({ length: c.tasks }, (_, task) => {
    if (heads.forcedOut[task] || c.frozen[task] >= 0) return 0;
    const lowers =
      c.weight[task] * Math.max(0, horizon - c.due[task]) +
      prices.uneven * c.minutes[task] +
      visit +
      (c.main[task] >= 0 ? session : 0);
    return c.leaveOut[task] >= lowers ? 1 : 0;
  });
}

/** Minutes of the one building and the one floor that every used shift visits; 0 when some task has neither. */
export function leastVisit(c: Compiled, counted?: Uint8Array): number {
  let building = c.walkBuilding;
  let floor = c.walkFloor;
  for (let task = 0; task < c.tasks; task += 1) {
    if (counted && counted[task] === 0) continue;
    if (c.building[task] < 0) building = 0;
    if (c.floor[task] < 0) floor = 0;
  }
  return building + floor;
}

/** Least minutes a task takes, whichever way it is done. */
export function leastMinutes(c: Compiled, task: number): number {
  return c.portable[task] >= 0 ? Math.min(c.minutes[task], c.portable[task]) : c.minutes[task];
}
