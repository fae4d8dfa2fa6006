/**
 * Who is where in every shift, while a round is being drawn: loads, visited places, air states. Prices are
 * cost differences in points; null means that a constraint forbids the place.
 */
import type { Assignment, PlanInstance, PlanMain, PlanTask, UnplacedReason } from './instance.ts';

export type ShiftBook = {
  openSlots: (task: PlanTask) => number[];
  priceOf: (task: PlanTask, slot: number, crew: number, assignment: Assignment) => number | null;
  take: (task: PlanTask, slot: number, crew: number) => void;
  whyUnplaced: (task: PlanTask) => { reason: UnplacedReason; detail: string };
};

type MainFacts = { main: PlanMain; unsettled: Set<number>; forcible: Set<number> | null };

/** A book of shifts for one instance, empty at first. */
export function createShiftBook(instance: PlanInstance): ShiftBook {
  const cost = {
    switchover: 0,
    switchoverOccupied: 0,
    overtime: 0,
    walk: 0,
    uneven: 0,
    move: 0,
    ...instance.cost,
  };
  const walkBuilding = instance.travel?.building ?? 0;
  const walkFloor = instance.travel?.floor ?? 0;
  const crewIndex = new Map(instance.crews.map((crew, index) => [crew.id, index]));
  const mains = new Map<string, MainFacts>(
    (instance.mains ?? []).map((main) => [
      main.id,
      { main, unsettled: new Set(main.unsettled), forcible: main.forcible ? new Set(main.forcible) : null },
    ]),
  );
  const slotCount = instance.slots.length;
  const load = instance.crews.map(() => new Int32Array(slotCount));
  const visited = new Set<string>();
  const stateOf = new Map<string, string>();
  const forced = new Set<string>();
  const waited = new Set<string>();
  const periodMinutes = new Map<number, number>();

  const skilled = (task: PlanTask, crew: number): boolean => {
    const skill = task.skill ?? '*';
    const skills = instance.crews[crew].skills ?? ['*'];
    return skill === '*' || skills.includes('*') || skills.includes(skill);
  };
  const isForced = (task: PlanTask, slot: number): boolean => {
    if (task.main === undefined || task.state === undefined) return false;
    return task.state !== (mains.get(task.main)?.main.natural?.[slot] ?? 'L');
  };
  const limitOf = (crew: number, slot: number): number =>
    instance.crews[crew].regular[slot] + (instance.crews[crew].overtime?.[slot] ?? 0);
  const airAllows = (task: PlanTask, slot: number): boolean => {
    if (task.main === undefined || task.state === undefined) return true;
    const facts = mains.get(task.main) as MainFacts;
    if (facts.unsettled.has(slot)) return false;
    if (isForced(task, slot) && facts.forcible && !facts.forcible.has(slot)) return false;
    const held = stateOf.get(`${slot} ${task.main}`);
    return !instance.oneStatePerSlot || held === undefined || held === task.state;
  };
  const keysOf = (
    task: PlanTask,
    slot: number,
    crew: number,
  ): { building: string; floor: string; wait: string } => ({
    building: `${slot} ${crew} b ${task.building}`,
    floor: `${slot} ${crew} f ${task.building ?? ''}/${task.floor}`,
    wait: `${slot} ${crew} ${task.main}`,
  });
  const extraMinutes = (task: PlanTask, slot: number, crew: number): { walk: number; wait: number } => {
    const keys = keysOf(task, slot, crew);
    const building = task.building !== undefined && !visited.has(keys.building) ? walkBuilding : 0;
    const floor = task.floor !== undefined && !visited.has(keys.floor) ? walkFloor : 0;
    const waits = isForced(task, slot) && !waited.has(keys.wait);
    return {
      walk: building + floor,
      wait: waits ? 2 * (mains.get(task.main as string)?.main.switchMin ?? 0) : 0,
    };
  };
  const inWindow = (task: PlanTask, slot: number): boolean => {
    const { day } = instance.slots[slot];
    return (
      (task.earliest === undefined || day >= task.earliest) &&
      (task.latest === undefined || day <= task.latest)
    );
  };
  const isOpen = (task: PlanTask, slot: number): boolean =>
    task.open === undefined || task.open.some(([from, to]) => slot >= from && slot <= to);

  function openSlots(task: PlanTask): number[] {
    const slots: number[] = [];
    for (let slot = 0; slot < slotCount; slot += 1)
      if (inWindow(task, slot) && isOpen(task, slot)) slots.push(slot);
    return slots;
  }

  function priceOf(task: PlanTask, slot: number, crew: number, assignment: Assignment): number | null {
    if (!skilled(task, crew) || !airAllows(task, slot)) return null;
    for (const id of task.preds ?? []) {
      const before = assignment[id];
      if (!before || before.slot > slot) return null;
      if (before.slot === slot && crewIndex.get(before.crew) !== crew) return null;
    }
    const { walk, wait } = extraMinutes(task, slot, crew);
    const before = load[crew][slot];
    const after = before + task.min + walk + wait;
    if (after > limitOf(crew, slot)) return null;
    const regular = instance.crews[crew].regular[slot];
    const { day, occupied, period } = instance.slots[slot];
    const late = Math.max(0, day - task.due);
    let price = (task.weight ?? 1) * late + walk * cost.walk;
    price += cost.overtime * (Math.max(0, after - regular) - Math.max(0, before - regular));
    if (isForced(task, slot) && !forced.has(`${slot} ${task.main}`))
      price += 2 * cost.switchover + (occupied ? 2 * cost.switchoverOccupied : 0);
    if (period !== undefined && instance.periodTarget?.[period] !== undefined) {
      const target = instance.periodTarget[period];
      const now = periodMinutes.get(period) ?? 0;
      price += cost.uneven * (Math.max(0, now + task.min - target) - Math.max(0, now - target));
    }
    if (task.published && task.published[0] !== slot) price += cost.move;
    return price;
  }

  function take(task: PlanTask, slot: number, crew: number): void {
    const { walk, wait } = extraMinutes(task, slot, crew);
    const keys = keysOf(task, slot, crew);
    load[crew][slot] += task.min + walk + wait;
    if (task.building !== undefined) visited.add(keys.building);
    if (task.floor !== undefined) visited.add(keys.floor);
    const { period } = instance.slots[slot];
    if (period !== undefined) periodMinutes.set(period, (periodMinutes.get(period) ?? 0) + task.min);
    if (task.main === undefined || task.state === undefined) return;
    stateOf.set(`${slot} ${task.main}`, task.state);
    if (!isForced(task, slot)) return;
    forced.add(`${slot} ${task.main}`);
    waited.add(keys.wait);
  }

  /** The first constraint, in a fixed order, that leaves the task no place even in an empty plan; else crowding. */
  function whyUnplaced(task: PlanTask): { reason: UnplacedReason; detail: string } {
    const window = instance.slots.map((_, slot) => slot).filter((slot) => inWindow(task, slot));
    if (window.length === 0) return { reason: 'window outside the period', detail: `due on day ${task.due}` };
    const open = window.filter((slot) => isOpen(task, slot));
    if (open.length === 0) return { reason: 'no open shift in the window', detail: task.closedBy ?? '' };
    const able = instance.crews.map((_, crew) => crew).filter((crew) => skilled(task, crew));
    if (able.length === 0) return { reason: 'no person with the skill', detail: task.skill ?? '' };
    const aired = open.filter((slot) => {
      if (task.main === undefined || task.state === undefined) return true;
      const facts = mains.get(task.main) as MainFacts;
      return (
        !facts.unsettled.has(slot) && (!isForced(task, slot) || !facts.forcible || facts.forcible.has(slot))
      );
    });
    if (aired.length === 0)
      return {
        reason: 'main may not be switched',
        detail: `no open shift of its window has ${task.main} ${task.state === 'H' ? 'high' : 'low'}, nor may it be held there`,
      };
    const need = (slot: number): number =>
      task.min +
      (task.building === undefined ? 0 : walkBuilding) +
      (task.floor === undefined ? 0 : walkFloor) +
      (isForced(task, slot) ? 2 * (mains.get(task.main as string)?.main.switchMin ?? 0) : 0);
    if (!aired.some((slot) => able.some((crew) => need(slot) <= limitOf(crew, slot))))
      return { reason: 'longer than any shift', detail: `${task.min} minutes with walking and switching` };
    return {
      reason: 'no room in the shifts',
      detail: 'the open shifts are full, held at the other air state, or come before what it waits for',
    };
  }

  return { openSlots, priceOf, take, whyUnplaced };
}
