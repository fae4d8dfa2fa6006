/**
 * The planner's one face: an instance in, a round out. This first version is greedy: tasks in order of
 * precedence, urgency and group, each at its cheapest feasible place. Pure and seeded: no clock, no I/O; the
 * same instance and seed give the same round on every machine. Ties go to the earlier slot, then to the
 * person that comes first after the seed's turn.
 */
import { evaluate } from './evaluate.ts';
import { DrawCancelled } from './instance.ts';
import type {
  Assignment,
  DrawHooks,
  DrawnRound,
  PlanInstance,
  PlanTask,
  Unplaced,
  UnplacedReason,
} from './instance.ts';
import { createRandom } from './random.ts';
import { createShiftBook } from './shiftBook.ts';
import type { ShiftBook } from './shiftBook.ts';
import { requireSoundInstance } from './validate.ts';
import { drawVisits } from './visits.ts';

export type DrawOptions = { seed: number };

type Ranked = { order: PlanTask[]; cyclic: Set<string> };

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

/** A predecessor inherits the urgency of what waits for it: d' = min(d, d' of the successors). */
function inheritedDue(tasks: readonly PlanTask[]): Map<string, number> {
  const due = new Map(tasks.map((task) => [task.id, task.due]));
  const byId = new Map(tasks.map((task) => [task.id, task]));
  const queue = tasks.map((task) => task.id);
  while (queue.length > 0) {
    const task = byId.get(queue.pop() as string) as PlanTask;
    const own = due.get(task.id) as number;
    for (const id of task.preds ?? []) {
      if ((due.get(id) as number) <= own) continue;
      due.set(id, own);
      queue.push(id);
    }
  }
  return due;
}

/** Topological order, ready tasks by inherited due date, then main and state, then place, then id. */
function rankTasks(tasks: readonly PlanTask[]): Ranked {
  const due = inheritedDue(tasks);
  const key = (task: PlanTask): string =>
    [task.main ?? '', task.state ?? '', task.building ?? '', task.floor ?? '', task.room ?? '', task.id].join(
      '\u0000',
    );
  const rank = [...tasks].sort(
    (a, b) => (due.get(a.id) as number) - (due.get(b.id) as number) || compareText(key(a), key(b)),
  );
  const open = new Map(rank.map((task) => [task.id, new Set(task.preds ?? []).size]));
  const successors = new Map<string, PlanTask[]>();
  for (const task of rank)
    for (const id of new Set(task.preds ?? [])) successors.set(id, [...(successors.get(id) ?? []), task]);
  const position = new Map(rank.map((task, index) => [task.id, index]));
  const order: PlanTask[] = [];
  // Rounds of ready tasks: each round is sorted, so the result does not depend on the order of discovery.
  let ready = rank.filter((task) => open.get(task.id) === 0);
  while (ready.length > 0) {
    const next: PlanTask[] = [];
    for (const task of ready) {
      order.push(task);
      for (const successor of successors.get(task.id) ?? []) {
        const left = (open.get(successor.id) as number) - 1;
        open.set(successor.id, left);
        if (left === 0) next.push(successor);
      }
    }
    ready = next.sort((a, b) => (position.get(a.id) as number) - (position.get(b.id) as number));
  }
  const cyclic = new Set(rank.filter((task) => (open.get(task.id) as number) > 0).map((task) => task.id));
  return { order, cyclic };
}

function placeFrozen(instance: PlanInstance, shifts: ShiftBook, assignment: Assignment): void {
  for (const task of instance.tasks) {
    if (!task.frozen) continue;
    const [slot, crew] = task.frozen;
    shifts.take(task, slot, crew);
    assignment[task.id] = { slot, crew: instance.crews[crew].id };
  }
}

/**
 * Draws a round. Throws InstanceError for an instance that contradicts itself and DrawCancelled when the
 * hook says so; a task that cannot be placed is never an exception but a named reason in `unplaced`.
 */
export function drawRound(instance: PlanInstance, options: DrawOptions, hooks: DrawHooks = {}): DrawnRound {
  requireSoundInstance(instance);
  const shifts = createShiftBook(instance);
  const crewTurn =
    instance.crews.length > 0 ? createRandom(options.seed).integer(0, instance.crews.length - 1) : 0;
  const assignment: Assignment = {};
  const unplaced: Unplaced[] = [];
  let evaluations = 0;
  const leaveOut = (task: PlanTask, reason: UnplacedReason, detail: string): void => {
    assignment[task.id] = null;
    unplaced.push({ task: task.id, reason, detail });
  };
  placeFrozen(instance, shifts, assignment);
  const { order, cyclic } = rankTasks(instance.tasks);

  for (const [done, task] of order.entries()) {
    if (done % 25 === 0) {
      hooks.progress?.(done, order.length);
      if (hooks.cancelled?.()) throw new DrawCancelled();
    }
    if (task.frozen) continue;
    const missing = (task.preds ?? []).find((id) => !assignment[id]);
    if (missing !== undefined) {
      leaveOut(task, 'waits for an unplaced task', missing);
      continue;
    }
    let best: { slot: number; crew: number; price: number } | null = null;
    for (const slot of shifts.openSlots(task)) {
      for (let turn = 0; turn < instance.crews.length; turn += 1) {
        const crew = (turn + crewTurn) % instance.crews.length;
        evaluations += 1;
        if (evaluations % 4096 === 0 && hooks.cancelled?.()) throw new DrawCancelled();
        const price = shifts.priceOf(task, slot, crew, assignment);
        if (price !== null && (best === null || price < best.price)) best = { slot, crew, price };
      }
    }
    if (best === null) {
      const why = shifts.whyUnplaced(task);
      leaveOut(task, why.reason, why.detail);
      continue;
    }
    shifts.take(task, best.slot, best.crew);
    assignment[task.id] = { slot: best.slot, crew: instance.crews[best.crew].id };
  }
  for (const task of instance.tasks)
    if (cyclic.has(task.id)) leaveOut(task, 'precedence cycle', (task.preds ?? []).join(', '));
  hooks.progress?.(order.length, order.length);
  return {
    assignment,
    visits: drawVisits(instance, assignment),
    unplaced,
    evaluation: evaluate(instance, assignment),
    evaluations,
    seed: options.seed,
  };
}
