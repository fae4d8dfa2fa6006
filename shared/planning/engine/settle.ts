/**
 * The last touch of a plan: what is dearer than leaving it out goes, what is cheaper by the other way is done by it,
 * and what has a place that is cheaper than leaving it out gets it, alone or together with what waits for it. After
 * it, no task left out has a place that would be cheaper.
 */
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import { cheapestPlace, lackingPlaces } from './places.ts';
import type { Plan } from './plan.ts';

/** Places priced at most for taking the place of another. */
const MOST_EXCHANGED = 200_000;
/** What waits for a task is tried with it as far as so many tasks. */
const MOST_WITH = 200;

/** Puts a task and what waits for it at their cheapest places, dear or not; answers what it put somewhere. */
function addWithSuccessors(plan: Plan, heads: Heads, first: number): number[] {
  const { c } = plan;
  const added: number[] = [];
  const queue = [first];
  for (let task = queue.shift(); task !== undefined && added.length < MOST_WITH; task = queue.shift()) {
    if (plan.place[task] >= 0 || heads.forcedOut[task] || !plan.limit(task)) continue;
    const [price, place, way] = cheapestPlace(plan, task);
    if (place < 0 || price >= heads.worth[task]) continue;
    plan.addPriced(task, place, way, price);
    added.push(task);
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1) queue.push(c.succs[edge]);
  }
  return added;
}

/** Puts a task and what waits for it at their cheapest places if that makes the plan cheaper. */
function placeWithSuccessors(plan: Plan, heads: Heads, first: number): void {
  const before = plan.total;
  const added = addWithSuccessors(plan, heads, first);
  if (plan.total < before) return;
  for (const task of added.toReversed()) plan.remove(task);
}

type Removed = { task: number; place: number; way: number };

/** Takes away a task and all that waits for it; answers false, and takes nothing, when something of that is fixed. */
function removeWithWaiting(plan: Plan, task: number, removed: Removed[]): boolean {
  const { c, place } = plan;
  if (place[task] < 0) return true;
  if (c.frozen[task] >= 0) return false;
  removed.push({ task, place: place[task], way: plan.portable[task] });
  plan.remove(task);
  for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
    if (!removeWithWaiting(plan, c.succs[edge], removed)) return false;
  return true;
}

/**
 * Puts a task that is left out where another one stands, which goes elsewhere or is left out in its turn, if that
 * makes the plan cheaper. Stops when so many places have been priced in all.
 */
function takePlaceOf(plan: Plan, heads: Heads, task: number, most: number): boolean {
  const { c } = plan;
  if (!plan.limit(task)) return false;
  const before = plan.total;
  for (const { place } of lackingPlaces(plan, task)) {
    const others: number[] = [];
    for (let other = plan.head[place]; other >= 0; other = plan.next[other]) others.push(other);
    for (const other of others.sort((a, b) => heads.worth[a] - heads.worth[b] || a - b)) {
      if (plan.evaluations >= most) return false;
      const removed: Removed[] = [];
      const added: number[] = [];
      if (removeWithWaiting(plan, other, removed) && plan.limit(task)) {
        const price = plan.price(task, place);
        if (price !== IMPOSSIBLE) {
          plan.addPriced(task, place, plan.way, price);
          added.push(task);
          for (const one of removed) added.push(...addWithSuccessors(plan, heads, one.task));
          for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
            added.push(...addWithSuccessors(plan, heads, c.succs[edge]));
        }
      }
      if (plan.total < before) return true;
      for (const one of added.toReversed()) plan.remove(one);
      for (const one of removed.toReversed()) plan.add(one.task, one.place, one.way);
    }
  }
  return false;
}

/** A task placed late can make room, or a visit, for one that was looked at before. */
const MOST_LOOKS = 5;

/** Settles a plan, which is never dearer after it; answers whether anything was changed. Places priced here are beside the budget. */
export function settle(plan: Plan, heads: Heads): boolean {
  const before = plan.total;
  let left = MOST_EXCHANGED;
  for (let look = 0, total = Infinity; look < MOST_LOOKS && plan.total < total; look += 1) {
    total = plan.total;
    settleOnce(plan, heads);
    const start = plan.evaluations;
    for (const task of heads.order)
      if (plan.place[task] < 0 && !heads.forcedOut[task]) takePlaceOf(plan, heads, task, start + left);
    left -= plan.evaluations - start;
  }
  return plan.total < before;
}

function settleOnce(plan: Plan, heads: Heads): void {
  const { c } = plan;
  for (const task of heads.order.toReversed()) {
    const place = plan.place[task];
    if (place < 0) continue;
    const mayGo = c.frozen[task] < 0 && !plan.hasPlacedSuccessor(task);
    if (!mayGo && c.portable[task] < 0) continue;
    const way = plan.portable[task];
    const saved = plan.remove(task);
    plan.limit(task);
    const price = c.portable[task] < 0 ? saved : plan.price(task, place);
    if (mayGo && Math.min(price, saved) > c.leaveOut[task]) continue;
    if (price < saved) plan.addPriced(task, place, plan.way, price);
    else plan.addPriced(task, place, way, saved);
  }
  for (const task of heads.order)
    if (plan.place[task] < 0 && c.frozen[task] < 0) placeWithSuccessors(plan, heads, task);
}
