/**
 * Steps of the search: single moves, exchanges, moves of a whole stop, bringing two visits together, exchanging
 * whole shifts, closing a session, joining all sessions of a main in one, lifting and reinserting what belongs
 * together, and making room for what has no place. A step that makes the plan dearer than the threshold allows is undone.
 */
import type { Random } from '../random.ts';
import type { Compiled } from './compile.ts';
import type { Heads } from './heads.ts';
import { Lifted, leaveTime } from './lifted.ts';
import { Picks } from './picks.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';

/** Tasks lifted at once. */
const MOST_LIFTED = 40;
/** What is lifted besides them where a second place gives way. */
const MOST_BOTH = 2 * MOST_LIFTED;
/** Shifts at most whose sessions of one main are joined. */
const MOST_JOINED = 16;
/** A session may hold more; none holds as many. */
const MOST_OF_SESSION = 2_000;

/** The steps of the search on one plan. Each step leaves a plan that may stand, whether it was taken or not. */
export class Moves {
  private readonly plan: Plan;
  private readonly c: Compiled;
  private readonly heads: Heads;
  private readonly random: Random;
  private readonly picks: Picks;
  private readonly lifted: Lifted;
  private threshold = 0;

  constructor(plan: Plan, heads: Heads, random: Random, seedSlots: [number, number]) {
    this.plan = plan;
    this.c = plan.c;
    this.heads = heads;
    this.random = random;
    this.picks = new Picks(plan, heads, random, seedSlots);
    this.lifted = new Lifted(plan, heads, this.picks);
  }

  get hasUnplaced(): boolean {
    return this.picks.hasUnplaced;
  }

  get canMove(): boolean {
    return this.picks.canMove;
  }

  turn(): void {
    this.picks.turn();
  }

  setThreshold(most: number): void {
    this.threshold = most <= 0 ? 0 : this.random.integer(0, most);
  }

  /** Moves one task if that is no dearer than the threshold allows. */
  relocate(): void {
    const { plan, c, picks } = this;
    const task = picks.task();
    const old = plan.place[task];
    if (!plan.limit(task)) return;
    if (old < 0) leaveTime(plan, this.heads, task);
    const dice = this.random.integer(0, 9);
    const place =
      dice < 3
        ? picks.onFloor(task)
        : dice < 4
          ? picks.neighbour(task, false)
          : dice < 7
            ? picks.neighbour(task, true)
            : picks.place(task);
    // At its own place only the other way of doing it is new.
    if (place < 0 || (place === old && c.portable[task] < 0)) return;
    if (old < 0) {
      const price = plan.price(task, place);
      if (price !== IMPOSSIBLE && price - c.leaveOut[task] <= this.threshold)
        plan.addPriced(task, place, plan.way, price);
      return;
    }
    const slot = Math.floor(place / c.crews);
    if (slot < plan.lowSlot || slot > plan.highSlot) return;
    const way = plan.portable[task];
    const saved = plan.remove(task);
    const price = plan.price(task, place);
    if (price !== IMPOSSIBLE && price - saved <= this.threshold) plan.addPriced(task, place, plan.way, price);
    else if (saved > c.leaveOut[task] && !plan.hasPlacedSuccessor(task)) picks.listUnplaced(task);
    else plan.addPriced(task, old, way, saved);
  }

  /** Exchanges the places of two tasks: what a full shift needs instead of a single move. */
  exchange(): void {
    const { plan, c, random, picks } = this;
    const one = picks.task();
    const from = plan.place[one];
    const key = random.integer(0, 2);
    const to =
      from < 0
        ? -1
        : key === 0
          ? picks.onFloor(one)
          : key === 1
            ? picks.neighbour(one, true)
            : picks.neighbour(one, false);
    if (to < 0 || to === from) return;
    let other = plan.head[to];
    for (let skip = random.integer(0, 15); skip > 0 && other >= 0; skip -= 1)
      other = plan.next[other] >= 0 ? plan.next[other] : plan.head[to];
    if (other < 0 || c.frozen[other] >= 0) return;
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

  /** Whether a task needs the state of the main that a given one needs. */
  private sessionOf(seed: number): (task: number) => boolean {
    const { main, state } = this.c;
    return (task) => main[task] === main[seed] && state[task] === state[seed];
  }

  /** Moves all tasks of one person, slot and floor (or building, or session) to another place. */
  moveBlock(): void {
    const { plan, c, random, picks, lifted } = this;
    const seed = picks.task();
    const from = plan.place[seed];
    if (from < 0 || c.building[seed] < 0) return;
    const kind = random.integer(0, 2);
    lifted.begin(this.threshold);
    if (kind < 2) {
      const key = kind === 0 ? c.floor : c.building;
      lifted.liftAt(from, MOST_LIFTED, (task) => key[task] === key[seed]);
    } else if (c.main[seed] >= 0) lifted.liftAt(from, MOST_LIFTED, this.sessionOf(seed));
    let isDone = false;
    if (lifted.tasks.length > 0 && plan.limit(seed)) {
      const place =
        random.integer(0, 2) > 0 ? picks.neighbour(seed, random.integer(0, 1) === 1) : picks.place(seed);
      isDone = place >= 0 && place !== from && lifted.putAllAt(place);
    }
    lifted.end(isDone);
  }

  /** Brings what two shifts do on one floor (or in one building) together in one of them, and sends other work back. */
  gather(): void {
    const { plan, c, picks, lifted } = this;
    const byFloor = this.random.integer(0, 2) < 2;
    const seed = picks.taskOfSmallVisit(byFloor);
    if (seed < 0) return;
    const from = plan.place[seed];
    const to = byFloor ? picks.onFloor(seed) : picks.neighbour(seed, false);
    if (to < 0 || to === from) return;
    const key = byFloor ? c.floor : c.building;
    lifted.begin(this.threshold);
    lifted.liftAt(from, MOST_LIFTED, (task) => key[task] === key[seed]);
    const come = lifted.tasks.length;
    const anchor = picks.taskAt(to);
    if (anchor >= 0 && key[anchor] !== key[seed])
      lifted.liftAt(to, MOST_BOTH, (task) => key[task] === key[anchor]);
    lifted.end(lifted.putCrosswise(from, to, come));
  }

  /** Exchanges the work of two shifts, as far as it may stand there. */
  exchangeShifts(): void {
    const { plan, picks, lifted } = this;
    const seed = picks.task();
    const from = plan.place[seed];
    if (from < 0 || !plan.limit(seed)) return;
    const to = picks.shift();
    if (to < 0 || to === from) return;
    lifted.begin(this.threshold);
    lifted.liftAt(from, MOST_LIFTED);
    const come = lifted.tasks.length;
    lifted.liftAt(to, MOST_BOTH);
    lifted.end(lifted.putCrosswise(from, to, come));
  }

  /** Lifts all that needs a main to be switched in one slot, and reinserts it where it is cheapest. */
  closeSession(): void {
    const { plan, c, random, picks, lifted } = this;
    const seed = picks.task();
    const place = plan.place[seed];
    const main = c.main[seed];
    const slot = Math.floor(place / c.crews);
    if (place < 0 || main < 0 || (c.holds[main] === 0 && c.natural[main * c.slots + slot] === c.state[seed]))
      return;
    lifted.begin(this.threshold);
    for (let at = slot * c.crews; at < (slot + 1) * c.crews; at += 1)
      lifted.liftAt(at, MOST_OF_SESSION, this.sessionOf(seed));
    const places: number[] = [];
    if (plan.limit(seed))
      for (let left = random.integer(0, 3); left > 0; left -= 1) {
        const other = picks.place(seed);
        if (other < 0 || places.includes(other)) continue;
        places.push(other);
        lifted.liftAt(other, MOST_BOTH);
      }
    lifted.end(lifted.reinsert(places));
  }

  /** Brings all that needs a main to be switched, in several slots, together in one, and sends away what stands there. */
  joinSessions(): void {
    const { c, picks, lifted } = this;
    const seed = picks.switchedTask();
    if (seed < 0) return;
    const main = c.main[seed];
    lifted.begin(this.threshold);
    const places = picks.sessionPlaces(main, MOST_JOINED);
    for (const place of places) lifted.liftAt(place, MOST_OF_SESSION, this.sessionOf(seed));
    const target = lifted.commonSlot();
    lifted.end(target >= 0 && lifted.fillSlot(target) && lifted.reinsert(places));
  }

  /** Lifts the tasks of a place and of related places, and reinserts each where it is cheapest. */
  rebuild(): void {
    const { lifted } = this;
    lifted.begin(this.threshold, true);
    const only = this.chooseLifted();
    if (lifted.tasks.length === 0) return;
    lifted.end(lifted.reinsert(only));
  }

  /** Lifts; answers places that every reinsertion should try. */
  private chooseLifted(): number[] {
    const { c, random, picks, lifted } = this;
    const places: number[] = [];
    const unplaced = random.integer(0, 4) === 0 ? picks.someUnplaced() : -1;
    const first = unplaced >= 0 ? picks.related(unplaced) : picks.seedPlace();
    if (unplaced >= 0) {
      lifted.liftWithPreds(unplaced, false);
      if (first < 0) return places;
    }
    places.push(first);
    const anchor = picks.taskAt(first);
    const building = random.integer(0, 1) === 0 && anchor >= 0 ? c.building[anchor] : -1;
    for (let left = random.integer(1, 3); left > 0; left -= 1) {
      const related =
        anchor >= 0 && random.integer(0, 2) < 2 ? picks.neighbour(anchor, random.integer(0, 2) === 0) : -1;
      const near = related >= 0 ? related : picks.around(first);
      if (near >= 0 && !places.includes(near)) places.push(near);
    }
    for (const place of places)
      lifted.liftAt(place, MOST_LIFTED, (task) => building < 0 || c.building[task] === building);
    return places;
  }

  /** Puts a task that has no place, and what it waits for, where others stand, and looks for new places for them. */
  makeRoom(): void {
    const { plan, random, picks, lifted, heads } = this;
    const wanted = picks.someUnplaced();
    const task = wanted < 0 ? -1 : this.firstOf(wanted);
    if (task < 0 || heads.forcedOut[task] || this.c.frozen[task] >= 0) return;
    lifted.begin(this.threshold);
    if (plan.place[task] >= 0) lifted.liftWithSuccessors(task, MOST_BOTH);
    lifted.liftWithPreds(wanted, true);
    let isDone = false;
    if (plan.limit(task)) {
      plan.highSlot = Math.min(plan.highSlot, heads.latest[task]);
      const place = random.integer(0, 1) === 0 ? picks.shift() : picks.related(task);
      if (place >= 0) {
        this.clear(place, task);
        isDone = plan.limit(task) && lifted.put(task, place) && lifted.reinsert([place]);
      }
    }
    lifted.end(isDone);
  }

  /** What has to be placed first for a task: the first it waits for without a place; or, where the last of them stands too late for it, that one. */
  private firstOf(wanted: number): number {
    const { plan, c } = this;
    let task = wanted;
    for (let hops = 0; hops < 8; hops += 1) {
      let before = -1;
      let last = -1;
      for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1) {
        const pred = c.preds[edge];
        if (plan.place[pred] < 0) before = pred;
        else if (last < 0 || plan.place[pred] > plan.place[last]) last = pred;
      }
      if (before < 0) {
        plan.limit(task);
        return plan.lowSlot > plan.highSlot && last >= 0 ? last : task;
      }
      task = before;
    }
    return task;
  }

  /** Lifts some of what stands at a place where a task is to go. */
  private clear(place: number, task: number): void {
    const { plan, lifted } = this;
    const most = lifted.tasks.length + this.random.integer(1, MOST_LIFTED);
    for (let other = plan.head[place]; other >= 0;) {
      const after = plan.next[other];
      if (lifted.tasks.length <= most && !this.isPredOf(other, task))
        lifted.liftWithSuccessors(other, most + MOST_LIFTED);
      // A successor at the same place may have gone with it: then the list has changed under the loop.
      other = after >= 0 && plan.place[after] !== place ? -1 : after;
    }
  }

  private isPredOf(other: number, task: number): boolean {
    const { c } = this;
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
      if (c.preds[edge] === other) return true;
    return false;
  }
}
