/**
 * Tasks that a step of the search has lifted from a plan, and their way back: to new places, or to the old ones
 * when the plan would become dearer than the step may make it.
 */
import type { Compiled } from './compile.ts';
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';
import type { Picks } from './picks.ts';

/** Where there are so few tasks, lifting takes hold of nearly all of them at once, and any place may be the right one. */
export const FEW = 30;
/** Places tried for each task that is put back. */
const PLACES_TRIED = 10;
/** Slots compared for one in which what is lifted may be brought together. */
const SLOTS_COMPARED = 16;
/** Room for level, key and position of a task in one exact number. */
const KEYS = 0x400000;
const POSITIONS = 0x1000;

/** After `limit(task)`: keeps a task that gets a place to slots that leave time for all that waits for it, if there are any. */
export function leaveTime(plan: Plan, heads: Heads, task: number): void {
  const latest = heads.latest[task];
  if (plan.c.tasks > FEW && latest >= plan.lowSlot && latest < plan.highSlot) {
    plan.highSlot = latest;
    plan.highCrew = -1;
  }
}

export class Lifted {
  readonly tasks: number[] = [];
  private readonly plan: Plan;
  private readonly c: Compiled;
  private readonly heads: Heads;
  private readonly picks: Picks;
  private readonly isLifted: Uint8Array;
  private readonly oldPlace: number[] = [];
  private readonly oldWay: number[] = [];
  private readonly candidates = new Int32Array(PLACES_TRIED * 4);
  private readonly firstDue: number;
  private order = new Float64Array(256);
  private before = 0;
  private threshold = 0;
  private withFixed = false;
  /** Price of leaving out all that is lifted and not yet decided on: what the total holds too much. */
  private owed = 0;

  constructor(plan: Plan, heads: Heads, picks: Picks) {
    this.plan = plan;
    this.c = plan.c;
    this.heads = heads;
    this.picks = picks;
    this.isLifted = new Uint8Array(plan.c.tasks);
    this.firstDue = plan.c.due.reduce((low, one) => Math.min(low, one), 0);
  }

  /** Begins a step that may make the plan dearer by so many points. `withFixed`: fixed tasks are lifted too where there are two ways to do them; only `reinsert` puts them back where they are fixed. */
  begin(threshold: number, withFixed = false): void {
    this.withFixed = withFixed;
    this.before = this.plan.total;
    this.threshold = threshold;
    this.owed = 0;
  }

  /** Whether the plan is already dearer than allowed: what is still to be placed costs no less than nothing. */
  private get isHopeless(): boolean {
    return this.plan.total - this.owed - this.before > this.threshold;
  }

  lift(task: number): void {
    if (this.isLifted[task] === 1) return;
    if (this.c.frozen[task] >= 0 && !(this.withFixed && this.c.portable[task] >= 0)) return;
    this.isLifted[task] = 1;
    this.tasks.push(task);
    this.oldPlace.push(this.plan.place[task]);
    this.oldWay.push(this.plan.portable[task]);
    this.owed += this.c.leaveOut[task];
    if (this.plan.place[task] >= 0) this.plan.remove(task);
  }

  /** Lifts the tasks of a place that belong, until so many are lifted in all. */
  liftAt(place: number, most: number, belongs: (task: number) => boolean = () => true): void {
    const { plan } = this;
    for (let task = plan.head[place]; task >= 0;) {
      const after = plan.next[task];
      if (this.tasks.length < most && belongs(task)) this.lift(task);
      task = after;
    }
  }

  /** Lifts a task and, while there are fewer than so many, what waits for it. */
  liftWithSuccessors(task: number, most: number): void {
    const { c } = this;
    if (this.tasks.length > most) return;
    this.lift(task);
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
      if (this.plan.place[c.succs[edge]] >= 0 && this.isLifted[c.succs[edge]] === 0)
        this.liftWithSuccessors(c.succs[edge], most);
  }

  /** Lifts a task and what it waits for; `onlyUnplaced`: all the way, of what has no place. */
  liftWithPreds(task: number, onlyUnplaced: boolean): void {
    const { c, plan } = this;
    this.lift(task);
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1) {
      const before = c.preds[edge];
      if (this.heads.forcedOut[before]) continue;
      if (!onlyUnplaced) this.lift(before);
      else if (plan.place[before] < 0 && this.isLifted[before] === 0) this.liftWithPreds(before, true);
    }
  }

  /** Puts a lifted task at a place; false, and nothing done, when it may not stand there. */
  put(task: number, place: number): boolean {
    const { plan } = this;
    const price = plan.price(task, place);
    if (price === IMPOSSIBLE) return false;
    plan.addPriced(task, place, plan.way, price);
    this.owed -= this.c.leaveOut[task];
    return true;
  }

  /** Puts all at one place; false when one may not stand there. */
  putAllAt(place: number): boolean {
    const count = this.sort(1);
    for (let at = 0; at < count; at += 1) {
      const task = this.tasks[this.order[at]];
      if (!this.plan.limit(task) || !this.put(task, place) || this.isHopeless) return false;
    }
    return true;
  }

  /** Puts the first `come` lifted tasks at `to` and the others at `from`, or the other way where that is impossible. */
  putCrosswise(from: number, to: number, come: number): boolean {
    const count = this.sort(1);
    for (let at = 0; at < count; at += 1) {
      const task = this.tasks[this.order[at]];
      const isComing = this.order[at] < come;
      if (!this.plan.limit(task)) return false;
      if (!this.put(task, isComing ? to : from) && !this.put(task, isComing ? from : to)) return false;
      if (this.isHopeless) return false;
    }
    return true;
  }

  /** A slot that all that is lifted may stand in, the cheapest of some; -1 when there is none. */
  commonSlot(): number {
    const { plan, c, picks } = this;
    let low = 0;
    let high = c.slots - 1;
    for (const task of this.tasks) {
      if (!plan.limit(task)) return -1;
      low = Math.max(low, plan.lowSlot);
      high = Math.min(high, plan.highSlot);
    }
    if (low > high) return -1;
    plan.lowSlot = low;
    plan.highSlot = high;
    let best = -1;
    let least = Infinity;
    for (let tries = 0; tries < SLOTS_COMPARED; tries += 1) {
      const slot = Math.floor(picks.shift() / c.crews);
      if (slot < 0) return -1;
      const price = this.priceOfSlot(slot);
      if (price >= least) continue;
      least = price;
      best = slot;
    }
    return best;
  }

  /** What is lifted costs about so much in a slot: lateness, and as many sessions as the persons there can hold. */
  private priceOfSlot(slot: number): number {
    const { c } = this;
    let minutes = 0;
    let late = 0;
    for (const task of this.tasks) {
      minutes += c.minutes[task];
      late += Math.max(0, c.day[slot] - c.due[task]) * c.weight[task];
    }
    let most = 1;
    for (let place = slot * c.crews; place < (slot + 1) * c.crews; place += 1) most += c.capacity[place];
    return late + c.sessionPrice[slot] * Math.ceil(minutes / most);
  }

  /** Puts what is lifted into a slot, person by person, and lifts what stands in its way there. */
  fillSlot(slot: number): boolean {
    const { plan, c, picks } = this;
    const count = this.sort(1);
    const order = Array.from(this.order.subarray(0, count), (at) => this.tasks[at]);
    const turn = picks.random.integer(0, c.crews - 1);
    for (let shift = 0; shift < c.crews; shift += 1) {
      const place = slot * c.crews + ((shift + turn) % c.crews);
      if (c.capacity[place] <= 0) continue;
      if (order.every((task) => plan.place[task] >= 0)) break;
      this.liftAt(place, POSITIONS - 1);
      for (const task of order) {
        if (plan.place[task] >= 0 || !plan.limit(task)) continue;
        this.put(task, place);
        if (this.isHopeless) return false;
      }
    }
    return true;
  }

  /** Some given places and some others for a task, into `candidates`; answers how many. */
  private findCandidates(task: number, places: readonly number[]): number {
    const { c, picks, candidates } = this;
    let count = 0;
    for (const place of places) candidates[count++] = place;
    for (let tries = 0; tries < PLACES_TRIED; tries += 1) {
      const kind = tries % 4;
      const place =
        kind === 3
          ? picks.place(task)
          : kind === 0
            ? picks.neighbour(task, c.main[task] >= 0)
            : picks.onFloor(task);
      if (place >= 0 && picks.hasRoom(task, place)) candidates[count++] = place;
    }
    return count;
  }

  /** Puts each where it is cheapest among some places, or, where there are few tasks, sometimes anywhere; false when a task that others wait for has none. */
  reinsert(places: readonly number[]): boolean {
    const { plan, c, heads, picks, candidates } = this;
    const sorted = this.sort(picks.random.integer(0, 2));
    const isScattered = c.tasks <= FEW && picks.random.integer(0, 1) === 0;
    for (let next = 0; next < sorted; next += 1) {
      const task = this.tasks[this.order[next]];
      if (plan.place[task] >= 0) continue;
      if (this.isHopeless) return false;
      if (!plan.limit(task)) {
        if (c.frozen[task] >= 0 || plan.hasPlacedSuccessor(task)) return false;
        this.owed -= c.leaveOut[task];
        continue;
      }
      leaveTime(plan, heads, task);
      const isFixed = c.frozen[task] >= 0;
      let count = 1;
      if (isFixed) candidates[0] = c.frozen[task];
      else if (isScattered) candidates[0] = picks.shift();
      else count = this.findCandidates(task, places);
      let best = isFixed ? IMPOSSIBLE : heads.worth[task];
      let at = -1;
      let way = 0;
      // Where several places, and both ways, may be the right ones together, the cheapest for one need not be.
      if (isScattered && c.portable[task] >= 0 && picks.random.integer(0, 1) === 0) {
        way = picks.random.integer(0, 1);
        const price = plan.priceBy(task, candidates[0], way);
        count = 0;
        if (price < best) {
          best = price;
          at = candidates[0];
        }
      }
      for (let index = 0; index < count; index += 1) {
        const price = plan.price(task, candidates[index]);
        if (price < best || (price === best && at >= 0)) {
          best = price;
          at = candidates[index];
          way = plan.way;
        }
      }
      if (at >= 0) plan.addPriced(task, at, way, best);
      else if (isFixed || plan.hasPlacedSuccessor(task)) return false;
      this.owed -= c.leaveOut[task];
    }
    return true;
  }

  /**
   * Sorts what is lifted: what others wait for first; then by due date, by floor and state, or at random; then as
   * lifted. Answers how many there are; `order` holds their positions in `tasks`.
   */
  private sort(rule: number): number {
    const { c, heads, picks, tasks } = this;
    const count = tasks.length;
    if (this.order.length < count) this.order = new Float64Array(2 * count);
    const order = this.order.subarray(0, count);
    for (let at = 0; at < count; at += 1) {
      const task = tasks[at];
      const key =
        rule === 0
          ? c.due[task] - this.firstDue
          : rule === 1
            ? (c.floor[task] + 1) * 4 + c.state[task]
            : picks.random.integer(0, 1_000_000);
      order[at] = (heads.level[task] * KEYS + Math.min(key, KEYS - 1)) * POSITIONS + at;
    }
    order.sort();
    for (let at = 0; at < count; at += 1) order[at] %= POSITIONS;
    return count;
  }

  /** Ends a step: keeps what was done when it may be kept. */
  end(isDone: boolean): void {
    const { plan } = this;
    if (!isDone || plan.total - this.before > this.threshold) {
      for (const task of this.tasks) if (plan.place[task] >= 0) plan.unlink(task);
      for (const [index, task] of this.tasks.entries())
        if (this.oldPlace[index] >= 0) plan.link(task, this.oldPlace[index], this.oldWay[index]);
      plan.total = this.before;
    }
    for (const task of this.tasks) {
      this.isLifted[task] = 0;
      if (plan.place[task] < 0) this.picks.listUnplaced(task);
    }
    this.tasks.length = 0;
    this.oldPlace.length = 0;
    this.oldWay.length = 0;
  }
}
