/**
 * The cheapest slot of every task at prices per minute and slot. Slots that are not late are asked for by range:
 * the least price of any range of slots comes from a table over ranges of doubling length, one for each set of
 * slots that many tasks may use without switching. Only late slots, slots that need switching and slots by
 * portable supply are looked at one by one, and those only while they can still be cheaper.
 */
import { CLOSED, NO_STATE, OPEN, PORTABLE_ONLY, firstSlotFrom, opennessOf } from '../engine/compile.ts';
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';

/** Points are counted in parts of this size. */
export const UNIT = 4096;

/** A table pays for so many tasks. */
const FEWEST_OF_TABLE = 12;

/** Ranges of slots that are asked for: none before `from`, none after `to`, none longer than `longest`. */
type Asked = { from: number; to: number; longest: number };

/** Least prices over ranges of slots of one set: by length 2^k, the slot with the least price from each one on, -1 = none. */
class RangeTable {
  private readonly from: number;
  private readonly levels: Int32Array[];
  private price: Float64Array = new Float64Array();

  constructor(isIn: Uint8Array, { from, to, longest }: Asked) {
    this.from = from;
    const count = to - from + 1;
    this.levels = [Int32Array.from({ length: count }, (_, at) => (isIn[from + at] === 1 ? from + at : -1))];
    for (let length = 2; length <= Math.min(longest, count); length *= 2)
      this.levels.push(new Int32Array(count - length + 1));
  }

  /** Takes up new prices. O(slots log slots). */
  fill(price: Float64Array): void {
    const { levels } = this;
    this.price = price;
    for (let level = 1; level < levels.length; level += 1) {
      const half = 1 << (level - 1);
      const here = levels[level];
      const below = levels[level - 1];
      for (let at = 0; at < here.length; at += 1) {
        const one = below[at];
        const other = below[at + half];
        here[at] = other < 0 || (one >= 0 && price[one] <= price[other]) ? one : other;
      }
    }
  }

  /** The slot with the least price from `first` to `last`, both counted in; -1 = none of the set. */
  cheapest(first: number, last: number): number {
    const length = last - first + 1;
    if (length <= 0) return -1;
    const level = 31 - Math.clz32(length);
    const one = this.levels[level][first - this.from];
    const other = this.levels[level][last - this.from - (1 << level) + 1];
    return other < 0 || (one >= 0 && this.price[one] <= this.price[other]) ? one : other;
  }
}

export class CheapestSlots {
  /** Slot of the task asked for last, -1 = left out. */
  slot = -1;
  private readonly c: Compiled;
  private readonly heads: Heads;
  private readonly session: Int32Array;
  private readonly all: RangeTable;
  /** By task: table of the slots it may use without switching, or -1. */
  private readonly table: Int32Array;
  private readonly tables: RangeTable[] = [];
  /** By task: the first slot in which it costs something to be late. */
  private readonly lateFrom: Int32Array;
  private readonly leastSession: Float64Array;
  private price: Float64Array;
  private leastPrice = 0;

  /** `tasks`: those that are asked for again and again. */
  constructor(c: Compiled, heads: Heads, session: Int32Array, tasks: Int32Array) {
    this.c = c;
    this.heads = heads;
    this.session = session;
    this.price = new Float64Array(c.slots);
    this.all = new RangeTable(new Uint8Array(c.slots).fill(1), {
      from: 0,
      to: c.slots - 1,
      longest: c.slots,
    });
    this.lateFrom = Int32Array.from(c.due, (due, task) =>
      c.weight[task] === 0 ? c.slots : firstSlotFrom(c.day, due + 1),
    );
    this.leastSession = Float64Array.from({ length: c.mains }, (_, main) =>
      session
        .subarray(main * c.slots, (main + 1) * c.slots)
        .reduce((least, one) => Math.min(least, one), Infinity),
    );
    this.table = new Int32Array(c.tasks).fill(-1);
    this.makeTables(tasks);
  }

  private needsState(task: number): boolean {
    const { c } = this;
    return c.main[task] >= 0 && c.state[task] !== NO_STATE && c.holds[c.main[task]] === 0;
  }

  /** Groups tasks by the slots that they may use without switching. */
  private makeTables(tasks: Int32Array): void {
    const { c, heads } = this;
    const rows = new Map<string, number>();
    const rowOf = Int32Array.from({ length: c.mains }, (_, main) => {
      const key = c.natural.subarray(main * c.slots, (main + 1) * c.slots).join('');
      const known = rows.get(key) ?? main;
      rows.set(key, known);
      return known;
    });
    const groups = new Map<string, number[]>();
    for (const task of tasks) {
      if (heads.forcedOut[task] || c.frozen[task] >= 0) continue;
      const state = this.needsState(task) ? `${rowOf[c.main[task]]}/${c.state[task]}` : '';
      const key = `${c.mask[task]} ${state}`;
      const group = groups.get(key);
      if (group) group.push(task);
      else groups.set(key, [task]);
    }
    for (const group of groups.values()) {
      if (group.length < FEWEST_OF_TABLE) continue;
      const [first] = group;
      const isIn = new Uint8Array(c.slots);
      for (let slot = 0; slot < c.slots; slot += 1) isIn[slot] = this.isFree(first, slot) ? 1 : 0;
      const asked: Asked = { from: c.slots, to: -1, longest: 0 };
      for (const task of group) {
        this.table[task] = this.tables.length;
        const from = heads.earliest[task];
        const to = this.lastEarly(task);
        asked.from = Math.min(asked.from, from);
        asked.to = Math.max(asked.to, to);
        asked.longest = Math.max(asked.longest, to - from + 1);
      }
      this.tables.push(new RangeTable(isIn, asked));
    }
  }

  /** The last slot of a task's window in which it is not late. */
  private lastEarly(task: number): number {
    return Math.min(this.c.last[task], this.lateFrom[task] - 1);
  }

  private isSession(task: number, slot: number): boolean {
    const { c } = this;
    return this.needsState(task) && c.natural[c.main[task] * c.slots + slot] !== c.state[task];
  }

  private isFree(task: number, slot: number): boolean {
    return opennessOf(this.c, task, slot) === OPEN && !this.isSession(task, slot);
  }

  /** Takes up new prices per minute, in UNITs. */
  fill(price: Float64Array): void {
    this.price = price;
    this.leastPrice = price.reduce((least, one) => Math.min(least, one), Infinity);
    this.all.fill(price);
    for (const table of this.tables) table.fill(price);
  }

  /** Price of a task in a slot, in UNITs, whichever way is cheaper; Infinity where it may not stand. */
  priceIn(task: number, slot: number, open = opennessOf(this.c, task, slot)): number {
    const { c, price, session } = this;
    if (open === CLOSED) return Infinity;
    const late = Math.max(0, c.day[slot] - c.due[task]) * c.weight[task] * UNIT;
    const byPortable = c.portable[task] >= 0 ? late + c.portable[task] * price[slot] : Infinity;
    if (open === PORTABLE_ONLY) return byPortable;
    const added = this.isSession(task, slot) ? session[c.main[task] * c.slots + slot] : 0;
    return Math.min(byPortable, late + c.minutes[task] * (price[slot] + added));
  }

  /** Least price of a task, in UNITs, left out or in a slot, which is then in `slot`. */
  of(task: number): number {
    const { c, heads, lateFrom } = this;
    const leaveOut = c.leaveOut[task] * UNIT;
    this.slot = -1;
    if (heads.forcedOut[task]) return leaveOut;
    if (c.frozen[task] >= 0) {
      // A fixed task pays what its slot costs, closed or not, whatever leaving it out would.
      this.slot = Math.floor(c.frozen[task] / c.crews);
      return this.priceIn(task, this.slot, OPEN);
    }
    const from = heads.earliest[task];
    const to = c.last[task];
    const early = this.lastEarly(task);
    const best =
      this.table[task] < 0
        ? this.scan(task, from, early, leaveOut)
        : this.byRange(task, from, early, leaveOut);
    return this.scan(task, Math.max(from, lateFrom[task]), to, best);
  }

  /** Slots that are not late, by table. */
  private byRange(task: number, from: number, to: number, least: number): number {
    if (to < from) return least;
    const { c, price } = this;
    const minutes = c.minutes[task];
    let best = least;
    const at = this.tables[this.table[task]].cheapest(from, to);
    if (at >= 0 && minutes * price[at] < best) {
      best = minutes * price[at];
      this.slot = at;
    }
    const lowest = price[this.all.cheapest(from, to)];
    const bySession = this.needsState(task) ? minutes * (lowest + this.leastSession[c.main[task]]) : Infinity;
    const byPortable = c.portable[task] >= 0 ? c.portable[task] * lowest : Infinity;
    return Math.min(bySession, byPortable) < best ? this.scan(task, from, to, best) : best;
  }

  /** Slots one by one, as long as one can be cheaper than the best so far. */
  private scan(task: number, from: number, to: number, least: number): number {
    const { c, session, price } = this;
    const minutes = c.minutes[task];
    const portable = c.portable[task];
    const fewest = portable >= 0 ? Math.min(minutes, portable) : minutes;
    const hasState = this.needsState(task);
    const base = c.main[task] * c.slots;
    const state = c.state[task];
    const mask = c.mask[task] < 0 ? null : c.masks[c.mask[task]];
    const weight = c.weight[task] * UNIT;
    const due = c.due[task];
    let best = least;
    for (let slot = from; slot <= to; slot += 1) {
      const days = c.day[slot] - due;
      const late = days > 0 ? days * weight : 0;
      if (late + fewest * this.leastPrice >= best) break;
      const open = mask === null ? OPEN : mask[slot];
      if (open === CLOSED) continue;
      let cost = portable >= 0 ? late + portable * price[slot] : Infinity;
      if (open === OPEN) {
        const added = hasState && c.natural[base + slot] !== state ? session[base + slot] : 0;
        cost = Math.min(cost, late + minutes * (price[slot] + added));
      }
      if (cost >= best) continue;
      best = cost;
      this.slot = slot;
    }
    return best;
  }
}
