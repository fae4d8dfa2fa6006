/**
 * Improvement by single moves, moves of a whole stop, and lifting and reinserting what belongs together; what
 * makes the plan dearer is taken only below a threshold that falls to nothing. The budget is counted in places
 * priced, never in time, so that the same seed gives the same plan on every machine.
 */
import type { Random } from '../random.ts';
import type { Heads } from './heads.ts';
import { Moves } from './moves.ts';
import type { Plan } from './plan.ts';

export type ImproveOptions = {
  /** Places that may be priced. */
  budget: number;
  random: Random;
  /** Most points that a step may make the plan dearer at the start. */
  threshold: number;
  /** Slots whose tasks may be moved; absent = all. */
  seedSlots?: [number, number];
  /** Called now and then with the budget spent; true stops the search. */
  onTick?: (spent: number) => boolean;
};

/** Of 1,000 steps: so many lift and reinsert, close a session, move a block, exchange two; the rest move one task. */
const LIFT_SHARE = 20;
/** Where there are few tasks, lifting takes hold of nearly all of them at once. */
const FEW = 30;
const LIFT_SHARE_OF_FEW = 150;
const ROOM_SHARE_OF_FEW = 150;
const SESSION_SHARE = 6;
const ROOM_SHARE = 20;
const BLOCK_SHARE = 90;
const EXCHANGE_SHARE = 450;
/** No step begins that could price more places than the budget has left. */
const LONGEST_STEP = 1_000;
const TICK = 4_096;
const TURN = 4_096;

/** Improves a plan within a budget and leaves the best one found in it. True when it was stopped from outside. */
export function improve(plan: Plan, heads: Heads, options: ImproveOptions): boolean {
  const { c } = plan;
  const { budget, random } = options;
  const moves = new Moves(plan, heads, random, options.seedSlots ?? [0, c.slots - 1]);
  if (!moves.canMove) return false;
  const start = plan.evaluations;
  let best = { total: plan.total, place: plan.place.slice(), portable: plan.portable.slice() };
  let nextTick = start;
  let nextTurn = start;
  let isStopped = false;
  const lifts = c.tasks <= FEW ? LIFT_SHARE_OF_FEW : LIFT_SHARE;
  const rooms = c.tasks <= FEW ? ROOM_SHARE_OF_FEW : ROOM_SHARE;
  while (plan.evaluations - start + LONGEST_STEP <= budget) {
    if (plan.evaluations >= nextTick) {
      nextTick = plan.evaluations + TICK;
      if (plan.total < best.total)
        best = { total: plan.total, place: plan.place.slice(), portable: plan.portable.slice() };
      isStopped = options.onTick?.(plan.evaluations - start) === true;
      if (isStopped) break;
    }
    if (plan.evaluations >= nextTurn) {
      nextTurn = plan.evaluations + TURN;
      moves.turn();
    }
    const left = budget - (plan.evaluations - start);
    moves.setThreshold(Math.floor((options.threshold * left) / budget));
    const dice = random.integer(0, 999);
    if (dice < lifts) moves.rebuild();
    else if (dice < lifts + SESSION_SHARE) moves.closeSession();
    else if (dice > 999 - rooms && moves.hasUnplaced) moves.makeRoom();
    else if (dice < lifts + SESSION_SHARE + BLOCK_SHARE) moves.moveBlock();
    else if (dice < lifts + SESSION_SHARE + BLOCK_SHARE + EXCHANGE_SHARE) moves.exchange();
    else moves.relocate();
  }
  if (best.total < plan.total) restore(plan, best.place, best.portable);
  return isStopped;
}

/** Makes a plan stand as it was noted. */
export function restore(plan: Plan, place: Int32Array, portable: Uint8Array): void {
  for (let task = 0; task < plan.c.tasks; task += 1)
    if (plan.place[task] >= 0 && (plan.place[task] !== place[task] || plan.portable[task] !== portable[task]))
      plan.remove(task);
  for (let task = 0; task < plan.c.tasks; task += 1)
    if (plan.place[task] < 0 && place[task] >= 0) plan.add(task, place[task], portable[task]);
}
