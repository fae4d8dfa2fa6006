/** Visits of a plan in working order: one person, one place, one shift, one air state. */
import { compareText } from './engine/compile.ts';
import type { Assignment, DrawnVisit, Placement, PlanInstance, PlanTask } from './instance.ts';
import type { HeldState } from './heldStates.ts';
import { heldAway, routeOf } from './tours/route.ts';
import type { HeldAway } from './tours/route.ts';

function joins(visit: DrawnVisit, task: PlanTask, isPortable: boolean): boolean {
  if (visit.building !== (task.building ?? null) || visit.floor !== (task.floor ?? null)) return false;
  if (visit.room !== (task.room ?? null)) return false;
  if (task.state === undefined || visit.state === null || isPortable) return true;
  return visit.main === task.main && visit.state === task.state;
}

/** Visits by slot and person, numbered from 1 in working order within each shift, and the metres walked in all; `held` as `heldStates` has it for the whole plan. */
export function drawVisits(
  instance: PlanInstance,
  assignment: Assignment,
  held: readonly HeldState[],
): { visits: DrawnVisit[]; metres: number } {
  const byShift = new Map<string, { slot: number; crew: string; tasks: PlanTask[] }>();
  for (const task of instance.tasks) {
    const place = assignment[task.id];
    if (!place) continue;
    const key = `${place.slot} ${place.crew}`;
    const shift = byShift.get(key) ?? { slot: place.slot, crew: place.crew, tasks: [] };
    shift.tasks.push(task);
    byShift.set(key, shift);
  }
  const shifts = [...byShift.values()].sort((a, b) => a.slot - b.slot || compareText(a.crew, b.crew));
  const visits: DrawnVisit[] = [];
  const placeOf = (task: PlanTask): Placement => assignment[task.id] as Placement;
  const heldIn = new Map<number, HeldAway>();
  const states = Map.groupBy(held, (one) => one.slot);
  for (const [slot, own] of Map.groupBy(shifts, (shift) => shift.slot)) {
    const tasks = own.flatMap((shift) => shift.tasks);
    heldIn.set(slot, heldAway(instance, tasks, placeOf, states.get(slot) ?? []));
  }
  let metres = 0;
  for (const shift of shifts) {
    const route = routeOf(instance, shift.tasks, placeOf, heldIn.get(shift.slot) as HeldAway);
    metres += route.metres;
    let order = 0;
    for (const leg of route.legs) {
      let current: DrawnVisit | null = null;
      for (const task of leg.tasks) {
        const isPortable = placeOf(task).portable === true;
        if (current === null || !joins(current, task, isPortable)) {
          order += 1;
          current = {
            slot: shift.slot,
            crew: shift.crew,
            order,
            building: task.building ?? null,
            floor: task.floor ?? null,
            room: task.room ?? null,
            main: null,
            state: null,
            tasks: [],
          };
          visits.push(current);
        }
        if (task.state !== undefined && !isPortable) {
          current.main = task.main ?? null;
          current.state = task.state;
        }
        current.tasks.push(task.id);
      }
    }
  }
  return { visits, metres };
}
