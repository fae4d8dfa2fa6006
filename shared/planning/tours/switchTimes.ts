/**
 * When a main is changed by hand in a shift, and changed back, and when everybody is done. The change is made when
 * the first of those who need it comes to it, the way back when the last of them has finished; nobody reads anything
 * that needs the natural state of that main in between: who has such work waits, or does it before. Minutes of work
 * and walking as the plan counts them; both changes are counted for everybody who works under them.
 */
import { compareText } from '../engine/compile.ts';
import type { DrawnVisit, Overrun, PlanInstance, PlanState, PlanTask } from '../instance.ts';
import { excursionOf, mainNamed } from './route.ts';

export type SwitchTime = {
  slot: number;
  main: string;
  state: PlanState;
  /** Minutes after the start of the shift at which the change, and the way back, begin; null where no such times are found, as when one person needs the main away, natural and away again. */
  begin: number | null;
  back: number | null;
  /** Who works under it, in order of their ids. */
  crews: string[];
};

/** When a person is done in a shift, in minutes after its start, null as above, and how many of these are spent waiting for others. */
export type Finish = { slot: number; crew: string; end: number | null; waits: number };

export type ShiftTimes = { switches: SwitchTime[]; finishes: Finish[] };

type Part = {
  /** The main held away for it; null = none. */
  main: string | null;
  state: PlanState;
  minutes: number;
  /** Mains that it needs in their natural state. */
  natural: Set<string>;
};

type Worker = { crew: string; parts: Part[] };

/** The main that a task of a visit needs, and whether away from its natural state; null = none. */
function needOf(
  instance: PlanInstance,
  visit: DrawnVisit,
  task: PlanTask | undefined,
): { main: string; state: PlanState; isAway: boolean } | null {
  // A visit without a state has its tasks done by portable supply, if they need one at all.
  if (visit.state === null || task?.main === undefined || task.state === undefined) return null;
  if (task.main !== visit.main || task.state !== visit.state) return null;
  const main = mainNamed(instance, task.main);
  if (!main || main.policy === 'hold') return null;
  return { main: main.id, state: task.state, isAway: excursionOf(instance, task, visit) !== null };
}

/** The parts of one person's shift: one for each time a main is away from its natural state, and what is between. */
function partsOf(
  instance: PlanInstance,
  visits: readonly DrawnVisit[],
  taskOf: ReadonlyMap<string, PlanTask>,
): Part[] {
  const seen = new Set<string>();
  const parts: Part[] = [];
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
    const away = needs.find((one) => one.isAway);
    for (const id of visit.tasks) minutes += taskOf.get(id)?.min ?? 0;
    const main = away?.main ?? null;
    const natural = needs.flatMap((one) => (one.isAway ? [] : [one.main]));
    const last = parts.at(-1);
    const isSame = last?.main === main && (main !== null || isSameSet(last.natural, natural));
    if (last && isSame) last.minutes += minutes;
    else parts.push({ main, state: away?.state ?? 'L', minutes, natural: new Set(natural) });
  }
  return parts;
}

function isSameSet(set: ReadonlySet<string>, list: readonly string[]): boolean {
  return new Set(list).size === set.size && list.every((one) => set.has(one));
}

type Window = { state: PlanState; begin: number; back: number; crews: Set<string>; minutes: number };

type End = { end: number; waits: number };

/** One look at a slot: everybody's shift along the windows of the look before; answers the windows and ends it comes to. */
function look(
  people: readonly Worker[],
  windows: ReadonlyMap<string, Window>,
): { next: Map<string, Window>; ends: Map<string, End> } {
  const next = new Map<string, Window>();
  for (const [main, window] of windows) next.set(main, { ...window, begin: Infinity, back: 0 });
  const least = new Map<string, number>();
  const ends = new Map<string, End>();
  for (const { crew, parts } of people) {
    const firstAway = parts.findIndex((one) => one.main !== null);
    let now = 0;
    let waits = 0;
    for (const [at, part] of parts.entries()) {
      const window = part.main === null ? undefined : windows.get(part.main);
      const to = part.main === null ? undefined : next.get(part.main);
      if (window && to) {
        const begin = Math.max(now, window.begin);
        waits += begin - now;
        to.begin = Math.min(to.begin, now);
        to.back = Math.max(to.back, begin + window.minutes + part.minutes);
        // Both changes are counted for everybody, as the plan counts them.
        now = begin + 2 * window.minutes + part.minutes;
        continue;
      }
      const held = [...part.natural].flatMap((main) => windows.get(main) ?? []);
      const isBefore = held.every((one) => now + part.minutes <= one.begin || now >= one.back + one.minutes);
      const isOwnBefore = at < firstAway;
      if (!isBefore && !isOwnBefore) {
        const start = held.reduce((latest, one) => Math.max(latest, one.back + one.minutes), now);
        waits += start - now;
        now = start;
      }
      now += part.minutes;
      if (isOwnBefore) for (const main of part.natural) least.set(main, Math.max(least.get(main) ?? 0, now));
    }
    ends.set(crew, { end: now, waits });
  }
  // A change is never made earlier than in the look before: so the looks come to an end.
  for (const [main, window] of next)
    window.begin = Math.max(window.begin, least.get(main) ?? 0, windows.get(main)?.begin ?? 0);
  return { next, ends };
}

function windowsOf(instance: PlanInstance, people: readonly Worker[]): Map<string, Window> {
  const windows = new Map<string, Window>();
  for (const { crew, parts } of people)
    for (const { main, state } of parts) {
      if (main === null) continue;
      const minutes = mainNamed(instance, main)?.switchMin ?? 0;
      const window = windows.get(main) ?? { state, begin: 0, back: 0, crews: new Set(), minutes };
      window.crews.add(crew);
      windows.set(main, window);
    }
  return windows;
}

/** Looks at one slot, enough for any chain of persons and mains to settle. */
const MOST_LOOKS = 40;

/** Times of whole shifts: the visits of all persons of a slot must be among them, and the chosen ways settled in the instance. By slot; switches by begin, then by main. */
export function shiftTimes(instance: PlanInstance, visits: readonly DrawnVisit[]): ShiftTimes {
  const taskOf = new Map(instance.tasks.map((task) => [task.id, task]));
  const times: ShiftTimes = { switches: [], finishes: [] };
  const bySlot = [...Map.groupBy(visits, (visit) => visit.slot)].sort(([a], [b]) => a - b);
  for (const [slot, own] of bySlot) {
    const people = [...Map.groupBy(own, (visit) => visit.crew)]
      .sort(([a], [b]) => compareText(a, b))
      .map(([crew, list]) => ({
        crew,
        parts: partsOf(
          instance,
          list.toSorted((a, b) => a.order - b.order),
          taskOf,
        ),
      }));
    let windows = windowsOf(instance, people);
    let ends = new Map<string, End>();
    let isSettled = false;
    for (let looks = 0; looks < MOST_LOOKS && !isSettled; looks += 1) {
      const seen = look(people, windows);
      isSettled = [...seen.next].every(([main, { begin, back }]) => {
        const before = windows.get(main);
        return before?.begin === begin && before.back === back;
      });
      windows = seen.next;
      ends = seen.ends;
    }
    const known = (minutes: number): number | null => (isSettled ? minutes : null);
    const switches = [...windows]
      .sort(([a, one], [b, other]) => one.begin - other.begin || compareText(a, b))
      .map(([main, { state, begin, back, crews }]) => ({
        slot,
        main,
        state,
        begin: known(begin),
        back: known(back),
        crews: [...crews].sort(compareText),
      }));
    times.switches.push(...switches);
    for (const { crew } of people) {
      const { end, waits } = ends.get(crew) as End;
      times.finishes.push({ slot, crew, end: known(end), waits });
    }
  }
  return times;
}

/** The shifts that run over with all waiting, beyond regular minutes and overtime. */
export function overrunsOf(instance: PlanInstance, { finishes }: ShiftTimes): Overrun[] {
  const crews = new Map(instance.crews.map((crew) => [crew.id, crew]));
  return finishes.flatMap(({ slot, crew, end }) => {
    const person = crews.get(crew);
    const minutes = (end ?? 0) - (person?.regular[slot] ?? 0) - (person?.overtime?.[slot] ?? 0);
    return minutes > 0 ? [{ slot, crew, minutes }] : [];
  });
}
