/**
 * Work and what waits for it, taken together: sets of tasks A and B where every task of B waits for every task of
 * A. Whatever a plan does, there is a last slot T of A, all of A stands in T or before, and all of B in T or after;
 * so, at any prices, the set costs at least the least over T of (each of A at its cheapest up to T) + (each of B
 * at its cheapest from T on, or left out), or what leaving out all of B costs when some of A is left out. The sets
 * have no task in common, and what is in none is taken alone: the sum stays a bound.
 */
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';

export type Chain = { before: number[]; after: number[] };

/** What more than so many wait for ties no set together. */
const MOST_WAITING = 8;

/** Disjoint sets by what their tasks wait for, in the order of ids. */
export function chainsOf(c: Compiled, heads: Heads): { chains: Chain[]; isChained: Uint8Array } {
  const isFree = (task: number): boolean => !heads.forcedOut[task] && c.frozen[task] < 0;
  const byKey = new Map<string, Chain>();
  for (let task = 0; task < c.tasks; task += 1) {
    if (!isFree(task)) continue;
    const before: number[] = [];
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1) {
      const pred = c.preds[edge];
      if (isFree(pred) && c.succStart[pred + 1] - c.succStart[pred] <= MOST_WAITING) before.push(pred);
    }
    if (before.length === 0) continue;
    const key = before.join(' ');
    const chain = byKey.get(key) ?? { before, after: [] };
    chain.after.push(task);
    byKey.set(key, chain);
  }
  const isChained = new Uint8Array(c.tasks);
  const chains: Chain[] = [];
  for (const all of byKey.values()) {
    const before = all.before.filter((task) => isChained[task] === 0);
    const after = all.after.filter((task) => isChained[task] === 0);
    if (before.length === 0 || after.length === 0) continue;
    for (const task of [...before, ...after]) isChained[task] = 1;
    chains.push({ before, after });
  }
  return { chains, isChained };
}

/** What the tasks of a chain cost alone, and where; the prices are those that `priceChain` is asked at. */
export type Alone = {
  /** By task: least price, and the slot of it, -1 = left out. */
  price: Float64Array;
  slot: Int32Array;
  /** Price of a task in a slot. */
  at: (task: number, slot: number) => number;
  leftOut: (task: number) => number;
  /** Room for one number a slot. */
  sums: Float64Array;
};

/**
 * The least price of a chain, its tasks' slots into `alone.slot`. Where the cheapest slots of its tasks are in
 * order already, the sum of their prices. O(slots x tasks of the chain).
 */
export function priceChain(c: Compiled, heads: Heads, { before, after }: Chain, alone: Alone): number {
  const { slot, sums } = alone;
  let sum = 0;
  let last = -1;
  let first = c.slots;
  for (const task of before) {
    sum += alone.price[task];
    last = Math.max(last, slot[task] < 0 ? c.slots : slot[task]);
  }
  let out = sum;
  for (const task of after) {
    sum += alone.price[task];
    out += alone.leftOut(task);
    first = Math.min(first, slot[task] < 0 ? c.slots : slot[task]);
  }
  if (last <= first) return sum;
  let from = c.slots;
  let to = -1;
  for (const task of before) {
    from = Math.min(from, heads.earliest[task]);
    to = Math.max(to, c.last[task]);
  }
  sums.fill(0, from, to + 1);
  for (const task of before) {
    let least = Infinity;
    for (let at = from; at <= to; at += 1) {
      if (at >= heads.earliest[task] && at <= c.last[task]) least = Math.min(least, alone.at(task, at));
      sums[at] += least;
    }
  }
  for (const task of after) {
    let least = alone.leftOut(task);
    for (let at = to; at > c.last[task]; at -= 1) sums[at] += least;
    for (let at = c.last[task]; at >= from; at -= 1) {
      if (at >= heads.earliest[task]) least = Math.min(least, alone.at(task, at));
      if (at <= to) sums[at] += least;
    }
  }
  let best = out;
  let turn = -1;
  for (let at = from; at <= to; at += 1)
    if (sums[at] < best) {
      best = sums[at];
      turn = at;
    }
  if (turn < 0) {
    for (const task of after) slot[task] = -1;
    return out;
  }
  for (const task of before) slot[task] = cheapestIn(alone, task, [heads.earliest[task], turn], Infinity);
  for (const task of after) {
    const range: [number, number] = [Math.max(turn, heads.earliest[task]), c.last[task]];
    slot[task] = cheapestIn(alone, task, range, alone.leftOut(task));
  }
  return best;
}

/** The cheapest slot of a range for a task; -1 = none is below a price. */
function cheapestIn(alone: Alone, task: number, [from, to]: [number, number], below: number): number {
  let least = below;
  let slot = -1;
  for (let at = from; at <= to; at += 1) {
    const price = alone.at(task, at);
    if (price < least) {
      least = price;
      slot = at;
    }
  }
  return slot;
}
