/**
 * An instance as typed arrays, tasks sorted by id so that the order in which they were listed decides nothing.
 * A crew-slot is one person in one slot, numbered slot * persons + person. States: 0 low, 1 high, 2 none.
 */
import { DEFAULT_UNSCHEDULED, InstanceError, priceOf } from '../instance.ts';
import type { PlanInstance, PlanTask, Prices } from '../instance.ts';

export const NO_STATE = 2;
/** What a mask says of a slot: closed, open by portable supply only, open. */
export const CLOSED = 0;
export const PORTABLE_ONLY = 1;
export const OPEN = 3;

const MOST_COUNTERS = 600_000_000;

export type Compiled = {
  instance: PlanInstance;
  taskList: PlanTask[];
  indexOf: Map<string, number>;
  tasks: number;
  slots: number;
  crews: number;
  crewSlots: number;
  mains: number;
  buildings: number;
  floors: number;
  prices: Prices;
  walkBuilding: number;
  walkFloor: number;
  // by task
  minutes: Int32Array;
  weight: Int32Array;
  due: Int32Array;
  leaveOut: Int32Array;
  main: Int32Array;
  state: Uint8Array;
  building: Int32Array;
  floor: Int32Array;
  /** Minutes by portable supply; -1 = there is no such way. */
  portable: Int32Array;
  /** First and last slot of the task's own window; first > last = none. */
  first: Int32Array;
  last: Int32Array;
  /** Index into `masks`, or -1 when every slot of the window is open. */
  mask: Int32Array;
  masks: Uint8Array[];
  skill: Int32Array;
  /** By skill * crews + crew. */
  able: Uint8Array;
  /** Crew-slot of a fixed task, else -1. */
  frozen: Int32Array;
  /** Crew-slot that was promised, else -1. */
  published: Int32Array;
  /** Points for leaving the promised slot, and for another person in it. */
  movePrice: Int32Array;
  handOverPrice: Int32Array;
  predStart: Int32Array;
  preds: Int32Array;
  succStart: Int32Array;
  succs: Int32Array;
  // by slot
  day: Int32Array;
  period: Int32Array;
  /** Price of one session (two switchovers) by slot. */
  sessionPrice: Int32Array;
  // by period; -1 = no target
  target: Int32Array;
  // by crew-slot
  regular: Int32Array;
  capacity: Int32Array;
  // by main * slots + slot
  natural: Uint8Array;
  // by main
  switchMinutes: Int32Array;
  holds: Uint8Array;
};

function numbered(names: Iterable<string | undefined>): { index: Map<string, number>; of: Int32Array } {
  const index = new Map<string, number>();
  const of: number[] = [];
  for (const name of names) {
    if (name === undefined) {
      of.push(-1);
      continue;
    }
    const known = index.get(name) ?? index.size;
    index.set(name, known);
    of.push(known);
  }
  return { index, of: Int32Array.from(of) };
}

function toCsr(lists: readonly (readonly number[])[]): { start: Int32Array; list: Int32Array } {
  const start = new Int32Array(lists.length + 1);
  for (const [index, list] of lists.entries()) start[index + 1] = start[index] + list.length;
  const flat = new Int32Array(start[lists.length]);
  for (const [index, list] of lists.entries()) flat.set(list, start[index]);
  return { start, list: flat };
}

function text(value: string | undefined): string | undefined {
  return value === undefined ? undefined : String(value);
}

/** What a task's mask says of a slot of its window: closed, by portable supply only, or open. */
export function opennessOf(c: Compiled, task: number, slot: number): number {
  return c.mask[task] < 0 ? OPEN : c.masks[c.mask[task]][slot];
}

/** First slot on or after a day; the number of slots when there is none. */
export function firstSlotFrom(days: Int32Array, day: number): number {
  let low = 0;
  let high = days.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (days[middle] < day) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Sort order of ids: by code unit, the same on every machine. */
export function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

type MaskKey = { task: PlanTask; main: number; state: number };

/** Masks of open slots, one for each combination of open ranges, main, state and portable supply. */
function createMasks(instance: PlanInstance, natural: Uint8Array) {
  const slots = instance.slots.length;
  const masks: Uint8Array[] = [];
  const byKey = new Map<string, number>();
  const restricted = (instance.mains ?? []).map(
    (main) => (main.unsettled?.length ?? 0) > 0 || main.forcible !== undefined,
  );
  const openKeys = new Map<unknown, string>();
  const keyOfOpen = (open: [number, number][] | undefined): string => {
    if (open === undefined) return '*';
    const known = openKeys.get(open) ?? JSON.stringify(open);
    openKeys.set(open, known);
    return known;
  };
  function fill({ task, main, state }: MaskKey): Uint8Array {
    const mask = new Uint8Array(slots);
    if (task.open)
      for (const [from, to] of task.open) mask.fill(OPEN, Math.max(0, from), Math.min(slots, to + 1));
    else mask.fill(OPEN);
    if (main < 0 || !restricted[main]) return mask;
    const { unsettled = [], forcible } = (instance.mains ?? [])[main];
    const otherwise = task.portableMin === undefined ? CLOSED : PORTABLE_ONLY;
    for (const slot of unsettled) if (mask[slot] === OPEN) mask[slot] = otherwise;
    if (forcible === undefined) return mask;
    const may = new Set(forcible);
    for (let slot = 0; slot < slots; slot += 1)
      if (mask[slot] === OPEN && natural[main * slots + slot] !== state && !may.has(slot))
        mask[slot] = otherwise;
    return mask;
  }
  return {
    masks,
    of(key: MaskKey): number {
      const { task, main, state } = key;
      const isRestricted = main >= 0 && restricted[main];
      if (task.open === undefined && !isRestricted) return -1;
      const name = `${keyOfOpen(task.open)} ${isRestricted ? `${main} ${state} ${task.portableMin !== undefined}` : ''}`;
      const known = byKey.get(name);
      if (known !== undefined) return known;
      masks.push(fill(key));
      byKey.set(name, masks.length - 1);
      return masks.length - 1;
    },
  };
}

/** Compiles a sound instance; throws InstanceError when it is larger than the planner's counters can hold. */
export function compile(instance: PlanInstance): Compiled {
  const taskList = [...instance.tasks].sort((a, b) => compareText(a.id, b.id));
  const tasks = taskList.length;
  const slots = instance.slots.length;
  const crews = instance.crews.length;
  const mainList = instance.mains ?? [];
  const mains = mainList.length;
  const indexOf = new Map(taskList.map((task, index) => [task.id, index]));
  const mainIndex = new Map(mainList.map((main, index) => [main.id, index]));
  const buildings = numbered(taskList.map((task) => text(task.building)));
  const floors = numbered(
    taskList.map((task) => (task.floor === undefined ? undefined : `${task.building ?? ''}/${task.floor}`)),
  );
  const skills = numbered(taskList.map((task) => task.skill ?? '*'));
  const crewSlots = slots * crews;
  if (crewSlots * (mains + buildings.index.size + floors.index.size) > MOST_COUNTERS)
    throw new InstanceError(
      `${crews} persons in ${slots} slots with ${mains} mains and ${floors.index.size} floors are more than the planner can hold`,
    );
  const natural = new Uint8Array(mains * slots);
  for (const [index, main] of mainList.entries())
    for (let slot = 0; slot < slots; slot += 1)
      natural[index * slots + slot] = main.natural?.[slot] === 'H' ? 1 : 0;
  const able = new Uint8Array(skills.index.size * crews);
  for (const [skill, index] of skills.index)
    for (const [crew, { skills: has = ['*'] }] of instance.crews.entries())
      able[index * crews + crew] = skill === '*' || has.includes('*') || has.includes(skill) ? 1 : 0;
  const prices = priceOf(instance);
  const day = Int32Array.from(instance.slots, (slot) => slot.day);
  const maskMaker = createMasks(instance, natural);
  const ints = (of: (task: PlanTask) => number): Int32Array => Int32Array.from(taskList, of);
  const main = ints((task) =>
    task.state === undefined || task.main === undefined ? -1 : (mainIndex.get(task.main) ?? -1),
  );
  const state = Uint8Array.from(taskList, (task, index) =>
    main[index] < 0 ? NO_STATE : task.state === 'H' ? 1 : 0,
  );
  const predLists = taskList.map((task) =>
    [...new Set(task.preds ?? [])].map((id) => indexOf.get(id) as number).sort((a, b) => a - b),
  );
  const succLists: number[][] = taskList.map(() => []);
  for (const [index, list] of predLists.entries()) for (const pred of list) succLists[pred].push(index);
  const pred = toCsr(predLists);
  const succ = toCsr(succLists);
  const periods = Math.max(0, ...instance.slots.map((slot) => (slot.period ?? -1) + 1));
  const target = new Int32Array(periods).fill(-1);
  for (const [period, minutes] of Object.entries(instance.periodTarget ?? {}))
    if (Number(period) < periods) target[Number(period)] = minutes;
  const perCrewSlot = (of: (crew: number, slot: number) => number): Int32Array =>
    Int32Array.from({ length: crewSlots }, (_, place) => of(place % crews, Math.floor(place / crews)));
  return {
    instance,
    taskList,
    indexOf,
    tasks,
    slots,
    crews,
    crewSlots,
    mains,
    buildings: buildings.index.size,
    floors: floors.index.size,
    prices,
    walkBuilding: instance.travel?.building ?? 0,
    walkFloor: instance.travel?.floor ?? 0,
    minutes: ints((task) => task.min),
    weight: ints((task) => task.weight ?? 1),
    due: ints((task) => task.due),
    leaveOut: ints((task) => task.unscheduled ?? DEFAULT_UNSCHEDULED),
    main,
    state,
    building: buildings.of,
    floor: floors.of,
    portable: ints((task) => task.portableMin ?? -1),
    first: ints((task) => (task.earliest === undefined ? 0 : firstSlotFrom(day, task.earliest))),
    last: ints((task) => (task.latest === undefined ? slots : firstSlotFrom(day, task.latest + 1)) - 1),
    mask: ints((task) => {
      const index = indexOf.get(task.id) as number;
      return maskMaker.of({ task, main: main[index], state: state[index] });
    }),
    masks: maskMaker.masks,
    skill: skills.of,
    able,
    frozen: ints((task) => (task.frozen ? task.frozen[0] * crews + task.frozen[1] : -1)),
    published: ints((task) => (task.published ? task.published[0] * crews + task.published[1] : -1)),
    movePrice: ints((task) => (task.published ? prices.move * (task.moveFactor ?? 1) : 0)),
    handOverPrice: ints((task) => (task.published ? prices.handOver * (task.moveFactor ?? 1) : 0)),
    predStart: pred.start,
    preds: pred.list,
    succStart: succ.start,
    succs: succ.list,
    day,
    period: Int32Array.from(instance.slots, (slot) => slot.period ?? -1),
    sessionPrice: Int32Array.from(
      instance.slots,
      (slot) => 2 * prices.switchover + (slot.occupied ? 2 * prices.switchoverOccupied : 0),
    ),
    target,
    regular: perCrewSlot((crew, slot) => instance.crews[crew].regular[slot]),
    capacity: perCrewSlot(
      (crew, slot) => instance.crews[crew].regular[slot] + (instance.crews[crew].overtime?.[slot] ?? 0),
    ),
    natural,
    switchMinutes: Int32Array.from(mainList, (one) => one.switchMin ?? 0),
    holds: Uint8Array.from(mainList, (one) => (one.policy === 'hold' ? 1 : 0)),
  };
}
