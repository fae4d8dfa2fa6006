/** A person's shift in parts, as far as the changes of mains by hand matter. */
import type { DrawnVisit, PlanInstance, PlanMain, PlanState, PlanTask } from '../instance.ts';
import { excursionOf, mainNamed } from './route.ts';

/** A main held away from its natural state in a slot: for the how many-th time a person needs it so, from 0. */
export type Session = { main: string; state: PlanState; nth: number };

export type Part = {
  /** What it is done in; null = no main is held away for it. */
  session: Session | null;
  /** Of work and walking in all. */
  minutes: number;
  /** Of these, walking before any work. */
  walk: number;
  /** Mains that it needs in their natural state. */
  natural: Set<string>;
  /** The state that it needs of a main that is held for days; null = none. */
  held: { main: string; state: PlanState; isFirst: boolean } | null;
};

/** The main that a task of a visit needs, whether away from its natural state, and whether it is held for days; null = none. */
function needOf(
  instance: PlanInstance,
  visit: DrawnVisit,
  task: PlanTask | undefined,
): { main: PlanMain; state: PlanState; isAway: boolean; isHeld: boolean } | null {
  // A visit without a state has its tasks done by portable supply, if they need one at all.
  if (visit.state === null || task?.main === undefined || task.state === undefined) return null;
  if (task.main !== visit.main || task.state !== visit.state) return null;
  const main = mainNamed(instance, task.main);
  if (!main) return null;
  const isHeld = main.policy === 'hold';
  const isAway = !isHeld && excursionOf(instance, task, visit) !== null;
  return { main, state: task.state, isAway, isHeld };
}

function isSameSet(set: ReadonlySet<string>, list: readonly string[]): boolean {
  return new Set(list).size === set.size && list.every((one) => set.has(one));
}

/**
 * The parts of one person's shift, whose visits are given in working order; `found` has the states in which it finds
 * the mains that are held for days. A main stays away from its natural state through other work, until the person
 * needs it natural: then what comes after needs it changed another time.
 */
export function partsOf(
  instance: PlanInstance,
  visits: readonly DrawnVisit[],
  { taskOf, found }: { taskOf: ReadonlyMap<string, PlanTask>; found: ReadonlyMap<string, PlanState> },
): Part[] {
  const seen = new Set<string>();
  const parts: Part[] = [];
  const nthOf = new Map<string, number>();
  const away = new Set<string>();
  const once = (place: string, minutes: number): number => {
    if (seen.has(place)) return 0;
    seen.add(place);
    return minutes;
  };
  for (const visit of visits) {
    let minutes = 0;
    if (visit.building !== null) minutes += once(`b ${visit.building}`, instance.travel?.building ?? 0);
    if (visit.floor !== null)
      minutes += once(`f ${visit.building}/${visit.floor}`, instance.travel?.floor ?? 0);
    const needs = visit.tasks.flatMap((id) => needOf(instance, visit, taskOf.get(id)) ?? []);
    const needed = needs.find((one) => one.isAway);
    const walk = minutes;
    for (const id of visit.tasks) minutes += taskOf.get(id)?.min ?? 0;
    // Whoever works on a main that is held for days counts one change of it, as the plan does.
    for (const { main, state, isHeld } of needs)
      if (isHeld) minutes += once(`h ${main.id} ${state}`, main.switchMin ?? 0);
    const natural = needs.flatMap(({ main, isAway, isHeld }) => (isAway || isHeld ? [] : [main.id]));
    const own = needs.find((one) => one.isHeld);
    const held = own
      ? { main: own.main.id, state: own.state, isFirst: found.get(own.main.id) === own.state }
      : null;
    const last = parts.at(-1);
    if (needed) {
      const { state } = needed;
      const main = needed.main.id;
      if (!away.has(main)) nthOf.set(main, (nthOf.get(main) ?? -1) + 1);
      away.add(main);
      if (last?.session?.main === main) last.minutes += minutes;
      else {
        const session = { main, state, nth: nthOf.get(main) ?? 0 };
        parts.push({ session, minutes, walk, natural: new Set(), held: null });
      }
      continue;
    }
    for (const main of natural) away.delete(main);
    const isSame =
      last?.session === null &&
      isSameSet(last.natural, natural) &&
      last.held?.main === held?.main &&
      last.held?.state === held?.state;
    if (last && isSame) last.minutes += minutes;
    else parts.push({ session: null, minutes, walk, natural: new Set(natural), held });
  }
  return parts;
}
