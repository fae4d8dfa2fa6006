/**
 * Mends what the plan itself does not count: a shift that runs over because those who share a main wait for each
 * other, and a main that one person needs away from its natural state, back, and away again. What makes it so goes
 * elsewhere, one task at a time; a plan never runs over longer after it, and is dearer only for minutes that no
 * longer run over.
 */
import { emptyAssignment } from '../instance.ts';
import { statesOf } from '../heldStates.ts';
import type { HeldState } from '../heldStates.ts';
import { linked } from '../linked.ts';
import { workedShifts } from '../shifts.ts';
import { placementOf } from './assignment.ts';
import type { Heads } from './heads.ts';
import { restore } from './improve.ts';
import { cheapestPlace } from './places.ts';
import type { Plan } from './plan.ts';
import { settle } from './settle.ts';

/** What runs over after so many looks is left to be told. */
const MOST_LOOKS = 2;
/** Tasks sent away from one slot at most. */
const MOST_SENT = 30;

/** Minutes that run over, and points for changes of mains that the plan does not count. */
type Excess = { over: number; points: number };
const NONE: Excess = { over: 0, points: 0 };

/** Minutes run over by crew-slot, and the points of further changes, of those whom mains link. */
type Known = { overruns: [number, number][]; points: number };

type Step = { task: number; to: number; way: number; over: number; points: number };

/** Less time run over for its price comes first; then what only saves points. */
function isBetter(step: Step, than: Step | null): boolean {
  if (step.over > 0 || (step.over === 0 && step.points >= 0)) return false;
  if (than === null) return true;
  if (step.over === 0 || than.over === 0)
    return step.over === than.over ? step.points < than.points : step.over < 0;
  return step.points * -than.over < than.points * -step.over;
}

class Relief {
  private readonly plan: Plan;
  private readonly heads: Heads;
  private readonly mayRelieve: (place: number) => boolean;
  private readonly crewOf: ReadonlyMap<string, number>;
  /** What was worked out already, by tasks, places and ways. */
  private readonly known = new Map<string, Known>();

  constructor(plan: Plan, heads: Heads, mayRelieve: (place: number) => boolean) {
    this.plan = plan;
    this.heads = heads;
    this.mayRelieve = mayRelieve;
    this.crewOf = new Map(plan.c.instance.crews.map((crew, index) => [crew.id, index]));
  }

  /** The tasks of all who work on mains that are changed by hand in a slot, those together whom a main links: nobody else waits. */
  private linkedIn(slot: number): number[][] {
    const { c, head, next, forced } = this.plan;
    const people: { mains: number[]; tasks: number[] }[] = [];
    for (let place = slot * c.crews; place < (slot + 1) * c.crews; place += 1) {
      const tasks: number[] = [];
      for (let task = head[place]; task >= 0; task = next[task]) tasks.push(task);
      const mains = tasks
        .map((task) => c.main[task])
        .filter((main) => main >= 0 && (c.holds[main] === 1 || forced[main * c.slots + slot] > 0));
      if (mains.length > 0) people.push({ mains, tasks });
    }
    return linked(people, ({ mains }) => mains).map((group) =>
      group.flatMap(({ tasks }) => tasks).sort((a, b) => a - b),
    );
  }

  /** As `heldStates` of the whole plan, for the mains of some tasks in one slot. */
  private heldFor(slot: number, tasks: readonly number[]): HeldState[] {
    const { plan } = this;
    const { c } = plan;
    const mains = new Set(
      tasks.map((task) => c.main[task]).filter((main) => main >= 0 && c.holds[main] === 1),
    );
    return [...mains].flatMap((main) =>
      statesOf(c.instance.mains?.[main].id ?? '', plan.heldChangesOf(main).last).filter(
        (one) => one.slot === slot,
      ),
    );
  }

  private timesOf(slot: number, tasks: readonly number[]): Known {
    const { c, place, portable } = this.plan;
    const held = this.heldFor(slot, tasks);
    const key = `${tasks.map((task) => `${task} ${place[task]} ${portable[task]}`).join()};${held.map((one) => `${one.main} ${one.found}`).join()}`;
    let known = this.known.get(key);
    if (known) return known;
    const own = { ...c.instance, tasks: tasks.map((task) => c.taskList[task]) };
    const asked = emptyAssignment();
    for (const task of tasks) asked[c.taskList[task].id] = placementOf(c, place[task], portable[task]);
    const { overruns, furtherChanges } = workedShifts(own, asked, held);
    known = {
      overruns: overruns.map(({ crew, minutes }) => [
        slot * c.crews + (this.crewOf.get(crew) as number),
        minutes,
      ]),
      points: (furtherChanges / 2) * c.sessionPrice[slot],
    };
    this.known.set(key, known);
    return known;
  }

  private excessIn(slot: number): Excess {
    const excess = { over: 0, points: 0 };
    for (const tasks of this.linkedIn(slot)) {
      const { overruns, points } = this.timesOf(slot, tasks);
      excess.points += points;
      for (const [place, minutes] of overruns) if (this.mayRelieve(place)) excess.over += minutes;
    }
    return excess;
  }

  /** What sending a task to its cheapest other place changes, null = nothing to the good; leaves the plan as it was. */
  private stepOf(task: number, slot: number, now: Excess): Step | null {
    const { plan } = this;
    const place = plan.place[task];
    const way = plan.portable[task];
    const saved = plan.remove(task);
    const without = this.excessIn(slot);
    const isRelief = without.over < now.over || without.points < now.points;
    const step = isRelief ? this.stepElsewhere(task, slot, place) : null;
    plan.addPriced(task, place, way, saved);
    if (!step) return null;
    return { ...step, over: step.over - now.over, points: step.points - saved - now.points };
  }

  /** The cheapest place but one for a task without a place, with what then is too much in a slot, and more in that place's. */
  private stepElsewhere(task: number, slot: number, but: number): Step | null {
    const { plan } = this;
    plan.limit(task);
    const [price, to, way] = cheapestPlace(plan, task, but);
    if (to < 0 || price >= plan.c.leaveOut[task]) return null;
    const other = Math.floor(to / plan.c.crews);
    const before = other === slot ? NONE : this.excessIn(other);
    plan.addPriced(task, to, way, price);
    const after = other === slot ? NONE : this.excessIn(other);
    const left = this.excessIn(slot);
    plan.remove(task);
    return {
      task,
      to,
      way,
      over: left.over + after.over - before.over,
      points: price + left.points + after.points - before.points,
    };
  }

  private relieve(slot: number): void {
    const { plan } = this;
    for (let sent = 0; sent < MOST_SENT; sent += 1) {
      const now = this.excessIn(slot);
      if (now.over === 0 && now.points === 0) return;
      let best: Step | null = null;
      const tasks = this.linkedIn(slot).flat();
      for (const task of tasks.sort((a, b) => a - b)) {
        if (plan.c.frozen[task] >= 0 || plan.hasPlacedSuccessor(task)) continue;
        const step = this.stepOf(task, slot, now);
        if (step && isBetter(step, best)) best = step;
      }
      if (best === null) return;
      plan.remove(best.task);
      plan.add(best.task, best.to, best.way);
    }
  }

  /** The slots with something to mend, and how much in all. */
  private look(): Excess & { slots: number[] } {
    const found = { over: 0, points: 0, slots: [] as number[] };
    for (let slot = 0; slot < this.plan.c.slots; slot += 1) {
      const { over, points } = this.excessIn(slot);
      if (over > 0 || points > 0) found.slots.push(slot);
      found.over += over;
      found.points += points;
    }
    return found;
  }

  /** Settles the plan, but for the slots just mended, and unless that undoes more than it mends. */
  private settle(slots: readonly number[], mended: Excess): void {
    const { plan, heads } = this;
    const { c } = plan;
    const capacity = c.capacity.slice();
    const before = { total: plan.total, place: plan.place.slice(), portable: plan.portable.slice() };
    for (const slot of slots)
      for (let place = slot * c.crews; place < (slot + 1) * c.crews; place += 1)
        c.capacity[place] = plan.load[place];
    settle(plan, heads);
    c.capacity.set(capacity);
    const after = this.look();
    const isWorse = after.over > mended.over;
    if (isWorse || (after.over === mended.over && plan.total + after.points > before.total + mended.points))
      restore(plan, before.place, before.portable);
  }

  run(): void {
    for (let look = 0; look < MOST_LOOKS; look += 1) {
      const { slots } = this.look();
      if (slots.length === 0) return;
      for (const slot of slots) this.relieve(slot);
      this.settle(slots, this.look());
    }
  }
}

/** Relieves the shifts that run over, of those that may be, as far as that can be done. The plan stays one that may stand. */
export function handBack(
  plan: Plan,
  heads: Heads,
  mayRelieve: (place: number) => boolean = () => true,
): void {
  new Relief(plan, heads, mayRelieve).run();
}
