/**
 * The order of work inside a shift: what an excursion waits for, then one excursion for each main that is switched,
 * then all else; what needs a main in its natural state that anybody holds away in this slot comes last. So those
 * who share a change can begin it at once and hardly wait for each other. Inside a part what others wait for comes first,
 * then floor by floor, each floor by a short tour from its stair. Positions are metres on the floor; rooms
 * without one stand beside each other in the order of their names.
 */
import { compareText } from '../engine/compile.ts';
import type { HeldState } from '../heldStates.ts';
import type { Placement, PlanInstance, PlanMain, PlanState, PlanTask } from '../instance.ts';
import { createRandom } from '../random.ts';
import { shortTour } from './tour.ts';

export type Leg = {
  /** The main that is switched for this part of the shift, and to what; null in the natural part. */
  main: string | null;
  state: 'L' | 'H' | null;
  tasks: PlanTask[];
};

export type Route = { legs: Leg[]; metres: number; floorChanges: number; buildings: number };

/** Metres between neighbouring rooms where the book has no positions; common practice, no source. */
const ROOM_METRES = 6;
const KICKS = 60;

type Stop = { key: string; building: string; floor: string; x: number; y: number; tasks: PlanTask[] };

const mainsOf = new WeakMap<readonly PlanMain[], Map<string, PlanMain>>();

/** A main of an instance by its id. */
export function mainNamed(instance: PlanInstance, id: string): PlanMain | undefined {
  if (!instance.mains) return undefined;
  let mains = mainsOf.get(instance.mains);
  if (!mains) {
    mains = new Map(instance.mains.map((main) => [main.id, main]));
    mainsOf.set(instance.mains, mains);
  }
  return mains.get(id);
}

/** The state that a task makes its main leave the natural one for, in a slot; null when it does not. */
export function excursionOf(
  instance: PlanInstance,
  task: PlanTask,
  place: Placement,
): { main: string; state: 'L' | 'H' } | null {
  if (task.main === undefined || task.state === undefined || place.portable) return null;
  const main = mainNamed(instance, task.main);
  const isNatural = main?.policy !== 'hold' && (main?.natural?.[place.slot] ?? 'L') === task.state;
  return isNatural ? null : { main: task.main, state: task.state };
}

/** Where a task is done: building, floor, room and position. */
function stopKey({ building = '', floor = '', room, x, y }: PlanTask): string {
  return [building, floor, room ?? '', x ?? '', y ?? ''].join('\u0000');
}

function stopsOf(tasks: readonly PlanTask[]): Stop[] {
  const stops = new Map<string, Stop>();
  const rooms = [...new Set(tasks.map((task) => task.room ?? ''))].sort(compareText);
  for (const task of tasks) {
    const room = task.room ?? '';
    const key = stopKey(task);
    const known = stops.get(key);
    if (known) known.tasks.push(task);
    else
      stops.set(key, {
        key,
        building: task.building ?? '',
        floor: task.floor ?? '',
        x: task.x ?? ROOM_METRES * (rooms.indexOf(room) + 1),
        y: task.y ?? 0,
        tasks: [task],
      });
  }
  return [...stops.values()].sort((a, b) => compareText(a.key, b.key));
}

/** Tasks in waves: those of a wave wait for nothing but earlier waves, or for what stands at the same stop. */
function wavesOf(tasks: readonly PlanTask[]): PlanTask[][] {
  const wave = new Map<string, number>();
  const byId = new Map(tasks.map((task) => [task.id, task]));
  const find = (task: PlanTask): number => {
    const known = wave.get(task.id);
    if (known !== undefined) return known;
    wave.set(task.id, 0);
    let own = 0;
    for (const id of task.preds ?? []) {
      const before = byId.get(id);
      if (!before) continue;
      own = Math.max(own, find(before) + (stopKey(before) === stopKey(task) ? 0 : 1));
    }
    wave.set(task.id, own);
    return own;
  };
  const waves: PlanTask[][] = [];
  for (const task of tasks) (waves[find(task)] ??= []).push(task);
  return waves.filter((one) => one !== undefined);
}

/** What others at the same stop wait for comes first. */
function inOrder(tasks: readonly PlanTask[]): PlanTask[] {
  const rest = [...tasks].sort((a, b) => compareText(a.id, b.id));
  const ordered: PlanTask[] = [];
  while (rest.length > 0) {
    const open = new Set(rest.map((task) => task.id));
    const at = Math.max(
      0,
      rest.findIndex((task) => !(task.preds ?? []).some((id) => open.has(id))),
    );
    ordered.push(...rest.splice(at, 1));
  }
  return ordered;
}

/** Whole decimetres from a stair to the stops of one floor and back, and the order. */
function floorTour(stops: readonly Stop[]): { order: Stop[]; decimetres: number } {
  const points = [{ x: 0, y: 0 }, ...stops];
  const count = points.length;
  const distance = new Int32Array(count * count);
  for (let a = 0; a < count; a += 1)
    for (let b = 0; b < count; b += 1)
      distance[a * count + b] = Math.round(
        10 * (Math.abs(points[a].x - points[b].x) + Math.abs(points[a].y - points[b].y)),
      );
  const tour = shortTour(distance, count, createRandom(count), KICKS);
  let decimetres = 0;
  for (const [at, stop] of tour.entries())
    decimetres += distance[stop * count + tour[(at + 1) % tour.length]];
  return { order: tour.slice(1).map((stop) => stops[stop - 1]), decimetres };
}

/** Groups in the order of their names. */
function groupsBy<T>(items: readonly T[], keyOf: (item: T) => string): T[][] {
  return [...Map.groupBy(items, keyOf)].sort(([a], [b]) => compareText(a, b)).map(([, group]) => group);
}

/** Tasks of a shift that a task of an excursion waits for, however indirectly. */
function neededFirst(tasks: readonly PlanTask[], isAway: (task: PlanTask) => boolean): Set<string> {
  const byId = new Map(tasks.map((task) => [task.id, task]));
  const needed = new Set<string>();
  const add = (id: string): void => {
    const task = byId.get(id);
    if (!task || needed.has(id)) return;
    needed.add(id);
    task.preds?.forEach(add);
  };
  for (const task of tasks) if (isAway(task)) task.preds?.forEach(add);
  return needed;
}

const FREE = '';
const NATURAL = ' natural';

/**
 * The legs of a shift: what an excursion waits for, then the excursions, main by main in the same order for
 * everybody, then what needs no main that is held away in this slot, and last what needs one of those in its
 * natural state again. What needs no state is done with an excursion to the same room where nobody shares that.
 */
function legsOf(
  instance: PlanInstance,
  tasks: readonly PlanTask[],
  placeOf: (task: PlanTask) => Placement,
  held: HeldAway,
): Leg[] {
  const waiting = new Map(tasks.map((task) => [task.id, task]));
  const legs: Leg[] = [];
  const along = new Map<string, string>();
  const awayOf = (task: PlanTask) => excursionOf(instance, task, placeOf(task));
  const isNaturalOfHeld = (task: PlanTask): boolean =>
    task.main !== undefined &&
    task.state !== undefined &&
    !placeOf(task).portable &&
    held.away.has(task.main);
  const nameOf = (task: PlanTask): string => {
    const away = awayOf(task);
    if (away) return `${away.main} ${held.found.get(away.main) === away.state ? 0 : 1} ${away.state}`;
    const name = along.get(task.id);
    if (name !== undefined) return name;
    return isNaturalOfHeld(task) ? NATURAL : FREE;
  };
  const isReady = (task: PlanTask): boolean => (task.preds ?? []).every((id) => !waiting.has(id));
  /** Takes what belongs and is ready, and whatever becomes ready by that. */
  const take = (belongs: (task: PlanTask) => boolean): void => {
    const leg: PlanTask[] = [];
    for (let ready = true; ready;) {
      ready = false;
      for (const task of tasks)
        if (waiting.has(task.id) && belongs(task) && isReady(task)) {
          waiting.delete(task.id);
          leg.push(task);
          ready = true;
        }
    }
    if (leg.length === 0) return;
    const away = leg.map(awayOf).find((one) => one !== null);
    legs.push({ main: away?.main ?? null, state: away?.state ?? null, tasks: leg });
  };
  const isShared = (main: string | undefined): boolean => (held.away.get(main ?? '')?.size ?? 0) > 1;
  const isStateless = (task: PlanTask): boolean =>
    task.state === undefined || placeOf(task).portable === true;
  /** The excursion that all that waits for a task here is of, if it is at the same stop and nobody shares it: the task is done on that. */
  const excursionAlong = (task: PlanTask): string | null => {
    if (!isStateless(task)) return null;
    const waits = tasks.filter((other) => other.preds?.includes(task.id));
    const [first] = waits;
    const isAlong = (other: PlanTask): boolean =>
      awayOf(other) !== null &&
      !isShared(other.main) &&
      stopKey(other) === stopKey(task) &&
      nameOf(other) === nameOf(first);
    return first && waits.every(isAlong) ? nameOf(first) : null;
  };
  for (const task of tasks) {
    const name = excursionAlong(task);
    if (name !== null) along.set(task.id, name);
  }
  /** Takes an excursion, and what needs no state where it goes when nobody shares it. */
  const takeAway = (name: string): void => {
    const own = tasks.filter((task) => waiting.has(task.id) && nameOf(task) === name);
    const main = own.map(awayOf).find((one) => one !== null)?.main;
    const rooms = new Set(isShared(main) ? [] : own.map(stopKey));
    take((task) => nameOf(task) === name || (isStateless(task) && rooms.has(stopKey(task))));
  };
  const needed = neededFirst(tasks, (task) => awayOf(task) !== null);
  for (const id of along.keys()) needed.delete(id);
  take((task) => needed.has(task.id) && awayOf(task) === null);
  while (waiting.size > 0) {
    const open = tasks.filter((task) => waiting.has(task.id) && isReady(task));
    const names = [...new Set(open.map(nameOf))].sort(compareText);
    const isAwayName = (name: string): boolean => name !== FREE && name !== NATURAL;
    const isNeeded = open.some((task) => needed.has(task.id) && awayOf(task) === null);
    const name = names.find(isAwayName) ?? (names.includes(FREE) ? FREE : names[0]);
    if (name === undefined) {
      legs.push({ main: null, state: null, tasks: [...waiting.values()] });
      break;
    }
    if (isAwayName(name)) takeAway(name);
    else if (!isNeeded) take((task) => nameOf(task) === name);
    else take((task) => needed.has(task.id) && awayOf(task) === null);
  }
  return legs;
}

/** What a slot's work does to its mains. */
export type HeldAway = {
  /** By main that is held away from its natural state: the persons who work on it, under that or not. */
  away: ReadonlyMap<string, ReadonlySet<string>>;
  /** By main that is held for days: the state in which the slot finds it; work in that comes first. */
  found: ReadonlyMap<string, PlanState>;
};

/** The mains that the tasks of a slot hold away from their natural state; `states` are those of the mains held for days. */
export function heldAway(
  instance: PlanInstance,
  tasks: readonly PlanTask[],
  placeOf: (task: PlanTask) => Placement,
  states: readonly HeldState[],
): HeldAway {
  const held = new Map<string, Set<string>>();
  for (const task of tasks) {
    const away = excursionOf(instance, task, placeOf(task));
    if (away) held.set(away.main, new Set());
  }
  for (const task of tasks) {
    const { portable, crew } = placeOf(task);
    if (!portable && task.state !== undefined) held.get(task.main ?? '')?.add(crew);
  }
  return { away: held, found: new Map(states.map(({ main, found }) => [main, found])) };
}

/** The working order of one person's shift. `tasks` stand in one slot with one person; `held` are the mains that anybody holds away in it. */
export function routeOf(
  instance: PlanInstance,
  tasks: readonly PlanTask[],
  placeOf: (task: PlanTask) => Placement,
  held: HeldAway,
): Route {
  let decimetres = 0;
  let floorChanges = 0;
  let buildings = 0;
  const sorted = [...tasks].sort((a, b) => compareText(a.id, b.id));
  const legs = legsOf(instance, sorted, placeOf, held).map((leg) => {
    const ordered: PlanTask[] = [];
    for (const wave of wavesOf(leg.tasks))
      for (const building of groupsBy(stopsOf(wave), (stop) => stop.building)) {
        const floors = groupsBy(building, (stop) => stop.floor);
        buildings += 1;
        floorChanges += floors.length;
        for (const floor of floors) {
          const tour = floorTour(floor);
          decimetres += tour.decimetres;
          for (const stop of tour.order) ordered.push(...inOrder(stop.tasks));
        }
      }
    return { ...leg, tasks: ordered };
  });
  return { legs, metres: Math.round(decimetres / 10), floorChanges, buildings };
}
