/**
 * When a main is changed by hand in a shift, and changed back, and when everybody is done. The change is made when
 * the first of those who need it comes to it, the way back when the last of them has finished; nobody reads anything
 * that needs the natural state of that main in between: who has such work waits, or does it before. Minutes of work
 * and walking as the plan counts them; both changes are counted for everybody who works under them.
 */
import { compareText } from '../engine/compile.ts';
import type { HeldState } from '../heldStates.ts';
import type { DrawnVisit, Overrun, PlanInstance, PlanState } from '../instance.ts';
import { linked } from '../linked.ts';
import { mainNamed } from './route.ts';
import { partsOf } from './shiftParts.ts';
import type { Part, Session } from './shiftParts.ts';

export type SwitchTime = {
  slot: number;
  main: string;
  state: PlanState;
  /** Minutes after the start of the shift at which the change, and the way back, begin. */
  begin: number;
  back: number;
  /** Who works under it, in order of their ids. */
  crews: string[];
};

/** When a person is done in a shift, in minutes after its start, and how many of these are spent waiting for others. */
export type Finish = { slot: number; crew: string; end: number; waits: number };

/** `switches` has a main more than once in a slot where it must be changed again. */
/** When a main that is held for days, and needed in both states, is changed: minutes after the start of the shift, when the last in the state it was found in is done. */
export type HeldChange = { slot: number; main: string; at: number; crews: string[] };

export type ShiftTimes = { switches: SwitchTime[]; finishes: Finish[]; held: HeldChange[] };

type Worker = { crew: string; parts: Part[] };

type Window = Session & { begin: number; back: number; crews: Set<string>; minutes: number };

type End = { end: number; waits: number };

type Times = { windows: Window[]; ends: Map<string, End>; firstUntil: ReadonlyMap<string, number> };

/** What a look finds, and the next one goes by. */
type Seen = {
  windows: ReadonlyMap<string, Window>;
  /** By main that is held for days and needed in both states: until when somebody works in the one that comes first. */
  firstUntil: ReadonlyMap<string, number>;
};

const keyOf = ({ main, nth }: Session): string => `${nth} ${main}`;
const endOf = ({ back, minutes }: Window): number => back + minutes;

/** Own later session of a main after a part: how many-th; Infinity = none. */
function laterOf(parts: readonly Part[], after: number, main: string): number {
  return parts.slice(after + 1).find(({ session }) => session?.main === main)?.session?.nth ?? Infinity;
}

/** The first time from `now` on for so many minutes that lie in none of the windows. */
function freeFrom(now: number, minutes: number, windows: readonly Window[]): number {
  let start = now;
  for (const window of windows.toSorted((a, b) => a.begin - b.begin || a.back - b.back))
    if (start < endOf(window) && start + minutes > window.begin) start = endOf(window);
  return start;
}

/** One look at a slot: everybody's shift along the windows of the look before; answers the windows and ends it comes to. */
class Look {
  readonly next = new Map<string, Window>();
  readonly firstUntil = new Map<string, number>();
  readonly ends = new Map<string, End>();
  /** By window: until when work that comes before it needs the natural state. */
  private readonly least = new Map<string, number>();
  private readonly windows: ReadonlyMap<string, Window>;
  private readonly before: Seen;

  constructor(before: Seen, people: readonly Worker[]) {
    const { windows } = before;
    this.windows = windows;
    this.before = before;
    for (const [key, window] of windows) this.next.set(key, { ...window, begin: Infinity, back: 0 });
    for (const worker of people) this.follow(worker);
    // A change is never made earlier than in the look before: so the looks come to an end.
    for (const [key, window] of this.next) {
      const before = windows.get(keyOf({ ...window, nth: window.nth - 1 }));
      const least = Math.max(this.least.get(key) ?? 0, before ? endOf(before) : 0);
      window.begin = Math.max(window.begin, least, windows.get(key)?.begin ?? 0);
    }
  }

  private follow({ crew, parts }: Worker): void {
    const firstAway = parts.findIndex(({ session }) => session !== null);
    const end: End = { end: 0, waits: 0 };
    for (const [at, { session, minutes, walk, natural, held: needed }] of parts.entries()) {
      if (session) {
        this.work(parts, at, end);
        continue;
      }
      const isBefore = at < firstAway;
      const held: Window[] = [];
      const pushed: string[] = [];
      for (const main of natural) {
        const later = laterOf(parts, at, main);
        const isPushed = ({ nth }: Window): boolean => nth >= later || (isBefore && later === Infinity);
        for (const [key, window] of this.windows)
          if (window.main === main)
            if (isPushed(window)) pushed.push(key);
            else held.push(window);
      }
      // The way there may be gone while the main is still away.
      const there = end.end + walk;
      const until = needed?.isFirst ? 0 : (this.before.firstUntil.get(needed?.main ?? '') ?? 0);
      const start = freeFrom(Math.max(there, until), minutes - walk, held);
      end.waits += start - there;
      end.end = start + minutes - walk;
      if (needed?.isFirst)
        this.firstUntil.set(needed.main, Math.max(this.firstUntil.get(needed.main) ?? 0, end.end));
      for (const key of pushed) this.least.set(key, Math.max(this.least.get(key) ?? 0, end.end));
    }
    this.ends.set(crew, end);
  }

  /** A part under a main that is held away. */
  private work(parts: readonly Part[], at: number, end: End): void {
    const { session, minutes, walk } = parts[at];
    const key = keyOf(session as Session);
    const window = this.windows.get(key) as Window;
    const to = this.next.get(key) as Window;
    const isOwn = (part: Part): boolean => part.session !== null && keyOf(part.session) === key;
    if (!parts.slice(0, at).some(isOwn)) {
      to.begin = Math.min(to.begin, end.end);
      // Who waits for the change may walk to the place meanwhile.
      const walked = Math.min(walk, Math.max(0, window.begin - end.end));
      const begin = Math.max(end.end + walked, window.begin);
      end.waits += begin - end.end - walked;
      end.end = begin + window.minutes - walked;
    }
    end.end += minutes;
    if (parts.slice(at + 1).some(isOwn)) return;
    to.back = Math.max(to.back, end.end);
    end.end += window.minutes;
  }
}

function windowsOf(instance: PlanInstance, people: readonly Worker[]): Map<string, Window> {
  const windows = new Map<string, Window>();
  for (const { crew, parts } of people)
    for (const { session } of parts) {
      if (!session) continue;
      const minutes = mainNamed(instance, session.main)?.switchMin ?? 0;
      const window = windows.get(keyOf(session)) ?? {
        ...session,
        begin: 0,
        back: 0,
        crews: new Set(),
        minutes,
      };
      window.crews.add(crew);
      windows.set(keyOf(session), window);
    }
  return windows;
}

/** Looks at one slot, enough for any chain of persons and mains to settle. */
const MOST_LOOKS = 40;

function isSame({ windows, firstUntil }: Seen, look: Look): boolean {
  const isWindow = ([key, { begin, back }]: [string, Window]): boolean =>
    windows.get(key)?.begin === begin && windows.get(key)?.back === back;
  return (
    [...look.next].every(isWindow) &&
    [...look.firstUntil].every(([main, until]) => firstUntil.get(main) === until)
  );
}

/** Times on which all agree who work at the same time; null = there are none that the looks come to. */
function together(instance: PlanInstance, people: readonly Worker[]): Times | null {
  let before: Seen = { windows: windowsOf(instance, people), firstUntil: new Map() };
  for (let looks = 0; looks < MOST_LOOKS; looks += 1) {
    const look = new Look(before, people);
    if (isSame(before, look))
      return { windows: [...look.next.values()], ends: look.ends, firstUntil: look.firstUntil };
    before = { windows: look.next, firstUntil: look.firstUntil };
  }
  return null;
}

/** One person after another: long, but always possible, as a person alone never waits for long. */
function inTurn(instance: PlanInstance, people: readonly Worker[]): Times {
  const firstUntil = new Map<string, number>();
  const times: Times = { windows: [], ends: new Map(), firstUntil };
  let start = 0;
  for (const worker of people) {
    const alone = { ...worker, parts: worker.parts.map((part) => ({ ...part, held: null })) };
    const own = together(instance, [alone]) as Times;
    for (const window of own.windows)
      times.windows.push({ ...window, begin: start + window.begin, back: start + window.back });
    const { end, waits } = own.ends.get(worker.crew) as End;
    times.ends.set(worker.crew, { end: start + end, waits: start + waits });
    start += end;
    for (const { held } of worker.parts) if (held?.isFirst) firstUntil.set(held.main, start);
  }
  return times;
}

/** Those together whom mains that are changed by hand link. */
function linkedWorkers(people: readonly Worker[]): Worker[][] {
  const changed = new Set(people.flatMap(({ parts }) => parts.flatMap(({ session }) => session?.main ?? [])));
  for (const { parts } of people) for (const { held } of parts) if (held) changed.add(held.main);
  const mainsOf = ({ parts }: Worker): string[] =>
    parts.flatMap(({ session, natural, held }) => [
      ...(session ? [session.main] : natural),
      ...(held ? [held.main] : []),
    ]);
  return linked(people, (worker) => mainsOf(worker).filter((main) => changed.has(main)));
}

/** The changes of held mains that are needed in both states in a slot. */
function heldChangesIn(slot: number, people: readonly Worker[], groups: readonly Times[]): HeldChange[] {
  const until = new Map(groups.flatMap(({ firstUntil }) => [...firstUntil]));
  return [...until].flatMap(([main, at]) => {
    const onIt = people.filter(({ parts }) => parts.some(({ held }) => held?.main === main));
    const isBoth = onIt.some(({ parts }) => parts.some(({ held }) => held?.main === main && !held.isFirst));
    return isBoth ? [{ slot, main, at, crews: onIt.map(({ crew }) => crew) }] : [];
  });
}

/** Times of whole shifts: the visits of all persons of a slot must be among them, the chosen ways settled in the instance, and `states` those of the whole plan. By slot; switches by begin, then by main, finishes by person. */
export function shiftTimes(
  instance: PlanInstance,
  visits: readonly DrawnVisit[],
  states: readonly HeldState[],
): ShiftTimes {
  const taskOf = new Map(instance.tasks.map((task) => [task.id, task]));
  const times: ShiftTimes = { switches: [], finishes: [], held: [] };
  const bySlot = [...Map.groupBy(visits, (visit) => visit.slot)].sort(([a], [b]) => a - b);
  const heldIn = Map.groupBy(states, (one) => one.slot);
  for (const [slot, own] of bySlot) {
    const found = new Map(heldIn.get(slot)?.map((one) => [one.main, one.found]));
    const people = [...Map.groupBy(own, (visit) => visit.crew)]
      .sort(([a], [b]) => compareText(a, b))
      .map(([crew, list]) => ({
        crew,
        parts: partsOf(
          instance,
          list.toSorted((a, b) => a.order - b.order),
          { taskOf, found },
        ),
      }));
    const groups = linkedWorkers(people).map((group) => together(instance, group) ?? inTurn(instance, group));
    const switches = groups
      .flatMap(({ windows }) => windows)
      .sort((a, b) => a.begin - b.begin || compareText(a.main, b.main))
      .map(({ main, state, begin, back, crews }) => ({
        slot,
        main,
        state,
        begin,
        back,
        crews: [...crews].sort(compareText),
      }));
    times.switches.push(...switches);
    const finishes = groups
      .flatMap(({ ends }) => [...ends])
      .sort(([a], [b]) => compareText(a, b))
      .map(([crew, end]) => ({ slot, crew, ...end }));
    times.finishes.push(...finishes);
    times.held.push(...heldChangesIn(slot, people, groups));
  }
  return times;
}

/** The shifts that run over with all waiting, beyond regular minutes and overtime. */
export function overrunsOf(instance: PlanInstance, { finishes }: ShiftTimes): Overrun[] {
  const crews = new Map(instance.crews.map((crew) => [crew.id, crew]));
  return finishes.flatMap(({ slot, crew, end }) => {
    const person = crews.get(crew);
    const minutes = end - (person?.regular[slot] ?? 0) - (person?.overtime?.[slot] ?? 0);
    return minutes > 0 ? [{ slot, crew, minutes }] : [];
  });
}

/** Changes by hand, there and back, beyond the two of a main in a slot that the cost counts. */
export function furtherChanges({ switches }: ShiftTimes): number {
  return 2 * (switches.length - new Set(switches.map((one) => `${one.slot} ${one.main}`)).size);
}
