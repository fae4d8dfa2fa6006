/**
 * Switching (B4): tasks of a main whose state is natural in none of their slots need sessions. The minutes that
 * must lie inside a window of slots need at least so many of the longest sessions, the cheapest mix of them;
 * windows that do not overlap add up. Only for mains that go back to their natural state. O(k^2) a main.
 */
import { packingBound } from './packing.ts';
import { leastVisit } from './counted.ts';
import { OPEN } from '../engine/compile.ts';
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';

/** Above so many items in a window they are taken as if they could be cut. */
const MOST_PACKED = 40;

type Item = { from: number; to: number; minutes: number };
type Kinds = { minutes: [number, number]; price: [number, number] };

/** Tasks of a main that only a session can serve. */
function itemsOf(c: Compiled, heads: Heads, counted: Uint8Array): Item[][] {
  const items: Item[][] = Array.from({ length: c.mains }, () => []);
  for (let task = 0; task < c.tasks; task += 1) {
    const main = c.main[task];
    if (main < 0 || counted[task] === 0 || c.holds[main] === 1 || c.portable[task] >= 0) continue;
    const mask = c.mask[task] < 0 ? null : c.masks[c.mask[task]];
    const from = heads.earliest[task];
    let isForced = true;
    for (let slot = from; slot <= c.last[task] && isForced; slot += 1)
      if ((mask === null || mask[slot] === OPEN) && c.natural[main * c.slots + slot] === c.state[task])
        isForced = false;
    if (isForced) items[main].push({ from, to: c.last[task], minutes: c.minutes[task] });
  }
  return items;
}

/** Most minutes that a session of a main can hold, in free and in occupied slots, and its price there. */
function kindsOf(c: Compiled, main: number, visit: number): Kinds {
  const kinds: Kinds = {
    minutes: [0, 0],
    price: [0, 2 * (c.prices.switchover + c.prices.switchoverOccupied)],
  };
  kinds.price[0] = 2 * c.prices.switchover;
  for (let slot = 0; slot < c.slots; slot += 1) {
    let holds = 0;
    for (let crew = 0; crew < c.crews; crew += 1)
      holds += Math.max(0, c.capacity[slot * c.crews + crew] - visit - 2 * c.switchMinutes[main]);
    const kind = c.instance.slots[slot].occupied ? 1 : 0;
    kinds.minutes[kind] = Math.max(kinds.minutes[kind], holds);
  }
  return kinds;
}

/** Cheapest mix of sessions for some minutes; `has` says which kinds of slot the window has. */
function mixCost(
  { minutes: holds, price }: Kinds,
  minutes: number,
  has: readonly [boolean, boolean],
): number {
  const most = has[0] && holds[0] > 0 ? Math.ceil(minutes / holds[0]) : 0;
  let best = Infinity;
  for (let free = 0; free <= most; free += 1) {
    const rest = minutes - free * holds[0];
    if (rest > 0 && !(has[1] && holds[1] > 0)) continue;
    best = Math.min(best, free * price[0] + (rest > 0 ? Math.ceil(rest / holds[1]) * price[1] : 0));
  }
  return best === Infinity ? 0 : best;
}

function sumOf(minutes: readonly number[]): number {
  return minutes.reduce((sum, one) => sum + one, 0);
}

/** Chains windows of one main: the most that disjoint ones add up to. */
function chain(
  items: Item[],
  slots: number,
  cost: (from: number, to: number, minutes: readonly number[]) => number,
): number {
  const ends = new Map<number, [number, number][]>();
  const starts = [...new Set(items.map((item) => item.from))].sort((a, b) => a - b);
  const byEnd = [...items].sort((a, b) => a.to - b.to);
  for (const start of starts) {
    const minutes: number[] = [];
    for (const [index, item] of byEnd.entries()) {
      if (item.from < start) continue;
      minutes.push(item.minutes);
      if (byEnd[index + 1]?.to === item.to && byEnd[index + 1].from >= start) continue;
      const list = ends.get(item.to) ?? [];
      list.push([start, cost(start, item.to, minutes)]);
      ends.set(item.to, list);
    }
  }
  const best = new Float64Array(slots + 1);
  for (let slot = 0; slot < slots; slot += 1) {
    best[slot + 1] = best[slot];
    for (const [start, value] of ends.get(slot) ?? [])
      best[slot + 1] = Math.max(best[slot + 1], best[start] + value);
  }
  return best[slots];
}

/** Points that switching costs at least, and the least number of sessions. */
export function sessionBound(
  c: Compiled,
  heads: Heads,
  counted: Uint8Array,
): { cost: number; sessions: number } {
  const occupiedBefore = new Int32Array(c.slots + 1);
  for (let slot = 0; slot < c.slots; slot += 1)
    occupiedBefore[slot + 1] = occupiedBefore[slot] + (c.instance.slots[slot].occupied ? 1 : 0);
  const visit = leastVisit(c, counted);
  let cost = 0;
  let sessions = 0;
  for (const [main, items] of itemsOf(c, heads, counted).entries()) {
    if (items.length === 0) continue;
    const kinds = kindsOf(c, main, visit);
    const longest = Math.max(1, ...kinds.minutes);
    cost += chain(items, c.slots, (from, to, minutes) => {
      const occupied = occupiedBefore[to + 1] - occupiedBefore[from];
      return mixCost(kinds, sumOf(minutes), [occupied < to - from + 1, occupied > 0]);
    });
    sessions += chain(items, c.slots, (_from, _to, minutes) =>
      minutes.length <= MOST_PACKED ? packingBound(minutes, longest) : Math.ceil(sumOf(minutes) / longest),
    );
  }
  return { cost, sessions };
}
