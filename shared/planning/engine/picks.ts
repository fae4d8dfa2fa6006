/** What the search picks at random: tasks, and places related to them. One generator, so a seed decides it all. */
import type { Random } from '../random.ts';
import type { Compiled } from './compile.ts';
import { groupBy } from './groups.ts';
import type { Groups } from './groups.ts';
import type { Heads } from './heads.ts';
import type { Plan } from './plan.ts';

/** Picks among which the smallest visit is taken: a small one is the easiest to do away with. */
const VISITS_COMPARED = 8;
/** Tasks looked at for one that its main is switched for. */
const TASKS_LOOKED_AT = 9;
/** Places tried for one that has room and, of itself, the state that a task needs. */
const PLACES_DRAWN = 5;
/** A place nearby in time is so many slots away at most. */
const NEARBY = 12;

export class Picks {
  readonly random: Random;
  private readonly plan: Plan;
  private readonly c: Compiled;
  private readonly ofBuilding: Groups;
  private readonly ofMain: Groups;
  private readonly ofFloor: Groups;
  private readonly movable: number[] = [];
  /** Movable tasks by building + 1, and the part of them that is at work. */
  private readonly movableOf: Groups;
  private focusFrom = 0;
  private focusCount = 0;
  /** Crew-slots with any minutes, in order, and where each slot's begin among them. */
  private readonly working: number[] = [];
  private readonly workingFrom: Int32Array;
  private readonly busy: number[] = [];
  private readonly seedSlots: [number, number];
  private readonly unplaced: number[] = [];
  private readonly isListed: Uint8Array;

  constructor(plan: Plan, heads: Heads, random: Random, seedSlots: [number, number]) {
    this.plan = plan;
    this.c = plan.c;
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

  /** A movable task of the building at work. */
  task(): number {
    return this.movableOf.list[this.focusFrom + this.random.integer(0, this.focusCount - 1)];
  }

  private of(from: Groups, key: number): number {
    const start = from.start[key];
    const count = from.start[key + 1] - start;
    return count === 0 ? -1 : from.list[start + this.random.integer(0, count - 1)];
  }

  /** A task of a small visit to a floor (or building), or -1. */
  taskOfSmallVisit(byFloor: boolean): number {
    const { plan, c } = this;
    const key = byFloor ? c.floor : c.building;
    const counts = byFloor ? plan.onFloor : plan.inBuilding;
    let best = -1;
    let least = Infinity;
    for (let tries = 0; tries < VISITS_COMPARED; tries += 1) {
      const task = this.task();
      if (key[task] < 0 || plan.place[task] < 0) continue;
      const count = counts[key[task] * c.crewSlots + plan.place[task]];
      if (count < least) {
        best = task;
        least = count;
      }
    }
    return best;
  }

  /** A place of the window set by `limit`, full or not; -1 when nobody works there. */
  shift(): number {
    const { plan } = this;
    if (plan.highSlot < plan.lowSlot) return -1;
    const from = this.workingFrom[plan.lowSlot];
    const count = this.workingFrom[plan.highSlot + 1] - from;
    return count <= 0 ? -1 : this.working[from + this.random.integer(0, count - 1)];
  }

  /** A place of the window set by `limit`, rather one with room and the state the task needs; -1 when nobody works there. */
  place(task: number): number {
    const { c } = this;
    const main = c.main[task];
    let place = -1;
    for (let tries = 0; tries < PLACES_DRAWN; tries += 1) {
      place = this.shift();
      if (place < 0) return -1;
      if (!this.hasRoom(task, place)) continue;
      if (main < 0 || c.natural[main * c.slots + Math.floor(place / c.crews)] === c.state[task]) break;
    }
    return place;
  }

  /** Whether the task's own minutes still go into a place. */
  hasRoom(task: number, place: number): boolean {
    return this.plan.load[place] + this.c.minutes[task] <= this.c.capacity[place];
  }

  /** The place of a random task that shares the building or the main; -1 when it has none. */
  neighbour(task: number, byMain: boolean): number {
    const { plan, c, random } = this;
    const key = byMain ? c.main[task] : c.building[task];
    if (key < 0) return -1;
    const other = this.of(byMain ? this.ofMain : this.ofBuilding, key);
    if (other < 0) return -1;
    let place = plan.place[other];
    if (place < 0) return -1;
    // Another person in the same slot now and then: sessions are shared.
    if (byMain && c.crews > 1 && random.integer(0, 3) === 0) {
      const slot = Math.floor(place / c.crews);
      place = slot * c.crews + random.integer(0, c.crews - 1);
      if (c.capacity[place] === 0) return -1;
    }
    return place;
  }

  /** The place of a random task of the same floor; -1 when it has none. */
  onFloor(task: number): number {
    const floor = this.c.floor[task];
    return floor < 0 ? -1 : this.plan.place[this.of(this.ofFloor, floor)];
  }

  /** The place of a task that shares the main, or the building of one that needs none. */
  related(task: number): number {
    return this.neighbour(task, this.c.main[task] >= 0);
  }

  /** Where to begin lifting: mostly where a task of the building at work stands. */
  seedPlace(): number {
    const { plan, c, random } = this;
    const place = random.integer(0, 3) > 0 ? plan.place[this.task()] : -1;
    const slot = Math.floor(place / c.crews);
    return place >= 0 && slot >= this.seedSlots[0] && slot <= this.seedSlots[1]
      ? place
      : this.busy[random.integer(0, this.busy.length - 1)];
  }

  /** A place a few slots before or after; -1 when nobody works there. */
  around(place: number): number {
    const { c, random } = this;
    const slot = Math.floor(place / c.crews) + random.integer(-NEARBY, NEARBY);
    if (slot < this.seedSlots[0] || slot > this.seedSlots[1]) return -1;
    const near = slot * c.crews + random.integer(0, c.crews - 1);
    return c.capacity[near] > 0 ? near : -1;
  }

  /** One of the first tasks that stand at a place; -1 when there is none. */
  taskAt(place: number): number {
    const { plan, random } = this;
    let task = plan.head[place];
    for (let skip = random.integer(0, 7); skip > 0 && task >= 0 && plan.next[task] >= 0; skip -= 1)
      task = plan.next[task];
    return task;
  }

  /** A task that its main is switched for, of some looked at; -1 when none of them is. */
  switchedTask(): number {
    for (let tries = 0; tries < TASKS_LOOKED_AT; tries += 1) {
      const task = this.task();
      if (this.isSwitched(task)) return task;
    }
    return -1;
  }

  /** Whether a task has a place at which its main, not held for days, must be switched for it. */
  private isSwitched(task: number): boolean {
    const { plan, c } = this;
    const place = plan.place[task];
    const main = c.main[task];
    if (place < 0 || main < 0 || c.holds[main] === 1 || plan.portable[task] === 1) return false;
    return c.natural[main * c.slots + Math.floor(place / c.crews)] !== c.state[task];
  }

  /** The places, up to so many, of the tasks that a main is switched for. */
  sessionPlaces(main: number, most: number): number[] {
    const { plan, ofMain } = this;
    const places: number[] = [];
    for (let at = ofMain.start[main]; at < ofMain.start[main + 1] && places.length < most; at += 1) {
      const task = ofMain.list[at];
      if (this.isSwitched(task) && !places.includes(plan.place[task])) places.push(plan.place[task]);
    }
    return places;
  }

  get hasUnplaced(): boolean {
    return this.unplaced.length > 0;
  }

  /** A random task that could have a place and has none; -1 when there is none. */
  someUnplaced(): number {
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

  /** Notes a task that has lost its place. */
  listUnplaced(task: number): void {
    if (this.isListed[task] === 1) return;
    this.isListed[task] = 1;
    this.unplaced.push(task);
  }
}
