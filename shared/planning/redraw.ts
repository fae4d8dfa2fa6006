/**
 * Draws a round again after something changed: an absence, a closed room, a device that failed. What was promised
 * keeps its shift where it can and pays for leaving it; what is fixed stays, and so does all that stands before the
 * first slot. Only the shifts from there on are searched, so that few visits move.
 */
import { boundsOf, normalSteps } from './bounds/bounds.ts';
import { priceMove } from './explain.ts';
import { roundOf } from './drawRound.ts';
import { placementOf } from './engine/assignment.ts';
import { compile } from './engine/compile.ts';
import { findHeads, slotName } from './engine/heads.ts';
import type { Heads } from './engine/heads.ts';
import { handBack } from './engine/handBack.ts';
import { insertByGroups } from './engine/build.ts';
import { planOfFixed, requireSoundFixes } from './engine/fixed.ts';
import { improve } from './engine/improve.ts';
import { IMPOSSIBLE } from './engine/plan.ts';
import type { Plan } from './engine/plan.ts';
import { cheapestPlace, lackingPlaces } from './engine/places.ts';
import { settle } from './engine/settle.ts';
import { whyUnplaced } from './engine/unplaced.ts';
import { DrawCancelled } from './instance.ts';
import type { DrawHooks, DrawnRound, Placement, PlanInstance, Unplaced } from './instance.ts';
import { reasonText } from './priceText.ts';
import { createRandom } from './random.ts';
import { requireSoundInstance } from './validate.ts';

export type RedrawOptions = {
  seed: number;
  evaluations?: number;
  /** First and last slot whose work may be lifted; absent = all. */
  slots?: [number, number];
};

/** A task that leaves its promised shift, or keeps it and gets another person. */
export type MovedTask = {
  task: string;
  from: Placement;
  /** null = it has no place any more. */
  to: Placement | null;
  reason: string;
};

export type Redrawn = DrawnRound & { moved: MovedTask[] };

/** Places priced in an interactive re-draw. */
const REDRAW_BUDGET = 2_000_000;
const REDRAW_THRESHOLD = 2;
/** The second look finds places for what the first sent away. */
const MOST_LOOKS = 2;
/** Looks for promises that could be kept after all. */
const MOST_RETURNS = 50;

/** Whether everything that a task waits for, and that has a place, stands before a place. */
function followsAll(plan: Plan, task: number, place: number): boolean {
  const { c } = plan;
  const slot = Math.floor(place / c.crews);
  for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1) {
    const other = plan.place[c.preds[edge]];
    if (other >= 0 && other !== place && Math.floor(other / c.crews) >= slot) return false;
  }
  return true;
}

/** Puts back what can stand where it was promised, whether or not what it waits for could: that is found a place next. */
function keepPromises(heads: Heads, plan: Plan): void {
  const { c } = plan;
  for (const task of heads.order) {
    const place = c.published[task];
    if (plan.place[task] >= 0 || place < 0 || heads.forcedOut[task]) continue;
    plan.limitToWindow(task);
    if (!followsAll(plan, task, place)) continue;
    const price = plan.price(task, place);
    if (price !== IMPOSSIBLE) plan.addPriced(task, place, plan.way, price);
  }
}

/** Takes away a task and all that waits for it. */
function removeWithSuccessors(plan: Plan, task: number): void {
  const { c } = plan;
  if (plan.place[task] < 0 || c.frozen[task] >= 0) return;
  plan.remove(task);
  for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
    removeWithSuccessors(plan, c.succs[edge]);
}

/** Sends away what can most easily go elsewhere, from the first place where that gives a task room; false = nowhere. */
function makeRoom(heads: Heads, plan: Plan, task: number, latest: number): boolean {
  const { c } = plan;
  if (!plan.limit(task)) return false;
  plan.highSlot = Math.min(plan.highSlot, latest);
  for (const { place } of lackingPlaces(plan, task)) {
    const slot = Math.floor(place / c.crews);
    const others: number[] = [];
    for (let other = plan.head[place]; other >= 0; other = plan.next[other])
      if (c.frozen[other] < 0 && heads.latest[other] > slot && c.succStart[other] === c.succStart[other + 1])
        others.push(other);
    others.sort((a, b) => heads.latest[b] - heads.latest[a] || a - b);
    const sent: { task: number; way: number }[] = [];
    for (const other of others) {
      sent.push({ task: other, way: plan.portable[other] });
      plan.remove(other);
      const price = plan.price(task, place);
      if (price === IMPOSSIBLE) continue;
      plan.addPriced(task, place, plan.way, price);
      return true;
    }
    for (const other of sent.toReversed()) plan.add(other.task, place, other.way);
  }
  return false;
}

/** By task without a place: the last slot that leaves in place what has kept its own and waits for it, however indirectly. */
function latestBeforeKept(heads: Heads, plan: Plan): Int32Array {
  const { c } = plan;
  const latest = heads.latest.slice();
  for (const task of heads.order.toReversed())
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1) {
      const next = c.succs[edge];
      const slot = plan.place[next] >= 0 ? Math.floor(plan.place[next] / c.crews) : latest[next];
      if (!heads.forcedOut[next]) latest[task] = Math.min(latest[task], slot);
    }
  return latest;
}

/**
 * Finds a place for what lost its own, before what waits for it where that can be: only where it cannot does that
 * lose its place too. Leaves a plan that may stand.
 */
function mendOrder(heads: Heads, plan: Plan): void {
  const { c } = plan;
  const tryAll = (task: number, latest: number): boolean => {
    if (heads.forcedOut[task] || !plan.limit(task)) return false;
    plan.highSlot = Math.min(plan.highSlot, latest);
    const [price, place, way] = cheapestPlace(plan, task);
    if (place < 0 || price >= heads.worth[task]) return false;
    plan.addPriced(task, place, way, price);
    return true;
  };
  for (let look = 0; look < MOST_LOOKS; look += 1) {
    const latest = latestBeforeKept(heads, plan);
    for (const task of heads.order) {
      if (plan.place[task] >= 0 || (c.published[task] < 0 && !plan.hasPlacedSuccessor(task))) continue;
      if (tryAll(task, latest[task])) continue;
      if (look === 0 && !heads.forcedOut[task] && makeRoom(heads, plan, task, latest[task])) continue;
      for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
        removeWithSuccessors(plan, c.succs[edge]);
      // Rather where every one of those still has a shift to go to.
      if (!tryAll(task, heads.latest[task])) tryAll(task, c.slots);
    }
  }
  // Whatever still waits for something without a place has none either.
  for (const task of heads.order)
    if (plan.place[task] >= 0 && c.frozen[task] < 0 && !plan.limit(task)) plan.remove(task);
}

/** What stands before the first slot stays, unless it waits for something that does not; nothing else goes there. */
function closeEarlier(heads: Heads, plan: Plan, from: number): void {
  const { c } = plan;
  for (const task of heads.order) {
    if (c.frozen[task] >= 0) continue;
    const place = plan.place[task];
    const isEarlier = place >= 0 && place < from * c.crews;
    if (isEarlier && plan.limit(task)) c.frozen[task] = place;
    else {
      if (isEarlier) plan.remove(task);
      c.first[task] = Math.max(c.first[task], from);
    }
  }
}

/** Goes back to a promise wherever that makes the plan no dearer. */
function returnToPromises(plan: Plan): void {
  const { c } = plan;
  for (let look = 0, returned = 1; look < MOST_RETURNS && returned > 0; look += 1) {
    returned = 0;
    for (let task = 0; task < c.tasks; task += 1) {
      const promise = c.published[task];
      const place = plan.place[task];
      if (promise < 0 || place < 0 || place === promise || c.frozen[task] >= 0 || !plan.limit(task)) continue;
      const way = plan.portable[task];
      const saved = plan.remove(task);
      const price = plan.price(task, promise);
      if (price === IMPOSSIBLE || price > saved) plan.addPriced(task, place, way, saved);
      else {
        plan.addPriced(task, promise, plan.way, price);
        returned += 1;
      }
    }
  }
}

/** Whether everything at a place was promised there. */
function isAsPromised(plan: Plan, place: number): boolean {
  for (let task = plan.head[place]; task >= 0; task = plan.next[task])
    if (plan.c.published[task] !== place) return false;
  return true;
}

/** Why a task does not stand where it was promised, true of the plan as it is. */
function whyMoved(plan: Plan, task: number, from: number): string {
  const { c } = plan;
  const promise = c.published[task];
  const { breaches, difference } = priceMove(plan, task, promise);
  const [breach] = breaches;
  if (breach) return reasonText({ reason: breach.constraint, detail: breach.detail });
  if (promise < from * c.crews)
    return 'what it waits for moved, and nothing new goes before the first shift drawn again';
  if ((difference ?? 0) <= 0)
    return 'its shift would run over: those who share a main in it wait for each other';
  const slot = Math.floor(plan.place[task] / c.crews);
  const { id } = c.instance.crews[plan.place[task] % c.crews];
  return `${difference} points dearer there, as the rest now stands, than on ${slotName(c, slot)} with ${id}`;
}

/** Why tasks have no place: where it is only that nothing goes before the first shift drawn again, that is the reason. */
function whyUnplacedFrom(plan: Plan, heads: Heads, free: Heads, from: number): Unplaced[] {
  const { c } = plan;
  const start = `nothing new goes before ${slotName(c, from)}`;
  return whyUnplaced(c, heads, plan).map((one): Unplaced => {
    const task = c.indexOf.get(one.task) as number;
    const isShutOut = !free.forcedOut[task] && free.earliest[task] < from;
    if (!isShutOut || one.reason === 'waits for an unplaced task') return one;
    if (!heads.forcedOut[task]) return { ...one, detail: `${one.detail}; ${start}` };
    const last = c.last[task] < from ? `its last is ${slotName(c, c.last[task])}` : 'none after it takes it';
    return { ...one, reason: 'nothing goes before the re-draw', detail: `${start}; ${last}` };
  });
}

/** Every task that does not stand where, or with whom, it was promised. */
function movedTasks(plan: Plan, unplaced: readonly Unplaced[], from: number): MovedTask[] {
  const { c } = plan;
  const reasons = new Map(unplaced.map((one) => [one.task, one]));
  const moved: MovedTask[] = [];
  for (const [task, { id }] of c.taskList.entries()) {
    const promise = c.published[task];
    const place = plan.place[task];
    if (promise < 0 || place === promise) continue;
    const out = reasons.get(id);
    moved.push({
      task: id,
      from: placementOf(c, promise, 0),
      to: place < 0 ? null : placementOf(c, place, 0),
      reason: out ? reasonText(out) : whyMoved(plan, task, from),
    });
  }
  return moved;
}

/** Draws again from the `published` places of the tasks. Throws as `drawRound` does. */
export function redrawRound(instance: PlanInstance, options: RedrawOptions, hooks: DrawHooks = {}): Redrawn {
  requireSoundInstance(instance);
  const budget = options.evaluations ?? REDRAW_BUDGET;
  const c = compile(instance);
  requireSoundFixes(c);
  const plan = planOfFixed(c);
  const before = findHeads(c);
  keepPromises(before, plan);
  const asked = { first: c.first.slice(), frozen: c.frozen.slice() };
  const from = options.slots?.[0] ?? 0;
  closeEarlier(before, plan, from);
  const heads = from > 0 ? findHeads(c) : before;
  mendOrder(heads, plan);
  insertByGroups(plan, heads, 200);
  const isStopped = improve(plan, heads, {
    budget,
    random: createRandom(options.seed),
    threshold: REDRAW_THRESHOLD,
    seedSlots: options.slots,
    onTick: (spent) => {
      hooks.progress?.(spent, budget);
      return hooks.cancelled?.() === true;
    },
  });
  if (isStopped) throw new DrawCancelled();
  for (let look = 0; look < MOST_RETURNS; look += 1) {
    returnToPromises(plan);
    if (!settle(plan, heads)) break;
  }
  // What is as it was promised runs over no more than it did.
  handBack(plan, heads, (place) => !isAsPromised(plan, place));
  const unplaced = whyUnplacedFrom(plan, heads, before, from);
  // What stands before the first slot stays for this re-draw only: the bound, and the moves, are those of the instance.
  c.first.set(asked.first);
  c.frozen.set(asked.frozen);
  // Fewer steps than for a draw: a re-draw is waited for.
  const bounds = boundsOf(c, before, normalSteps(c) >> 1);
  const round = roundOf(c, plan, { evaluations: plan.evaluations, seed: options.seed, bounds, unplaced });
  return { ...round, moved: movedTasks(plan, unplaced, from) };
}
