/**
 * Steps of the search: single moves, exchanges, moves of a whole stop, closing a session, lifting and reinserting
 * what belongs together, and making room for what has no place. A step that makes the plan dearer than the
 * threshold allows is undone.
 */
import type { Random } from '../random.ts';
import type { Compiled } from './compile.ts';
import { groupBy } from './groups.ts';
import type { Groups } from './groups.ts';
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';

/** Tasks lifted at once, and places tried for each of them. */
const MOST_LIFTED = 40;
const PLACES_TRIED = 10;

/** The steps of the search on one plan. Each step leaves a plan that may stand, whether it was taken or not. */
export class Moves {
  private readonly plan: Plan;
  private readonly c: Compiled;
  private readonly heads: Heads;
  private readonly random: Random;
  private readonly ofBuilding: Groups;
  private readonly ofMain: Groups;
  private readonly ofFloor: Groups;
  private readonly movable: number[] = [];
  /** Movable tasks by building + 1, and the part of them that is at work. */
  private readonly movableOf: Groups;
  private focusFrom = 0;
  private focusCount = 0;
  private readonly busy: number[] = [];
  /** Crew-slots with any minutes, in order, and where each slot's begin among them. */
  private readonly working: number[] = [];
  private readonly workingFrom: Int32Array;
  private readonly seedSlots: [number, number];
  private readonly unplaced: number[] = [];
  private readonly isListed: Uint8Array;
  private readonly isLifted: Uint8Array;
  private readonly lifted: number[] = [];
  private readonly oldPlace: number[] = [];
  private readonly oldWay: number[] = [];
  private readonly candidates = new Int32Array(PLACES_TRIED * 4);
  private threshold = 0;

  constructor(plan: Plan, heads: Heads, random: Random, seedSlots: [number, number]) {
    this.plan = plan;
    this.c = plan.c;
    this.heads = heads;
    this.random = random;
    this.seedSlots = seedSlots;
    const { c } = plan;
    const isNear = (place: number): boolean =>
      place < 0 || (place >= seedSlots[0] * c.crews && place < (seedSlots[1] + 1) * c.crews);
    const isFree = (task: number): boolean =>
      c.frozen[task] < 0 && !heads.forcedOut[task] && isNear(plan.place[task]);
    this.ofBuilding = groupBy(c.building, c.buildings, () => true);
    this.movableOf = groupBy(
      c.building.map((building) => building + 1),
      c.buildings + 1,
      isFree,
    );
    this.ofFloor = groupBy(c.floor, c.floors, () => true);
    this.ofMain = groupBy(c.main, c.mains, () => true);
    this.isLifted = new Uint8Array(c.tasks);
    this.isListed = new Uint8Array(c.tasks);
    for (let task = 0; task < c.tasks; task += 1)
      if (isFree(task)) {
        this.movable.push(task);
        if (plan.place[task] < 0) this.listUnplaced(task);
      }
    this.workingFrom = new Int32Array(c.slots + 1);
    for (let place = 0; place < c.crewSlots; place += 1) {
      const slot = Math.floor(place / c.crews);
      if (c.capacity[place] > 0) this.working.push(place);
      this.workingFrom[slot + 1] = this.working.length;
      if (c.capacity[place] > 0 && slot >= seedSlots[0] && slot <= seedSlots[1]) this.busy.push(place);
    }
  }

  get hasUnplaced(): boolean {
    return this.unplaced.length > 0;
  }

  get canMove(): boolean {
    return this.movable.length > 0 && this.busy.length > 0;
  }

  /** Turns to the tasks of another building for a while: what is at work stays in the cache. */
  turn(): void {
    const task = this.movable[this.random.integer(0, this.movable.length - 1)];
    const building = this.c.building[task] + 1;
    this.focusFrom = this.movableOf.start[building];
    this.focusCount = this.movableOf.start[building + 1] - this.focusFrom;
  }

  private pickTask(): number {
    return this.movableOf.list[this.focusFrom + this.random.integer(0, this.focusCount - 1)];
  }

  setThreshold(most: number): void {
    this.threshold = most <= 0 ? 0 : this.random.integer(0, most);
  }

  private pick(from: Groups, key: number): number {
    const start = from.start[key];
    const count = from.start[key + 1] - start;
    return count === 0 ? -1 : from.list[start + this.random.integer(0, count - 1)];
  }

  /** A random place of the window set by `limit`, rather one with the state the task needs; -1 when nobody works there. */
  private randomPlace(task: number): number {
    const { plan, c } = this;
    if (plan.highSlot < plan.lowSlot) return -1;
    const from = this.workingFrom[plan.lowSlot];
    const count = this.workingFrom[plan.highSlot + 1] - from;
    if (count <= 0) return -1;
    const main = c.main[task];
    let place = -1;
    for (let tries = 0; tries < 3; tries += 1) {
      place = this.working[from + this.random.integer(0, count - 1)];
      if (main < 0 || c.natural[main * c.slots + Math.floor(place / c.crews)] === c.state[task]) break;
    }
    return place;
  }

  /** The place of a random task that shares the building or the main; -1 when it has none. */
  private neighbourPlace(task: number, byMain: boolean): number {
    const { plan, c } = this;
    const key = byMain ? c.main[task] : c.building[task];
    if (key < 0) return -1;
    const other = this.pick(byMain ? this.ofMain : this.ofBuilding, key);
    if (other < 0) return -1;
    let place = plan.place[other];
    if (place < 0) return -1;
    // Another person in the same slot now and then: sessions are shared.
    if (byMain && c.crews > 1 && this.random.integer(0, 3) === 0) {
      const slot = Math.floor(place / c.crews);
      place = slot * c.crews + this.random.integer(0, c.crews - 1);
      if (c.capacity[place] === 0) return -1;
    }
    return place;
  }

  /** Moves one task if that is no dearer than the threshold allows. */
  relocate(): void {
    const { plan, c, random } = this;
    const task = this.pickTask();
    const old = plan.place[task];
    if (!plan.limit(task)) return;
    const dice = random.integer(0, 9);
    const place =
      dice < 3
        ? this.floorPlace(task)
        : dice < 4
          ? this.neighbourPlace(task, false)
          : dice < 7
            ? this.neighbourPlace(task, true)
            : this.randomPlace(task);
    if (place < 0 || place === old) {
      plan.evaluations += 1;
      return;
    }
    if (old < 0) {
      const price = plan.price(task, place);
      if (price !== IMPOSSIBLE && price - c.leaveOut[task] <= this.threshold)
        plan.addPriced(task, place, plan.way, price);
      return;
    }
    const slot = Math.floor(place / c.crews);
    if (slot < plan.lowSlot || slot > plan.highSlot) {
      plan.evaluations += 1;
      return;
    }
    const way = plan.portable[task];
    const saved = plan.remove(task);
    const price = plan.price(task, place);
    if (price !== IMPOSSIBLE && price - saved <= this.threshold) plan.addPriced(task, place, plan.way, price);
    else plan.addPriced(task, old, way, saved);
  }

  /** Exchanges the places of two tasks: what a full shift needs instead of a single move. */
  exchange(): void {
    const { plan, c, random } = this;
    const one = this.pickTask();
    const from = plan.place[one];
    const key = random.integer(0, 2);
    const to =
      from < 0
        ? -1
        : key === 0
          ? this.floorPlace(one)
          : key === 1
            ? this.neighbourPlace(one, true)
            : this.neighbourPlace(one, false);
    if (to < 0 || to === from) {
      plan.evaluations += 1;
      return;
    }
    let other = plan.head[to];
    for (let skip = random.integer(0, 15); skip > 0 && other >= 0; skip -= 1)
      other = plan.next[other] >= 0 ? plan.next[other] : plan.head[to];
    if (other < 0 || c.frozen[other] >= 0) {
      plan.evaluations += 1;
      return;
    }
    const before = plan.total;
    const ways = [plan.portable[one], plan.portable[other]];
    plan.remove(one);
    plan.remove(other);
    let isDone = false;
    if (plan.limit(one)) {
      const price = plan.price(one, to);
      if (price !== IMPOSSIBLE) {
        plan.addPriced(one, to, plan.way, price);
        if (plan.limit(other)) {
          const back = plan.price(other, from);
          if (back !== IMPOSSIBLE) {
            plan.addPriced(other, from, plan.way, back);
            isDone = plan.total - before <= this.threshold;
          }
        }
      }
    }
    if (isDone) return;
    if (plan.place[one] >= 0) plan.remove(one);
    if (plan.place[other] >= 0) plan.remove(other);
    plan.add(one, from, ways[0]);
    plan.add(other, to, ways[1]);
  }

  /** The place of a random task of the same floor; -1 when it has none. */
  private floorPlace(task: number): number {
    const { plan, c } = this;
    const floor = c.floor[task];
    return floor < 0 ? -1 : plan.place[this.pick(this.ofFloor, floor)];
  }

  private lift(task: number): void {
    if (this.isLifted[task] === 1 || this.c.frozen[task] >= 0) return;
    this.isLifted[task] = 1;
    this.lifted.push(task);
    this.oldPlace.push(this.plan.place[task]);
    this.oldWay.push(this.plan.portable[task]);
    if (this.plan.place[task] >= 0) this.plan.remove(task);
  }

  /** Lifts the tasks of a place that belong, until so many are lifted in all. */
  private liftAt(place: number, most: number, belongs: (task: number) => boolean): void {
    const { plan } = this;
    for (let task = plan.head[place]; task >= 0;) {
      const after = plan.next[task];
      if (this.lifted.length < most && belongs(task)) this.lift(task);
      task = after;
    }
  }

  private putBack(): void {
    const { plan } = this;
    for (const task of this.lifted) if (plan.place[task] >= 0) plan.remove(task);
    for (const [index, task] of this.lifted.entries())
      if (this.oldPlace[index] >= 0) plan.add(task, this.oldPlace[index], this.oldWay[index]);
  }

  private forget(): void {
    for (const task of this.lifted) {
      this.isLifted[task] = 0;
      if (this.plan.place[task] < 0) this.listUnplaced(task);
    }
    this.lifted.length = 0;
    this.oldPlace.length = 0;
    this.oldWay.length = 0;
  }

  /** Moves all tasks of one person, slot and floor (or building) to another place where that is visited. */
  moveBlock(): void {
    const { plan, c, random } = this;
    const seed = this.pickTask();
    const from = plan.place[seed];
    if (from < 0 || c.building[seed] < 0) {
      plan.evaluations += 1;
      return;
    }
    const before = plan.total;
    const whole = random.integer(0, 2);
    const main = c.main[seed];
    this.liftAt(from, MOST_LIFTED, (task) =>
      whole === 0
        ? c.floor[task] === c.floor[seed]
        : whole === 1
          ? c.building[task] === c.building[seed]
          : main >= 0 && c.main[task] === main && c.state[task] === c.state[seed],
    );
    if (this.lifted.length === 0 || !plan.limit(seed)) {
      this.putBack();
      this.forget();
      return;
    }
    const place =
      random.integer(0, 2) > 0
        ? this.neighbourPlace(seed, random.integer(0, 1) === 1)
        : this.randomPlace(seed);
    const isDone = place >= 0 && place !== from && this.insertAllAt(place);
    if (!isDone || plan.total - before > this.threshold) this.putBack();
    this.forget();
  }

  private insertAllAt(place: number): boolean {
    const { plan, heads } = this;
    const order = [...this.lifted].sort((a, b) => heads.level[a] - heads.level[b] || a - b);
    for (const task of order) {
      if (!plan.limit(task)) return false;
      const price = plan.price(task, place);
      if (price === IMPOSSIBLE) return false;
      plan.addPriced(task, place, plan.way, price);
    }
    return true;
  }

  /** Lifts all that needs a main to be switched in one slot, and reinserts it where it is cheapest. */
  closeSession(): void {
    const { plan, c, random } = this;
    const seed = this.pickTask();
    const place = plan.place[seed];
    const main = c.main[seed];
    const slot = Math.floor(place / c.crews);
    if (
      place < 0 ||
      main < 0 ||
      (c.holds[main] === 0 && c.natural[main * c.slots + slot] === c.state[seed])
    ) {
      plan.evaluations += 1;
      return;
    }
    const before = plan.total;
    for (let at = slot * c.crews; at < (slot + 1) * c.crews; at += 1)
      this.liftAt(at, Infinity, (task) => c.main[task] === main && c.state[task] === c.state[seed]);
    const places: number[] = [];
    if (plan.limit(seed))
      for (let left = random.integer(0, 3); left > 0; left -= 1) {
        const other = this.randomPlace(seed);
        if (other < 0 || places.includes(other)) continue;
        places.push(other);
        this.liftAt(other, 2 * MOST_LIFTED, () => true);
      }
    if (!this.reinsert(places) || plan.total - before > this.threshold) this.putBack();
    this.forget();
  }

  /** Lifts the tasks of a place and of related places, and reinserts each where it is cheapest. */
  rebuild(): void {
    const { plan } = this;
    const before = plan.total;
    const only = this.chooseLifted();
    if (this.lifted.length === 0) {
      plan.evaluations += 1;
      return;
    }
    const isDone = this.reinsert(only);
    if (!isDone || plan.total - before > this.threshold) this.putBack();
    this.forget();
  }

  /** Lifts; answers places that every reinsertion should try. */
  private chooseLifted(): number[] {
    const { c, random } = this;
    const places: number[] = [];
    const unplaced = random.integer(0, 4) === 0 ? this.someUnplaced() : -1;
    const first = unplaced >= 0 ? this.placeNear(unplaced) : this.seedPlace();
    if (unplaced >= 0) {
      this.liftWithPreds(unplaced);
      if (first < 0) return places;
    }
    places.push(first);
    const anchor = this.someTaskOf(first);
    const building = random.integer(0, 1) === 0 && anchor >= 0 ? c.building[anchor] : -1;
    for (let left = random.integer(1, 3); left > 0; left -= 1) {
      const related =
        anchor >= 0 && random.integer(0, 2) < 2
          ? this.neighbourPlace(anchor, random.integer(0, 2) === 0)
          : -1;
      const near = related >= 0 ? related : this.placeAround(first);
      if (near >= 0 && !places.includes(near)) places.push(near);
    }
    for (const place of places)
      this.liftAt(place, MOST_LIFTED, (task) => building < 0 || c.building[task] === building);
    return places;
  }

  /** Puts a task that has no place where others stand, and looks for new places for them. */
  makeRoom(): void {
    const { plan, c, random } = this;
    let task = this.someUnplaced();
    // What it waits for comes first.
    for (let hops = 0; task >= 0 && hops < 8; hops += 1) {
      let before = -1;
      for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
        if (plan.place[c.preds[edge]] < 0) before = c.preds[edge];
      if (before < 0) break;
      task = before;
    }
    if (task < 0 || this.heads.forcedOut[task] || !plan.limit(task)) {
      plan.evaluations += 1;
      return;
    }
    const place = random.integer(0, 1) === 0 ? this.randomPlace(task) : this.placeNear(task);
    if (place < 0) {
      plan.evaluations += 1;
      return;
    }
    const before = plan.total;
    this.lift(task);
    const most = random.integer(1, MOST_LIFTED);
    for (let other = plan.head[place]; other >= 0;) {
      const after = plan.next[other];
      if (this.lifted.length <= most && !this.isPredOf(other, task)) this.liftWithSuccessors(other);
      // A successor at the same place may have gone with it: then the list has changed under the loop.
      other = after >= 0 && plan.place[after] !== place ? -1 : after;
    }
    let isDone = false;
    if (plan.limit(task)) {
      const price = plan.price(task, place);
      if (price !== IMPOSSIBLE) {
        plan.addPriced(task, place, plan.way, price);
        isDone = this.reinsert([]);
      }
    }
    if (!isDone || plan.total - before > this.threshold) this.putBack();
    this.forget();
  }

  private isPredOf(other: number, task: number): boolean {
    const { c } = this;
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
      if (c.preds[edge] === other) return true;
    return false;
  }

  private liftWithSuccessors(task: number): void {
    const { c } = this;
    if (this.lifted.length > 2 * MOST_LIFTED) return;
    this.lift(task);
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
      if (this.plan.place[c.succs[edge]] >= 0 && this.isLifted[c.succs[edge]] === 0)
        this.liftWithSuccessors(c.succs[edge]);
  }

  /** A random task that could have a place and has none; -1 when there is none. */
  private someUnplaced(): number {
    const { plan, random, unplaced } = this;
    while (unplaced.length > 0) {
      const at = random.integer(0, unplaced.length - 1);
      const task = unplaced[at];
      if (plan.place[task] < 0) return task;
      this.isListed[task] = 0;
      unplaced[at] = unplaced[unplaced.length - 1];
      unplaced.length -= 1;
    }
    return -1;
  }

  private listUnplaced(task: number): void {
    if (this.isListed[task] === 1) return;
    this.isListed[task] = 1;
    this.unplaced.push(task);
  }

  private liftWithPreds(task: number): void {
    const { c } = this;
    this.lift(task);
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
      if (!this.heads.forcedOut[c.preds[edge]]) this.lift(c.preds[edge]);
  }

  /** Where to begin lifting: mostly where a task of the building at work stands. */
  private seedPlace(): number {
    const { plan, c, random } = this;
    const place = random.integer(0, 3) > 0 ? plan.place[this.pickTask()] : -1;
    const slot = Math.floor(place / c.crews);
    return place >= 0 && slot >= this.seedSlots[0] && slot <= this.seedSlots[1]
      ? place
      : this.busy[random.integer(0, this.busy.length - 1)];
  }

  private placeNear(task: number): number {
    return this.neighbourPlace(task, this.c.main[task] >= 0);
  }

  private someTaskOf(place: number): number {
    const { plan, random } = this;
    let task = plan.head[place];
    for (let skip = random.integer(0, 7); skip > 0 && task >= 0 && plan.next[task] >= 0; skip -= 1)
      task = plan.next[task];
    return task;
  }

  private placeAround(place: number): number {
    const { c, random } = this;
    const slot = Math.floor(place / c.crews) + random.integer(-12, 12);
    if (slot < this.seedSlots[0] || slot > this.seedSlots[1]) return -1;
    const near = slot * c.crews + random.integer(0, c.crews - 1);
    return c.capacity[near] > 0 ? near : -1;
  }

  private reinsert(places: readonly number[]): boolean {
    const { plan, c, heads, random } = this;
    const rule = random.integer(0, 2);
    const key = new Map<number, number>();
    for (const task of this.lifted)
      key.set(
        task,
        rule === 0
          ? c.due[task]
          : rule === 1
            ? c.floor[task] * 4 + c.state[task]
            : random.integer(0, 1_000_000),
      );
    const order = [...this.lifted].sort(
      (a, b) => heads.level[a] - heads.level[b] || (key.get(a) as number) - (key.get(b) as number) || a - b,
    );
    for (const task of order) {
      if (plan.place[task] >= 0) continue;
      if (!plan.limit(task)) {
        if (this.hasPlacedSuccessor(task)) return false;
        continue;
      }
      let count = 0;
      for (const place of places) this.candidates[count++] = place;
      for (let tries = 0; tries < PLACES_TRIED; tries += 1) {
        const place =
          tries % 4 === 3
            ? this.randomPlace(task)
            : this.neighbourPlace(task, c.main[task] >= 0 && tries % 4 !== 0);
        if (place >= 0) this.candidates[count++] = place;
      }
      let best = c.leaveOut[task];
      let at = -1;
      let way = 0;
      for (let index = 0; index < count; index += 1) {
        const place = this.candidates[index];
        const price = plan.price(task, place);
        if (price < best || (price === best && at >= 0)) {
          best = price;
          at = place;
          way = plan.way;
        }
      }
      if (at >= 0) plan.addPriced(task, at, way, best);
      else if (this.hasPlacedSuccessor(task)) return false;
    }
    return true;
  }

  private hasPlacedSuccessor(task: number): boolean {
    const { plan, c } = this;
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1)
      if (plan.place[c.succs[edge]] >= 0) return true;
    return false;
  }
}
