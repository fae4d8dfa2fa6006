/**
 * What a plan costs, in points (best read as minutes of technician time). A main goes back to its natural state
 * at the end of the slot, or, where its policy is `hold`, stays as it was left. Written against the format's definition only; the planner
 * does not share code with it. Integers throughout.
 */
import { heldChanges, NEEDS_HIGH, NEEDS_LOW } from './hold.ts';
import { DEFAULT_UNSCHEDULED, placeIn, priceOf } from './instance.ts';
import type { Assignment, CostParts, Evaluation, PlanInstance } from './instance.ts';

/** Cost parts of an assignment. Tasks missing from the assignment count as not placed. */
export function evaluate(instance: PlanInstance, assignment: Assignment): Evaluation {
  const cost = priceOf(instance);
  const parts: CostParts = {
    tardiness: 0,
    unscheduled: 0,
    switchovers: 0,
    switchoversOccupied: 0,
    overtimeMin: 0,
    walkMin: 0,
    unevenMin: 0,
    moves: 0,
    handOvers: 0,
  };
  const mains = new Map((instance.mains ?? []).map((main) => [main.id, main]));
  const sessions = new Set<string>();
  const load = new Map<string, number>();
  const visited = new Set<string>();
  const waited = new Set<string>();
  const periodMinutes = new Map<number, number>();
  const needs = new Map<string, Uint8Array>();
  let moved = 0;
  let handedOver = 0;
  const add = (key: string, minutes: number): void => {
    load.set(key, (load.get(key) ?? 0) + minutes);
  };

  for (const task of instance.tasks) {
    const place = placeIn(assignment, task.id);
    if (place === null) {
      parts.unscheduled += task.unscheduled ?? DEFAULT_UNSCHEDULED;
      continue;
    }
    const slot = instance.slots[place.slot];
    const key = `${place.slot} ${place.crew}`;
    const minutes = place.portable ? (task.portableMin ?? task.min) : task.min;
    add(key, minutes);
    parts.tardiness += (task.weight ?? 1) * Math.max(0, slot.day - task.due);
    if (task.published && task.published[0] !== place.slot) {
      parts.moves += 1;
      moved += task.moveFactor ?? 1;
    } else if (task.published && instance.crews[task.published[1]].id !== place.crew) {
      parts.handOvers += 1;
      handedOver += task.moveFactor ?? 1;
    }
    if (slot.period !== undefined)
      periodMinutes.set(slot.period, (periodMinutes.get(slot.period) ?? 0) + minutes);
    const visit = (name: string, minutes: number): void => {
      if (minutes === 0 || visited.has(`${key} ${name}`)) return;
      visited.add(`${key} ${name}`);
      parts.walkMin += minutes;
      add(key, minutes);
    };
    if (task.building !== undefined) visit(`b ${task.building}`, instance.travel?.building ?? 0);
    if (task.floor !== undefined)
      visit(`f ${task.building ?? ''}/${task.floor}`, instance.travel?.floor ?? 0);
    if (task.main === undefined || task.state === undefined || place.portable) continue;
    const main = mains.get(task.main);
    if (main?.policy === 'hold') {
      const need = needs.get(task.main) ?? new Uint8Array(instance.slots.length);
      need[place.slot] |= task.state === 'H' ? NEEDS_HIGH : NEEDS_LOW;
      needs.set(task.main, need);
      // Whoever needs a state of a held main waits out one change to it.
      if (!waited.has(`${key} ${task.main} ${task.state}`)) {
        waited.add(`${key} ${task.main} ${task.state}`);
        add(key, main.switchMin ?? 0);
      }
      continue;
    }
    if (task.state === (main?.natural?.[place.slot] ?? 'L')) continue;
    const session = `${place.slot} ${task.main}`;
    if (!sessions.has(session)) {
      sessions.add(session);
      parts.switchovers += 2;
      if (slot.occupied) parts.switchoversOccupied += 2;
    }
    if (!waited.has(`${key} ${task.main}`)) {
      waited.add(`${key} ${task.main}`);
      add(key, 2 * (main?.switchMin ?? 0));
    }
  }
  for (const [id, need] of needs) {
    const { changes, changesOccupied } = heldChanges(
      need,
      mains.get(id)?.natural?.[0] === 'H' ? 1 : 0,
      (slot) => cost.switchover + (instance.slots[slot].occupied ? cost.switchoverOccupied : 0),
      (slot) => instance.slots[slot].occupied === true,
    );
    parts.switchovers += changes;
    parts.switchoversOccupied += changesOccupied;
  }
  for (const crew of instance.crews)
    for (let slot = 0; slot < instance.slots.length; slot += 1)
      parts.overtimeMin += Math.max(0, (load.get(`${slot} ${crew.id}`) ?? 0) - crew.regular[slot]);
  for (const [period, target] of Object.entries(instance.periodTarget ?? {}))
    parts.unevenMin += Math.max(0, (periodMinutes.get(Number(period)) ?? 0) - target);

  const total =
    parts.tardiness +
    parts.unscheduled +
    parts.switchovers * cost.switchover +
    parts.switchoversOccupied * cost.switchoverOccupied +
    parts.overtimeMin * cost.overtime +
    parts.walkMin * cost.walk +
    parts.unevenMin * cost.uneven +
    moved * cost.move +
    handedOver * cost.handOver;
  return { total, parts };
}
