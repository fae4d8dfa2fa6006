/**
 * A plan under change: counters on typed arrays, so that putting a task somewhere and taking it away are priced
 * in a handful of operations. Level 1 only: windows, skills, air state, precedence, minutes.
 */
import { heldChanges, NEEDS_HIGH, NEEDS_LOW } from '../hold.ts';
import type { HeldChanges } from '../hold.ts';
import { CLOSED, NO_STATE, PORTABLE_ONLY, opennessOf } from './compile.ts';
import type { Compiled } from './compile.ts';

export const IMPOSSIBLE = 0x3fffffff;

/** What a place costs by part, in points. */
export type PriceParts = {
  lateness: number;
  switching: number;
  overtime: number;
  walking: number;
  unevenness: number;
  move: number;
  total: number;
};

export class Plan {
  readonly c: Compiled;
  /** Crew-slot of every task, -1 = left out. */
  readonly place: Int32Array;
  /** 1 = by portable supply. */
  readonly portable: Uint8Array;
  readonly load: Int32Array;
  /** Tasks that need the other state than the natural one, by main * slots + slot. */
  readonly forced: Int32Array;
  /** Tasks of a held main that need low and high, by main * slots + slot. */
  private readonly needs: [Int32Array, Int32Array];
  private readonly waits: Uint16Array;
  /** Tasks by building (or floor) * crew-slots + crew-slot. */
  readonly inBuilding: Uint16Array;
  readonly onFloor: Uint16Array;
  readonly periodMinutes: Int32Array;
  /** Tasks of a crew-slot as linked lists: the first, and the neighbours of each. */
  readonly head: Int32Array;
  readonly next: Int32Array;
  private readonly previous: Int32Array;
  /** Total of the plan in points. */
  total = 0;
  /** Places priced so far. */
  evaluations = 0;
  /** Bounds of a task's place by what it waits for and what waits for it; set by `limit`. */
  lowSlot = 0;
  lowCrew = -1;
  highSlot = 0;
  highCrew = -1;
  /** The way that the last price took: 1 = portable supply. */
  way = 0;

  constructor(compiled: Compiled) {
    const { tasks, crewSlots, mains, slots, buildings, floors, target } = compiled;
    this.c = compiled;
    this.place = new Int32Array(tasks).fill(-1);
    this.portable = new Uint8Array(tasks);
    this.load = new Int32Array(crewSlots);
    this.forced = new Int32Array(mains * slots);
    const held = compiled.holds.some((one) => one === 1) ? mains * slots : 0;
    this.needs = [new Int32Array(held), new Int32Array(held)];
    this.waits = new Uint16Array(crewSlots * mains * (held > 0 ? 2 : 1));
    this.inBuilding = new Uint16Array(crewSlots * buildings);
    this.onFloor = new Uint16Array(crewSlots * floors);
    this.periodMinutes = new Int32Array(target.length);
    this.head = new Int32Array(crewSlots).fill(-1);
    this.next = new Int32Array(tasks).fill(-1);
    this.previous = new Int32Array(tasks).fill(-1);
    for (let task = 0; task < tasks; task += 1) this.total += compiled.leaveOut[task];
  }

  /** Sets the bounds of a task's own window. */
  limitToWindow(task: number): void {
    this.lowSlot = this.c.first[task];
    this.lowCrew = -1;
    this.highSlot = this.c.last[task];
    this.highCrew = -1;
  }

  /** Sets the bounds that precedence puts on a task; false when something it waits for has no place. */
  limit(task: number): boolean {
    const { c, place } = this;
    const { crews } = c;
    this.limitToWindow(task);
    for (let at = c.predStart[task]; at < c.predStart[task + 1]; at += 1) {
      const other = place[c.preds[at]];
      if (other < 0) return false;
      const slot = (other / crews) | 0;
      const crew = other - slot * crews;
      if (slot > this.lowSlot) {
        this.lowSlot = slot;
        this.lowCrew = crew;
      } else if (slot === this.lowSlot) {
        if (this.lowCrew < 0) this.lowCrew = crew;
        else if (this.lowCrew !== crew) {
          this.lowSlot = slot + 1;
          this.lowCrew = -1;
        }
      }
    }
    for (let at = c.succStart[task]; at < c.succStart[task + 1]; at += 1) {
      const other = place[c.succs[at]];
      if (other < 0) continue;
      const slot = (other / crews) | 0;
      const crew = other - slot * crews;
      if (slot < this.highSlot) {
        this.highSlot = slot;
        this.highCrew = crew;
      } else if (slot === this.highSlot) {
        if (this.highCrew < 0) this.highCrew = crew;
        else if (this.highCrew !== crew) {
          this.highSlot = slot - 1;
          this.highCrew = -1;
        }
      }
    }
    return true;
  }

  /** Whether something that has a place waits for a task. */
  hasPlacedSuccessor(task: number): boolean {
    const { c } = this;
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
      if (this.place[c.succs[edge]] >= 0) return true;
    return false;
  }

  /** The fewest changes that a held main needs as the plan stands. */
  heldChangesOf(main: number): HeldChanges {
    const { c } = this;
    const base = main * c.slots;
    const needs = new Uint8Array(c.slots);
    for (let slot = 0; slot < c.slots; slot += 1)
      needs[slot] =
        (this.needs[0][base + slot] > 0 ? NEEDS_LOW : 0) | (this.needs[1][base + slot] > 0 ? NEEDS_HIGH : 0);
    return heldChanges(needs, c.natural[base], (slot) => c.sessionPrice[slot] / 2);
  }

  /** What one more task of a state costs a held main in changes. */
  private heldDifference(main: number, slot: number, state: number): number {
    const at = main * this.c.slots + slot;
    if (this.needs[state][at] > 0) return 0;
    const before = this.heldChangesOf(main).cost;
    this.needs[state][at] += 1;
    const after = this.heldChangesOf(main).cost;
    this.needs[state][at] -= 1;
    return after - before;
  }

  private waitKey(crewSlot: number, main: number, state: number): number {
    const { crewSlots, mains, holds } = this.c;
    return (holds[main] === 1 ? mains * state + main : main) * crewSlots + crewSlot;
  }

  /** Price of one way of doing a task at a crew-slot, or IMPOSSIBLE when it then holds more than `most` minutes. */
  private priceWay(task: number, crewSlot: number, way: number, most: number): number {
    const { c } = this;
    const { prices } = c;
    const slot = (crewSlot / c.crews) | 0;
    let minutes = way === 0 ? c.minutes[task] : c.portable[task];
    const own = minutes;
    let price = 0;
    const building = c.building[task];
    const floor = c.floor[task];
    if (building >= 0 && this.inBuilding[building * c.crewSlots + crewSlot] === 0) {
      minutes += c.walkBuilding;
      price += prices.walk * c.walkBuilding;
    }
    if (floor >= 0 && this.onFloor[floor * c.crewSlots + crewSlot] === 0) {
      minutes += c.walkFloor;
      price += prices.walk * c.walkFloor;
    }
    const main = c.main[task];
    if (main >= 0 && way === 0) {
      const state = c.state[task];
      const at = main * c.slots + slot;
      if (c.holds[main] === 1) {
        price += this.heldDifference(main, slot, state);
        if (this.waits[this.waitKey(crewSlot, main, state)] === 0) minutes += c.switchMinutes[main];
      } else if (c.natural[at] !== state) {
        if (this.forced[at] === 0) price += c.sessionPrice[slot];
        if (this.waits[main * c.crewSlots + crewSlot] === 0) minutes += 2 * c.switchMinutes[main];
      }
    }
    const before = this.load[crewSlot];
    const after = before + minutes;
    if (after > most) return IMPOSSIBLE;
    const regular = c.regular[crewSlot];
    if (after > regular) price += prices.overtime * (after - (before > regular ? before : regular));
    const late = c.day[slot] - c.due[task];
    if (late > 0) price += late * c.weight[task];
    const period = c.period[slot];
    if (period >= 0) {
      const target = c.target[period];
      const now = this.periodMinutes[period];
      if (target >= 0 && now + own > target)
        price += prices.uneven * (now + own - (now > target ? now : target));
    }
    return price + this.brokenPromise(task, crewSlot);
  }

  /** What the promise made for a task costs at a crew-slot. */
  private brokenPromise(task: number, crewSlot: number): number {
    const { published, movePrice, handOverPrice, crews } = this.c;
    const promise = published[task];
    if (promise < 0 || promise === crewSlot) return 0;
    const isSameSlot = ((promise / crews) | 0) === ((crewSlot / crews) | 0);
    return isSameSlot ? handOverPrice[task] : movePrice[task];
  }

  /** How a crew-slot is open to a task by window, order, person and air state, minutes apart; after `limit(task)`. */
  openness(task: number, crewSlot: number): number {
    const { c } = this;
    const slot = (crewSlot / c.crews) | 0;
    if (slot < this.lowSlot || slot > this.highSlot) return CLOSED;
    const crew = crewSlot - slot * c.crews;
    if (slot === this.lowSlot && this.lowCrew >= 0 && crew !== this.lowCrew) return CLOSED;
    if (slot === this.highSlot && this.highCrew >= 0 && crew !== this.highCrew) return CLOSED;
    if (c.capacity[crewSlot] <= 0 || c.able[c.skill[task] * c.crews + crew] === 0) return CLOSED;
    return opennessOf(c, task, slot);
  }

  /**
   * Price of putting a task, which has no place now, at a crew-slot: IMPOSSIBLE when it may not stand there.
   * `limit(task)` must have been called for the plan as it is. Sets `way`.
   */
  price(task: number, crewSlot: number): number {
    const { c } = this;
    this.evaluations += 1;
    const open = this.openness(task, crewSlot);
    if (open === CLOSED) return IMPOSSIBLE;
    this.way = 0;
    const most = c.capacity[crewSlot];
    const price = open === PORTABLE_ONLY ? IMPOSSIBLE : this.priceWay(task, crewSlot, 0, most);
    if (c.portable[task] < 0) return price;
    const other = this.priceWay(task, crewSlot, 1, most);
    // Where both cost the same, the shorter one leaves room for more.
    if (other > price || (other === price && c.portable[task] >= c.minutes[task])) return price;
    this.way = 1;
    return other;
  }

  /** As `price`, by one way only. */
  priceBy(task: number, crewSlot: number, way: number): number {
    this.evaluations += 1;
    const open = this.openness(task, crewSlot);
    if (open === CLOSED || (open === PORTABLE_ONLY && way === 0)) return IMPOSSIBLE;
    return this.priceWay(task, crewSlot, way, this.c.capacity[crewSlot]);
  }

  /** Minutes that a way of doing a task, which has no place now, adds to a crew-slot. */
  minutesAdded(task: number, crewSlot: number, way: number): number {
    const { c } = this;
    const at = c.main[task] * c.slots + ((crewSlot / c.crews) | 0);
    let minutes = way === 0 ? c.minutes[task] : c.portable[task];
    if (c.building[task] >= 0 && this.inBuilding[c.building[task] * c.crewSlots + crewSlot] === 0)
      minutes += c.walkBuilding;
    if (c.floor[task] >= 0 && this.onFloor[c.floor[task] * c.crewSlots + crewSlot] === 0)
      minutes += c.walkFloor;
    if (c.main[task] < 0 || way === 1) return minutes;
    const isHeld = c.holds[c.main[task]] === 1;
    if (!isHeld && c.natural[at] === c.state[task]) return minutes;
    const isWaiting = this.waits[this.waitKey(crewSlot, c.main[task], c.state[task])] > 0;
    return isWaiting ? minutes : minutes + (isHeld ? 1 : 2) * c.switchMinutes[c.main[task]];
  }

  /** What a task, which has no place now, costs at least in a slot, whoever does it: lateness, unevenness, switching. */
  leastInSlot(task: number, slot: number): number {
    const { c } = this;
    const open = opennessOf(c, task, slot);
    if (open === CLOSED) return IMPOSSIBLE;
    const period = c.period[slot];
    const target = period >= 0 ? c.target[period] : -1;
    const free = target < 0 ? Infinity : Math.max(0, target - this.periodMinutes[period]);
    const uneven = (minutes: number): number => c.prices.uneven * Math.max(0, minutes - free);
    const at = c.main[task] * c.slots + slot;
    const isSession =
      c.main[task] >= 0 &&
      c.holds[c.main[task]] === 0 &&
      c.natural[at] !== c.state[task] &&
      this.forced[at] === 0;
    const own =
      open === PORTABLE_ONLY ? IMPOSSIBLE : uneven(c.minutes[task]) + (isSession ? c.sessionPrice[slot] : 0);
    const portable = c.portable[task] < 0 ? IMPOSSIBLE : uneven(c.portable[task]);
    return Math.max(0, c.day[slot] - c.due[task]) * c.weight[task] + Math.min(own, portable);
  }

  /**
   * Price of a way of doing a task, which has no place now, at a crew-slot, by part. Every part is the difference
   * that the evaluator would find; whether the task may stand there is not asked.
   */
  partsOf(task: number, crewSlot: number, way: number): PriceParts {
    const { c } = this;
    const { prices } = c;
    const slot = (crewSlot / c.crews) | 0;
    const own = way === 0 ? c.minutes[task] : c.portable[task];
    const building = c.building[task];
    const floor = c.floor[task];
    const main = way === 0 ? c.main[task] : -1;
    const walk =
      (building >= 0 && this.inBuilding[building * c.crewSlots + crewSlot] === 0 ? c.walkBuilding : 0) +
      (floor >= 0 && this.onFloor[floor * c.crewSlots + crewSlot] === 0 ? c.walkFloor : 0);
    let switching = 0;
    if (main >= 0 && c.holds[main] === 1) switching = this.heldDifference(main, slot, c.state[task]);
    else if (main >= 0 && c.natural[main * c.slots + slot] !== c.state[task])
      switching = this.forced[main * c.slots + slot] === 0 ? c.sessionPrice[slot] : 0;
    const total = this.priceWay(task, crewSlot, way, IMPOSSIBLE);
    const period = c.period[slot];
    const target = period >= 0 ? c.target[period] : -1;
    const now = period >= 0 ? this.periodMinutes[period] : 0;
    const parts = {
      lateness: Math.max(0, c.day[slot] - c.due[task]) * c.weight[task],
      switching,
      walking: prices.walk * walk,
      unevenness:
        target < 0 ? 0 : prices.uneven * (Math.max(0, now + own - target) - Math.max(0, now - target)),
      move: this.brokenPromise(task, crewSlot),
    };
    const rest = parts.lateness + parts.switching + parts.walking + parts.unevenness + parts.move;
    return { ...parts, overtime: total - rest, total };
  }

  private count(task: number, crewSlot: number, by: 1 | -1): void {
    const { c } = this;
    const slot = (crewSlot / c.crews) | 0;
    const isPortable = this.portable[task] === 1;
    const own = isPortable ? c.portable[task] : c.minutes[task];
    let minutes = own;
    const building = c.building[task];
    const floor = c.floor[task];
    if (building >= 0) {
      const at = building * c.crewSlots + crewSlot;
      if ((by === 1 ? this.inBuilding[at]++ : --this.inBuilding[at]) === 0) minutes += c.walkBuilding;
    }
    if (floor >= 0) {
      const at = floor * c.crewSlots + crewSlot;
      if ((by === 1 ? this.onFloor[at]++ : --this.onFloor[at]) === 0) minutes += c.walkFloor;
    }
    const main = c.main[task];
    if (main >= 0 && !isPortable && c.state[task] !== NO_STATE) {
      const state = c.state[task];
      const at = main * c.slots + slot;
      const isHeld = c.holds[main] === 1;
      if (isHeld) this.needs[state][at] += by;
      if (isHeld || c.natural[at] !== state) {
        if (!isHeld) this.forced[at] += by;
        const wait = this.waitKey(crewSlot, main, state);
        if ((by === 1 ? this.waits[wait]++ : --this.waits[wait]) === 0)
          minutes += (isHeld ? 1 : 2) * c.switchMinutes[main];
      }
    }
    this.load[crewSlot] += by * minutes;
    const period = c.period[slot];
    if (period >= 0) this.periodMinutes[period] += by * own;
  }

  /** Puts a task at a crew-slot that `price` found possible, or whatever the price of a fixed one. */
  add(task: number, crewSlot: number, way: number): void {
    const price = this.priceWay(task, crewSlot, way, IMPOSSIBLE);
    this.addPriced(task, crewSlot, way, price);
  }

  /** As `add`, with the price already known. */
  addPriced(task: number, crewSlot: number, way: number, price: number): void {
    this.total += price - this.c.leaveOut[task];
    this.link(task, crewSlot, way);
  }

  /** Puts a task somewhere and leaves the total to the caller, who knows it. */
  link(task: number, crewSlot: number, way: number): void {
    this.place[task] = crewSlot;
    this.portable[task] = way;
    this.count(task, crewSlot, 1);
    const first = this.head[crewSlot];
    this.next[task] = first;
    this.previous[task] = -1;
    if (first >= 0) this.previous[first] = task;
    this.head[crewSlot] = task;
  }

  /** Takes a task away and leaves the total to the caller, who knows it. */
  unlink(task: number): void {
    const crewSlot = this.place[task];
    this.count(task, crewSlot, -1);
    const before = this.previous[task];
    const after = this.next[task];
    if (before >= 0) this.next[before] = after;
    else this.head[crewSlot] = after;
    if (after >= 0) this.previous[after] = before;
    this.place[task] = -1;
    this.portable[task] = 0;
  }

  /** Takes a task away; answers what that saves beside the price of leaving it out. */
  remove(task: number): number {
    const crewSlot = this.place[task];
    const way = this.portable[task];
    this.unlink(task);
    const price = this.priceWay(task, crewSlot, way, IMPOSSIBLE);
    this.total += this.c.leaveOut[task] - price;
    return price;
  }
}
