/**
 * The last touch of a plan: what is dearer than leaving it out goes, what is cheaper by the other way is done by it,
 * and what has a place that is cheaper than leaving it out gets it, alone or together with what waits for it. After
 * it, no task left out has a place that would be cheaper.
 */
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';

/** What waits for a task is tried with it as far as so many tasks. */
const MOST_WITH = 200;

/** The cheapest place of a task in the whole window that `limit` leaves it: [price, place, way], place -1 = none. */
export function cheapestPlace(plan: Plan, task: number): [number, number, number] {
  const { c } = plan;
  let best = IMPOSSIBLE;
  let at = -1;
  let way = 0;
  for (let place = plan.lowSlot * c.crews; place < (plan.highSlot + 1) * c.crews; place += 1) {
    const price = plan.price(task, place);
    if (price >= best) continue;
    best = price;
    at = place;
    way = plan.way;
  }
  return [best, at, way];
}

/** Puts a task and what waits for it at their cheapest places if that makes the plan cheaper. */
function placeWithSuccessors(plan: Plan, heads: Heads, first: number): void {
  const { c } = plan;
  const before = plan.total;
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
  if (plan.total < before) return;
  for (const task of added.toReversed()) plan.remove(task);
}

/** A task placed late can make room, or a visit, for one that was looked at before. */
const MOST_LOOKS = 5;

/** Settles a plan, which is never dearer after it; answers whether anything was changed. Places priced here are beside the budget. */
export function settle(plan: Plan, heads: Heads): boolean {
  const before = plan.total;
  for (let look = 0, total = Infinity; look < MOST_LOOKS && plan.total < total; look += 1) {
    total = plan.total;
    settleOnce(plan, heads);
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
