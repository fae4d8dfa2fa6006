/**
 * What a plan costs, in points (best read as minutes of technician time), under the rule that a main goes
 * back to its natural state at the end of the slot. Written against the format's definition only; the planner
 * does not share code with it. Integers throughout.
 */
import { DEFAULT_UNSCHEDULED } from './instance.ts';
import type { Assignment, CostParts, Evaluation, PlanInstance } from './instance.ts';

/** Cost parts of an assignment. Tasks missing from the assignment count as not placed. */
export function evaluate(instance: PlanInstance, assignment: Assignment): Evaluation {
  const cost = {
    switchover: 0,
    switchoverOccupied: 0,
    overtime: 0,
    walk: 0,
    uneven: 0,
    move: 0,
    ...instance.cost,
  };
  const parts: CostParts = {
    tardiness: 0,
    unscheduled: 0,
    switchovers: 0,
    switchoversOccupied: 0,
    overtimeMin: 0,
    walkMin: 0,
    unevenMin: 0,
    moves: 0,
  };
  const mains = new Map((instance.mains ?? []).map((main) => [main.id, main]));
  const sessions = new Set<string>();
  const load = new Map<string, number>();
  const visited = new Set<string>();
  const waited = new Set<string>();
  const periodMinutes = new Map<number, number>();
  const add = (key: string, minutes: number): void => {
    load.set(key, (load.get(key) ?? 0) + minutes);
  };

  for (const task of instance.tasks) {
    const place = assignment[task.id] ?? null;
    if (place === null) {
      parts.unscheduled += task.unscheduled ?? DEFAULT_UNSCHEDULED;
      continue;
    }
    const slot = instance.slots[place.slot];
    const key = `${place.slot} ${place.crew}`;
    add(key, task.min);
    parts.tardiness += (task.weight ?? 1) * Math.max(0, slot.day - task.due);
    if (task.published && task.published[0] !== place.slot) parts.moves += 1;
    if (slot.period !== undefined)
      periodMinutes.set(slot.period, (periodMinutes.get(slot.period) ?? 0) + task.min);
    const visit = (name: string, minutes: number): void => {
      if (minutes === 0 || visited.has(`${key} ${name}`)) return;
      visited.add(`${key} ${name}`);
      parts.walkMin += minutes;
      add(key, minutes);
    };
    if (task.building !== undefined) visit(`b ${task.building}`, instance.travel?.building ?? 0);
    if (task.floor !== undefined)
      visit(`f ${task.building ?? ''}/${task.floor}`, instance.travel?.floor ?? 0);
    if (task.main === undefined || task.state === undefined) continue;
    const main = mains.get(task.main);
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
    parts.moves * cost.move;
  return { total, parts };
}
