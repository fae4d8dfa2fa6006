/**
 * Draws a round again after something changed: an absence, a closed room, a device that failed. What was promised
 * keeps its shift where it can and pays for leaving it; what is fixed stays, and so does all that stands before the
 * first slot. Only the shifts from there on are searched, so that few visits move.
 */
import { boundsOf } from './bounds/bounds.ts';
import { priceMove } from './explain.ts';
import { roundOf } from './drawRound.ts';
import { compile } from './engine/compile.ts';
import type { Compiled } from './engine/compile.ts';
import { findHeads, slotName } from './engine/heads.ts';
import type { Heads } from './engine/heads.ts';
import { insertByGroups, placeFrozen } from './engine/build.ts';
import { requireSoundFixes } from './engine/fixed.ts';
import { improve } from './engine/improve.ts';
import { IMPOSSIBLE, Plan } from './engine/plan.ts';
import { cheapestPlace, settle } from './engine/settle.ts';
import { lackingPlaces } from './engine/unplaced.ts';
import { DrawCancelled } from './instance.ts';
import type { DrawHooks, DrawnRound, PlanInstance } from './instance.ts';
import { createRandom } from './random.ts';
import { requireSoundInstance } from './validate.ts';

export type RedrawOptions = {
  seed: number;
  evaluations?: number;
  /** First and last slot whose work may be lifted; absent = all. */
  slots?: [number, number];
};

export type MovedTask = {
  task: string;
  from: number;
  /** Slot it goes to; null = it has no place any more. */
  to: number | null;
  reason: string;
};

export type Redrawn = DrawnRound & { moved: MovedTask[] };

/** Places priced in an interactive re-draw. */
const REDRAW_BUDGET = 3_000_000;
const REDRAW_THRESHOLD = 2;
/** Fewer than for a draw: a re-draw is waited for. */
const BOUND_STEPS = 60;
/** The second look finds places for what the first sent away. */
const MOST_LOOKS = 2;
/** Looks for promises that could be kept after all. */
const MOST_RETURNS = 50;

/** The crew-slot that a task was promised, -1 = none. */
function promiseOf(c: Compiled, task: number): number {
  const { published } = c.taskList[task];
  return published ? published[0] * c.crews + published[1] : -1;
}

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
    const place = promiseOf(c, task);
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
      if (plan.place[task] >= 0 || (promiseOf(c, task) < 0 && !plan.hasPlacedSuccessor(task))) continue;
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
      const promise = promiseOf(c, task);
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

/** Why a task does not stand where it was promised, true of the plan as it is. */
function whyMoved(plan: Plan, task: number, from: number): string {
  const { c } = plan;
  const promise = promiseOf(c, task);
  const { breaches, difference } = priceMove(plan, task, promise);
  const [breach] = breaches;
  if (breach) return breach.detail === '' ? breach.constraint : `${breach.constraint}: ${breach.detail}`;
  if (promise < from * c.crews)
    return 'what it waits for moved, and nothing new goes before the first shift drawn again';
  const slot = Math.floor(plan.place[task] / c.crews);
  return `${difference} points dearer there, as the rest now stands, than on ${slotName(c, slot)}`;
}

/** Draws again from the `published` places of the tasks. Throws as `drawRound` does. */
export function redrawRound(instance: PlanInstance, options: RedrawOptions, hooks: DrawHooks = {}): Redrawn {
  requireSoundInstance(instance);
  const budget = options.evaluations ?? REDRAW_BUDGET;
  const c = compile(instance);
  requireSoundFixes(c);
  const plan = new Plan(c);
  placeFrozen(plan);
  const before = findHeads(c);
  keepPromises(before, plan);
  const first = c.first.slice();
  if (options.slots) closeEarlier(before, plan, options.slots[0]);
  const heads = options.slots ? findHeads(c) : before;
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
  const about = {
    evaluations: plan.evaluations,
    seed: options.seed,
    bounds: boundsOf(c, heads, BOUND_STEPS),
  };
  const round = roundOf(c, heads, plan, about);
  const unplaced = new Map(round.unplaced.map((one) => [one.task, one]));
  c.first.set(first);
  const moved: MovedTask[] = [];
  for (let task = 0; task < c.tasks; task += 1) {
    const promise = promiseOf(c, task);
    const slot = plan.place[task] < 0 ? null : Math.floor(plan.place[task] / c.crews);
    if (promise < 0 || slot === Math.floor(promise / c.crews)) continue;
    const { id } = c.taskList[task];
    const out = unplaced.get(id);
    moved.push({
      task: id,
      from: Math.floor(promise / c.crews),
      to: slot,
      reason: out
        ? `${out.reason}${out.detail === '' ? '' : `: ${out.detail}`}`
        : whyMoved(plan, task, options.slots?.[0] ?? 0),
    });
  }
  return { ...round, moved };
}
