/** Refuses an instance that contradicts itself, before anything is planned. */
import { DEFAULT_UNSCHEDULED, InstanceError, priceOf } from './instance.ts';
import type { PlanInstance, PlanTask } from './instance.ts';

/** No price of one placement may reach this: the planner's counters are 32-bit whole numbers. */
const DEAREST = 2 ** 29;
/** Minutes of one person in one slot; far more than a shift has. */
const MOST_MINUTES = 1_000_000;
/** A day number may lie so far from another; some 1,400 years. */
const LONGEST_DAYS = 500_000;

function requireUnique(ids: readonly string[], what: string): void {
  const seen = new Set<string>();
  for (const id of ids) {
    if (seen.has(id)) throw new InstanceError(`two ${what} are called ${id}`);
    seen.add(id);
  }
}

function requireWhole(where: string, values: Record<string, number | undefined>): void {
  for (const [name, value] of Object.entries(values))
    if (value !== undefined && !(Number.isSafeInteger(value) && value >= 0 && value < DEAREST))
      throw new InstanceError(`${where}: ${name} is ${value}, not a whole number from 0 to ${DEAREST - 1}`);
}

function requireDay(where: string, day: number | undefined): void {
  if (day !== undefined && !(Number.isSafeInteger(day) && Math.abs(day) < LONGEST_DAYS))
    throw new InstanceError(`${where} is ${day}, not a day number`);
}

function requireMinutes(instance: PlanInstance): void {
  const slots = instance.slots.length;
  for (const crew of instance.crews)
    for (const list of [crew.regular, crew.overtime]) {
      if (list && list.length !== slots)
        throw new InstanceError(`person ${crew.id} has minutes for ${list.length} of ${slots} slots`);
      for (const [slot, minutes] of (list ?? []).entries())
        if (!(Number.isSafeInteger(minutes) && minutes >= 0 && minutes <= MOST_MINUTES))
          throw new InstanceError(
            `person ${crew.id} has ${minutes} minutes in slot ${slot}, not a whole number from 0 to ${MOST_MINUTES}`,
          );
    }
}

function isSlot(slot: number, slots: number): boolean {
  return Number.isSafeInteger(slot) && slot >= 0 && slot < slots;
}

function requireTask(
  instance: PlanInstance,
  task: PlanTask,
  known: { mains: Set<string>; tasks: Set<string> },
): void {
  const where = `task ${task.id}`;
  const slots = instance.slots.length;
  if (!(Number.isSafeInteger(task.min) && task.min >= 0))
    throw new InstanceError(`${where} has no whole minutes`);
  if (task.main === undefined ? task.state !== undefined : !known.mains.has(task.main))
    throw new InstanceError(`${where} needs a main that is not listed`);
  if (task.main !== undefined && task.state === undefined)
    throw new InstanceError(`${where} names a main and not which state of it is needed`);
  const { min, weight, unscheduled, portableMin, moveFactor } = task;
  requireWhole(where, { min, weight, unscheduled, portableMin, moveFactor });
  requireDay(`${where}: due`, task.due);
  if (task.due === undefined) throw new InstanceError(`${where} has no due day`);
  requireDay(`${where}: earliest`, task.earliest);
  requireDay(`${where}: latest`, task.latest);
  for (const [verb, place] of [
    ['fixed', task.frozen],
    ['promised', task.published],
  ] as const)
    if (place && !(isSlot(place[0], slots) && isSlot(place[1], instance.crews.length)))
      throw new InstanceError(
        `${where} is ${verb} to slot ${place[0]} and person ${place[1]}, which are not both listed`,
      );
  for (const [from, to] of task.open ?? [])
    if (!(isSlot(from, slots) && isSlot(to, slots) && from <= to))
      throw new InstanceError(
        `${where} is open from slot ${from} to ${to} of ${slots}, which is no range of them`,
      );
  for (const id of task.preds ?? [])
    if (!known.tasks.has(id)) throw new InstanceError(`${where} waits for ${id}, which is not listed`);
}

/** The dearest that one placement, or leaving one task out, could be. */
function requireCheap(instance: PlanInstance): void {
  const prices = priceOf(instance);
  requireWhole('cost', prices);
  requireWhole('travel', { building: instance.travel?.building, floor: instance.travel?.floor });
  requireWhole('even share of period', instance.periodTarget ?? {});
  const most = instance.crews.reduce(
    (all, crew) => (crew.overtime ?? []).reduce((sum, one) => Math.max(sum, one), all),
    0,
  );
  const lastDay = instance.slots.at(-1)?.day ?? 0;
  const walk = (instance.travel?.building ?? 0) + (instance.travel?.floor ?? 0);
  for (const task of instance.tasks) {
    const minutes = Math.max(task.min, task.portableMin ?? 0);
    const dearest =
      (task.weight ?? 1) * Math.max(0, lastDay - task.due) +
      4 * (prices.switchover + prices.switchoverOccupied) +
      prices.overtime * most +
      prices.uneven * minutes +
      prices.walk * walk +
      Math.max(prices.move, prices.handOver) * (task.moveFactor ?? 1);
    if (dearest >= DEAREST || (task.unscheduled ?? DEFAULT_UNSCHEDULED) >= DEAREST)
      throw new InstanceError(
        `task ${task.id}: its prices come to ${dearest} points, more than the planner can count with (${DEAREST - 1})`,
      );
  }
}

/** Throws InstanceError naming the first contradiction; answers nothing when the instance is sound. */
export function requireSoundInstance(instance: PlanInstance): void {
  const slots = instance.slots.length;
  const mains = instance.mains ?? [];
  requireUnique(
    instance.crews.map((crew) => crew.id),
    'persons',
  );
  requireUnique(
    mains.map((main) => main.id),
    'mains',
  );
  requireUnique(
    instance.tasks.map((task) => task.id),
    'tasks',
  );
  for (const [index, slot] of instance.slots.entries()) {
    requireDay(`slot ${index}`, slot.day);
    if (slot.day === undefined) throw new InstanceError(`slot ${index} has no day`);
    if (index > 0 && slot.day < instance.slots[index - 1].day)
      throw new InstanceError(`slot ${index} lies on an earlier day than the one before it`);
    requireWhole(`slot ${index}`, { period: slot.period });
  }
  requireMinutes(instance);
  for (const main of mains) {
    if (main.natural && main.natural.length !== slots)
      throw new InstanceError(`main ${main.id} has states for ${main.natural.length} of ${slots} slots`);
    for (const slot of [...(main.unsettled ?? []), ...(main.forcible ?? [])])
      if (!isSlot(slot, slots)) throw new InstanceError(`main ${main.id} names slot ${slot} of ${slots}`);
    requireWhole(`main ${main.id}`, { switchMin: main.switchMin });
  }
  const known = {
    mains: new Set(mains.map((main) => main.id)),
    tasks: new Set(instance.tasks.map((task) => task.id)),
  };
  for (const task of instance.tasks) requireTask(instance, task, known);
  requireCheap(instance);
}
