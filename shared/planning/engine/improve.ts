/**
 * Improvement by small steps and by lifting and reinserting what belongs together; what makes the plan dearer is
 * taken only below a threshold that falls to nothing. The budget is counted in places priced, never in time, so
 * that the same seed gives the same plan on every machine.
 */
import type { Random } from '../random.ts';
import type { Heads } from './heads.ts';
import { FEW } from './lifted.ts';
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

/** Of 1,000 steps so many of each kind; the rest move one task. Found by trying on generated years. */
const SHARES = {
  lift: 20,
  room: 20,
  session: 6,
  join: 8,
  gather: 180,
  shifts: 120,
  block: 90,
  exchange: 200,
};
const SHARES_OF_FEW = { ...SHARES, lift: 150, room: 150, gather: 60, shifts: 40 };
type Kind = keyof typeof SHARES | 'move';

/** The kind of step for each of 1,000 throws. */
function kindsBy(shares: Record<keyof typeof SHARES, number>): Kind[] {
  const kinds = (Object.keys(shares) as (keyof typeof SHARES)[]).flatMap((kind) =>
    Array.from({ length: shares[kind] }, (): Kind => kind),
  );
  return [...kinds, ...Array.from({ length: 1_000 - kinds.length }, (): Kind => 'move')];
}

function step(moves: Moves, kind: Kind): void {
  if (kind === 'lift') moves.rebuild();
  else if (kind === 'room' && moves.hasUnplaced) moves.makeRoom();
  else if (kind === 'session') moves.closeSession();
  else if (kind === 'join') moves.joinSessions();
  else if (kind === 'gather') moves.gather();
  else if (kind === 'shifts') moves.exchangeShifts();
  else if (kind === 'block') moves.moveBlock();
  else if (kind === 'exchange') moves.exchange();
  else moves.relocate();
}

/** While the budget left could be passed by one step, only single moves and exchanges are made. */
const LONGEST_STEP = 1_000;
const SHORTEST_STEP = 2;
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
  const kindOf = kindsBy(c.tasks <= FEW ? SHARES_OF_FEW : SHARES);
  for (;;) {
    const left = budget - (plan.evaluations - start);
    if (left < SHORTEST_STEP) break;
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
    moves.setThreshold(Math.floor((options.threshold * left) / budget));
    const dice = random.integer(0, 999);
    const before = plan.evaluations;
    if (left < LONGEST_STEP) step(moves, dice < 500 ? 'exchange' : 'move');
    else step(moves, kindOf[dice]);
    // A step that came to nothing counts too, or the search of a full plan would never end.
    if (plan.evaluations === before) plan.evaluations += 1;
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
