/** Orders the tasks of every shift into visits: predecessors first, then by place, one air state a visit. */
import type { Assignment, DrawnVisit, PlanInstance, PlanTask } from './instance.ts';

function placeKey(task: PlanTask): string {
  return [task.building ?? '', task.floor ?? '', task.room ?? '', task.id].join('\u0000');
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

/** Tasks of one shift in working order: always the nearest place whose predecessors are done. */
function orderOf(tasks: PlanTask[]): PlanTask[] {
  const waiting = [...tasks].sort((a, b) => compareText(placeKey(a), placeKey(b)));
  const open = new Set(waiting.map((task) => task.id));
  const ordered: PlanTask[] = [];
  let here: PlanTask | null = null;
  const isReady = (task: PlanTask): boolean => (task.preds ?? []).every((id) => !open.has(id));
  while (waiting.length > 0) {
    const ready = waiting.filter(isReady);
    // Never empty: the planner refuses cycles before it places anything.
    const from: PlanTask | null = here;
    const next: PlanTask =
      ready.find((task) => from !== null && task.room === from.room && task.building === from.building) ??
      ready.find((task) => from !== null && task.floor === from.floor && task.building === from.building) ??
      ready.find((task) => from !== null && task.building === from.building) ??
      ready[0];
    ordered.push(next);
    open.delete(next.id);
    waiting.splice(waiting.indexOf(next), 1);
    here = next;
  }
  return ordered;
}

function joins(visit: DrawnVisit, task: PlanTask): boolean {
  if (visit.building !== (task.building ?? null) || visit.room !== (task.room ?? null)) return false;
  if (task.state === undefined || visit.state === null) return true;
  return visit.main === task.main && visit.state === task.state;
}

/** Visits of a plan, by slot and person, numbered from 1 in working order within each shift. */
export function drawVisits(instance: PlanInstance, assignment: Assignment): DrawnVisit[] {
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
  for (const shift of shifts) {
    let current: DrawnVisit | null = null;
    let order = 0;
    for (const task of orderOf(shift.tasks)) {
      if (current === null || !joins(current, task)) {
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
      if (task.state !== undefined) {
        current.main = task.main ?? null;
        current.state = task.state;
      }
      current.tasks.push(task.id);
    }
  }
  return visits;
}
