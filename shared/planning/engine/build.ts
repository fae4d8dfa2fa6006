/**
 * Group insertion: main by main, each task at the cheapest of a sample of places, so that what shares a main, a
 * building and a floor lands together. A start for the search, feasible by itself.
 */
import type { Compiled } from './compile.ts';
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';

/** Due date of a task, or of the most urgent one that waits for it. */
export function inheritedDue(c: Compiled, heads: Heads): Int32Array {
  const due = Int32Array.from(c.due);
  for (const task of heads.order.toReversed())
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
      due[task] = Math.min(due[task], due[c.succs[edge]]);
  return due;
}

/** The group that a task is inserted with: its main, else the main of what waits for it, else its building. */
function groupsOf(c: Compiled, heads: Heads): Int32Array {
  const group = Int32Array.from(c.main);
  for (const task of heads.order.toReversed())
    for (let edge = c.succStart[task]; group[task] < 0 && edge < c.succStart[task + 1]; edge += 1)
      group[task] = group[c.succs[edge]];
  for (let task = 0; task < c.tasks; task += 1)
    if (group[task] < 0) group[task] = c.mains + c.building[task] + 1;
  return group;
}

/** Tasks in the order of insertion: groups by their most urgent task; what others wait for first. */
function insertionOrder(c: Compiled, heads: Heads): number[] {
  const due = inheritedDue(c, heads);
  const group = groupsOf(c, heads);
  const urgency = new Map<number, number>();
  for (let task = 0; task < c.tasks; task += 1)
    urgency.set(group[task], Math.min(urgency.get(group[task]) ?? due[task], due[task]));
  return [...heads.order].sort(
    (a, b) =>
      (urgency.get(group[a]) as number) - (urgency.get(group[b]) as number) ||
      group[a] - group[b] ||
      heads.level[a] - heads.level[b] ||
      c.floor[a] - c.floor[b] ||
      a - b,
  );
}

/** Crew-slots in which a building is visited, with the newest ones last. */
type Visited = number[][];

/** Places to try for a task: everywhere its building is visited, and an even sample of its window. */
function tryPlaces(
  plan: Plan,
  task: number,
  visited: readonly number[],
  sample: number,
): [number, number, number] {
  const { c } = plan;
  let best = IMPOSSIBLE;
  let at = -1;
  let way = 0;
  const consider = (place: number): void => {
    const price = plan.price(task, place);
    if (price < best || (price === best && place < at)) {
      best = price;
      at = place;
      way = plan.way;
    }
  };
  for (const place of visited) consider(place);
  const from = plan.lowSlot * c.crews;
  const count = (plan.highSlot - plan.lowSlot + 1) * c.crews;
  const step = Math.max(1, Math.floor(count / sample));
  for (let place = from; place < from + count; place += step) consider(place);
  if (at < 0 && step > 1) for (let place = from; place < from + count; place += 1) consider(place);
  return [best, at, way];
}

/** Inserts every task that has no place yet; what finds none stays out. `sample` is the places tried beside those of its building. */
export function insertByGroups(plan: Plan, heads: Heads, sample: number): void {
  const { c } = plan;
  const visited: Visited = Array.from({ length: c.buildings + 1 }, () => []);
  const known = new Set<number>();
  const note = (building: number, place: number): void => {
    const key = (building + 1) * c.crewSlots + place;
    if (known.has(key)) return;
    known.add(key);
    visited[building + 1].push(place);
  };
  for (let task = 0; task < c.tasks; task += 1)
    if (plan.place[task] >= 0) note(c.building[task], plan.place[task]);
  const tried = new Uint8Array(c.tasks);
  const insert = (task: number): void => {
    if (tried[task] === 1 || plan.place[task] >= 0 || heads.forcedOut[task]) return;
    tried[task] = 1;
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1) insert(c.preds[edge]);
    if (!plan.limit(task)) return;
    plan.highSlot = Math.min(plan.highSlot, heads.latest[task]);
    const [price, place, way] = tryPlaces(plan, task, visited[c.building[task] + 1], sample);
    if (place < 0 || price >= heads.worth[task]) return;
    plan.addPriced(task, place, way, price);
    note(c.building[task], place);
  };
  for (const task of insertionOrder(c, heads)) insert(task);
}
