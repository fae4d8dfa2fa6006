/**
 * Hands minutes back to the plan where a shift runs over because those who share a main wait for each other, which
 * the plan itself does not count: such a shift holds so many minutes less, and what it then holds too much goes
 * elsewhere.
 */
import { overrunsOf, shiftTimes } from '../tours/switchTimes.ts';
import { drawVisits } from '../visits.ts';
import { settleWays } from '../ways.ts';
import type { Assignment } from '../instance.ts';
import { assignmentOf } from './assignment.ts';
import type { Heads } from './heads.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';
import { cheapestPlace } from './places.ts';
import { settle } from './settle.ts';

/** What runs over after so many looks is left to be seen. */
const MOST_LOOKS = 2;

/** Sends work away from a place until it holds no more than it may; what is dearest to do there goes first. */
function unload(plan: Plan, heads: Heads, place: number): void {
  const { c } = plan;
  while (plan.load[place] > c.capacity[place]) {
    let best = IMPOSSIBLE;
    let gone = -1;
    let to = -1;
    let way = 0;
    const here: number[] = [];
    for (let task = plan.head[place]; task >= 0; task = plan.next[task])
      if (c.frozen[task] < 0 && !plan.hasPlacedSuccessor(task)) here.push(task);
    for (const task of here) {
      const old = plan.portable[task];
      const saved = plan.remove(task);
      plan.limit(task);
      const most = c.capacity[place];
      c.capacity[place] = 0;
      const [price, other, otherWay] = cheapestPlace(plan, task);
      c.capacity[place] = most;
      plan.addPriced(task, place, old, saved);
      if (other < 0 || price >= heads.worth[task] || price - saved >= best) continue;
      best = price - saved;
      gone = task;
      to = other;
      way = otherWay;
    }
    if (gone < 0) return;
    plan.remove(gone);
    plan.add(gone, to, way);
  }
}

/** Where the tasks stand of the slots in which a main is switched by hand: nobody waits in the others. */
function whereSwitched(plan: Plan): Assignment {
  const { c } = plan;
  const isSwitched = (slot: number): boolean => {
    for (let main = 0; main < c.mains; main += 1) if (plan.forced[main * c.slots + slot] > 0) return true;
    return false;
  };
  const switched = new Set(Array.from({ length: c.slots }, (_, slot) => slot).filter(isSwitched));
  const assignment = assignmentOf(c, plan);
  for (const { id } of c.taskList) if (!switched.has(assignment[id]?.slot ?? -1)) assignment[id] = null;
  return assignment;
}

/** Relieves the shifts that run over, of those that may be, as far as that can be done. The plan stays one that may stand. */
export function handBack(
  plan: Plan,
  heads: Heads,
  mayRelieve: (place: number) => boolean = () => true,
): void {
  const { c } = plan;
  const capacity = c.capacity.slice();
  const crews = new Map(c.instance.crews.map((crew, index) => [crew.id, index]));
  for (let look = 0; look < MOST_LOOKS; look += 1) {
    const { instance, assignment } = settleWays(c.instance, whereSwitched(plan));
    const over = overrunsOf(instance, shiftTimes(instance, drawVisits(instance, assignment).visits))
      .map(({ slot, crew, minutes }) => ({ place: slot * c.crews + (crews.get(crew) as number), minutes }))
      .filter(({ place }) => mayRelieve(place));
    if (over.length === 0) break;
    for (const { place, minutes } of over) c.capacity[place] = Math.max(0, plan.load[place] - minutes);
    for (const { place } of over) unload(plan, heads, place);
    settle(plan, heads);
  }
  c.capacity.set(capacity);
}
