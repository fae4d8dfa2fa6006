/**
 * Why a task is where it is: what bounds its place, what it shares a switching with, what the next best places
 * would cost, part by part, and for what has no place the first constraint that forbids each one. Reads a plan and
 * leaves it as it was.
 */
import { placementOf } from './engine/assignment.ts';
import { IMPOSSIBLE } from './engine/plan.ts';
import type { Plan, PriceParts } from './engine/plan.ts';
import { dayName, slotName } from './engine/heads.ts';
import type { Heads } from './engine/heads.ts';
import { NO_STATE, opennessOf } from './engine/compile.ts';
import type { Compiled } from './engine/compile.ts';
import { whyNot } from './engine/unplaced.ts';
import type { Placement } from './instance.ts';

export type PricedPlace = Placement & {
  /** Points more than where the task stands now (or than leaving it out, when it has no place). */
  difference: number;
  parts: PriceParts;
};

export type Explanation = {
  task: string;
  due: number;
  place: Placement | null;
  /** First and last slot that its window, and what is before and after it, leave open. */
  from: number;
  to: number;
  /** What it waits for, and what waits for it, by id. */
  waitsFor: string[];
  awaitedBy: string[];
  /** Tasks that use the same switching of the main in the same slot. */
  sharesSwitchingWith: string[];
  /** Points of its own place by part; null when it has none. */
  parts: PriceParts | null;
  /** The cheapest other places, cheapest first. */
  others: PricedPlace[];
  /** For a task without a place: why. */
  unplaced: { reason: string; detail: string } | null;
};

const MOST_OTHERS = 3;

/** Constraints a place can break, in the order in which they are asked. */
export type Breach = { constraint: string; detail: string };

/** The first constraints that forbid a task a place, given where everything else stands; empty = it may stand there. */
function breachesAt(plan: Plan, task: number, crewSlot: number): Breach[] {
  const { c } = plan;
  const slot = Math.floor(crewSlot / c.crews);
  const crew = crewSlot % c.crews;
  const one = c.taskList[task];
  const breaches: Breach[] = [];
  const add = (constraint: string, detail: string): void => {
    breaches.push({ constraint, detail });
  };
  if (slot < c.first[task]) add('window', `not before ${dayName(c, one.earliest ?? 0)}`);
  if (slot > c.last[task]) add('window', `not after ${dayName(c, one.latest ?? 0)}`);
  const mask = opennessOf(c, task, slot);
  const isOpen = one.open === undefined || one.open.some(([from, to]) => slot >= from && slot <= to);
  if (!isOpen) add('closed shift', one.closedBy ?? '');
  else if (mask === 0)
    add('switching policy', `${one.main} may not be ${one.state === 'H' ? 'high' : 'low'} then`);
  if (c.capacity[crewSlot] <= 0) add('person absent', `${c.instance.crews[crew].id} does not work then`);
  if (c.able[c.skill[task] * c.crews + crew] === 0) add('skill', one.skill ?? '');
  for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1) {
    const place = plan.place[c.preds[edge]];
    const id = c.taskList[c.preds[edge]].id;
    if (place < 0) add('waits for', `${id}, which has no place`);
    else if (place >= (slot + 1) * c.crews || (place >= slot * c.crews && place !== crewSlot))
      add('waits for', `${id} on ${slotName(c, Math.floor(place / c.crews))}`);
  }
  for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1) {
    const place = plan.place[c.succs[edge]];
    if (place < 0) continue;
    if (place < slot * c.crews || (place < (slot + 1) * c.crews && place !== crewSlot))
      add('awaited by', `${c.taskList[c.succs[edge]].id} on ${slotName(c, Math.floor(place / c.crews))}`);
  }
  if (breaches.length > 0) return breaches;
  const old = plan.place[task];
  const way = plan.portable[task];
  if (old >= 0) plan.remove(task);
  plan.limit(task);
  if (plan.price(task, crewSlot) === IMPOSSIBLE)
    add('capacity', `${plan.load[crewSlot]} of ${c.capacity[crewSlot]} minutes are taken`);
  if (old >= 0) plan.add(task, old, way);
  return breaches;
}

export type PricedMove = {
  breaches: Breach[];
  /** Points more (or fewer) than now; null when it breaks a constraint. */
  difference: number | null;
  before: PriceParts | null;
  after: PriceParts | null;
  portable: boolean;
};

/** What putting a task off, without a place in this plan, would break or cost. */
function pricePutOff(plan: Plan, task: number): PricedMove {
  const { c } = plan;
  const place = plan.place[task];
  const nothing = { breaches: [], difference: null, before: null, after: null, portable: false };
  if (place < 0) return { ...nothing, breaches: [{ constraint: 'has no place', detail: 'it has none now' }] };
  const breaches: Breach[] =
    c.frozen[task] >= 0 ? [{ constraint: 'fixed', detail: 'done, started or pinned' }] : [];
  const waiting = Array.from(c.succs.subarray(c.succStart[task], c.succStart[task + 1]))
    .filter((other) => plan.place[other] >= 0)
    .sort((a, b) => plan.place[a] - plan.place[b] || a - b);
  if (waiting.length > 0) {
    const [first] = waiting;
    const more = waiting.length > 1 ? ` and ${waiting.length - 1} more` : '';
    const on = slotName(c, Math.floor(plan.place[first] / c.crews));
    breaches.push({ constraint: 'awaited by', detail: `${c.taskList[first].id} on ${on}${more}` });
  }
  if (breaches.length > 0) return { ...nothing, breaches };
  const way = plan.portable[task];
  const before = removeWithParts(plan, task);
  plan.add(task, place, way);
  return { ...nothing, difference: c.leaveOut[task] - before.total, before };
}

/** What moving one task to a place, or with -1 to none, would break or cost. The plan stays as it is. */
export function priceMove(plan: Plan, task: number, crewSlot: number): PricedMove {
  if (crewSlot < 0) return pricePutOff(plan, task);
  const { c } = plan;
  const breaches =
    c.frozen[task] >= 0 && c.frozen[task] !== crewSlot
      ? [{ constraint: 'fixed', detail: 'done, started or pinned' }]
      : breachesAt(plan, task, crewSlot);
  const old = plan.place[task];
  const oldWay = plan.portable[task];
  const before = old < 0 ? null : removeWithParts(plan, task);
  let after: PriceParts | null = null;
  let way = 0;
  let difference: number | null = null;
  if (breaches.length === 0) {
    plan.limit(task);
    const price = plan.price(task, crewSlot);
    way = plan.way;
    after = plan.partsOf(task, crewSlot, way);
    difference = price - (before ? before.total : c.leaveOut[task]);
  }
  if (old >= 0) plan.add(task, old, oldWay);
  return { breaches, difference, before, after, portable: way === 1 };
}

function removeWithParts(plan: Plan, task: number): PriceParts {
  const place = plan.place[task];
  const way = plan.portable[task];
  plan.remove(task);
  return plan.partsOf(task, place, way);
}

function sharing(c: Compiled, plan: Plan, task: number): string[] {
  const place = plan.place[task];
  const main = c.main[task];
  if (place < 0 || main < 0 || c.state[task] === NO_STATE || plan.portable[task] === 1) return [];
  const slot = Math.floor(place / c.crews);
  // A held main stays as it was left: whether it was changed for this shift, the state alone does not say.
  if (c.holds[main] === 1 || c.natural[main * c.slots + slot] === c.state[task]) return [];
  const others: string[] = [];
  for (let at = slot * c.crews; at < (slot + 1) * c.crews; at += 1)
    for (let other = plan.head[at]; other >= 0; other = plan.next[other])
      if (
        other !== task &&
        c.main[other] === main &&
        c.state[other] === c.state[task] &&
        plan.portable[other] === 0
      )
        others.push(c.taskList[other].id);
  return others.sort();
}

type Priced = { place: number; way: number; price: number };

/** The cheapest places within the limits set, but one: by price, then by place. Slots that cannot be among them are passed over. */
function cheapestOthers(plan: Plan, task: number, but: number): Priced[] {
  const { c } = plan;
  const best: Priced[] = [];
  let worst = IMPOSSIBLE;
  for (let slot = plan.lowSlot; slot <= plan.highSlot; slot += 1) {
    if (plan.leastInSlot(task, slot) >= worst) continue;
    for (let place = slot * c.crews; place < (slot + 1) * c.crews; place += 1) {
      if (place === but) continue;
      const price = plan.price(task, place);
      if (price >= worst) continue;
      const at = best.findIndex((one) => one.price > price);
      best.splice(at < 0 ? best.length : at, 0, { place, way: plan.way, price });
      if (best.length > MOST_OTHERS) best.pop();
      if (best.length === MOST_OTHERS) worst = best[MOST_OTHERS - 1].price;
    }
  }
  return best;
}

/** Explains one task of a plan. O(places of its window). */
export function explainTask(c: Compiled, heads: Heads, plan: Plan, task: number): Explanation {
  const old = plan.place[task];
  const oldWay = plan.portable[task];
  const shares = sharing(c, plan, task);
  const parts = old < 0 ? null : removeWithParts(plan, task);
  const isReady = plan.limit(task);
  const { lowSlot: from, highSlot: to } = plan;
  const base = parts ? parts.total : c.leaveOut[task];
  const others = (isReady && c.frozen[task] < 0 ? cheapestOthers(plan, task, old) : []).map(
    ({ place, way, price }) => ({
      ...placementOf(c, place, way),
      difference: price - base,
      parts: plan.partsOf(task, place, way),
    }),
  );
  if (old >= 0) plan.add(task, old, oldWay);
  const idsOf = (list: Int32Array, start: number, end: number): string[] =>
    Array.from(list.subarray(start, end), (other) => c.taskList[other].id);
  return {
    task: c.taskList[task].id,
    due: c.due[task],
    place: old < 0 ? null : placementOf(c, old, oldWay),
    from: Math.max(from, heads.earliest[task]),
    to,
    waitsFor: idsOf(c.preds, c.predStart[task], c.predStart[task + 1]),
    awaitedBy: idsOf(c.succs, c.succStart[task], c.succStart[task + 1]),
    sharesSwitchingWith: shares,
    parts,
    others,
    unplaced: old < 0 ? whyNot(c, heads, plan, task) : null,
  };
}
