/**
 * Draws a round again after something changed: an absence, a closed room, a device that failed. What was promised
 * keeps its shift where it can and pays for leaving it; what is fixed stays. Only the shifts from a first slot on
 * are searched, so that few visits move.
 */
import { boundsOf } from './bounds/bounds.ts';
import { breachesAt } from './explain.ts';
import { roundOf } from './drawRound.ts';
import { assignmentOf } from './engine/assignment.ts';
import { compile } from './engine/compile.ts';
import type { Compiled } from './engine/compile.ts';
import { findHeads, slotName } from './engine/heads.ts';
import { insertByGroups, placeFrozen } from './engine/build.ts';
import { improve } from './engine/improve.ts';
import { IMPOSSIBLE, Plan } from './engine/plan.ts';
import { DrawCancelled } from './instance.ts';
import type { DrawHooks, DrawnRound, PlanInstance } from './instance.ts';
import { createRandom } from './random.ts';
import { requireSoundInstance } from './validate.ts';

export type RedrawOptions = {
  seed: number;
  evaluations?: number;
  /** First and last slot whose work may be lifted; absent = all. */
  slots?: [number, number];
};

export type MovedTask = {
  task: string;
  from: number;
  /** Slot it goes to; null = it has no place any more. */
  to: number | null;
  reason: string;
};

export type Redrawn = DrawnRound & { moved: MovedTask[] };

/** Places priced in an interactive re-draw. */
const REDRAW_BUDGET = 4_000_000;
const REDRAW_THRESHOLD = 2;
/** Fewer than for a draw: a re-draw is waited for. */
const BOUND_STEPS = 60;

/** Puts every task back where it was published, what it waits for first; answers why others cannot stay. */
function keepPublished(c: Compiled, plan: Plan, order: Int32Array): Map<number, string> {
  const gone = new Map<number, string>();
  for (const task of order) {
    const published = c.taskList[task].published;
    if (plan.place[task] >= 0 || !published) continue;
    const place = published[0] * c.crews + published[1];
    if (plan.limit(task)) {
      const price = plan.price(task, place);
      if (price !== IMPOSSIBLE) {
        plan.addPriced(task, place, plan.way, price);
        continue;
      }
    }
    const [breach] = breachesAt(plan, task, place);
    gone.set(task, breach ? `${breach.constraint}: ${breach.detail}` : 'its shift is full');
  }
  return gone;
}

/** What stands before the first slot stays, and nothing new goes there. */
function keepEarlier(c: Compiled, from: number): void {
  for (const [task, { published }] of c.taskList.entries()) {
    if (c.frozen[task] >= 0) continue;
    if (published && published[0] < from) c.frozen[task] = published[0] * c.crews + published[1];
    else c.first[task] = Math.max(c.first[task], from);
  }
}

/** Draws again from the `published` places of the tasks. Throws as `drawRound` does. */
export function redrawRound(instance: PlanInstance, options: RedrawOptions, hooks: DrawHooks = {}): Redrawn {
  requireSoundInstance(instance);
  const budget = options.evaluations ?? REDRAW_BUDGET;
  const c = compile(instance);
  if (options.slots) keepEarlier(c, options.slots[0]);
  const heads = findHeads(c);
  const plan = new Plan(c);
  placeFrozen(plan);
  const gone = keepPublished(c, plan, heads.order);
  insertByGroups(plan, heads, 200);
  const isStopped = improve(plan, heads, {
    budget,
    random: createRandom(options.seed),
    threshold: REDRAW_THRESHOLD,
    seedSlots: options.slots,
    onTick: (spent) => {
      hooks.progress?.(spent, budget);
      return hooks.cancelled?.() === true;
    },
  });
  if (isStopped) throw new DrawCancelled();
  const about = {
    evaluations: plan.evaluations,
    seed: options.seed,
    bounds: boundsOf(c, heads, BOUND_STEPS),
  };
  const round = roundOf(c, heads, plan, about);
  const assignment = assignmentOf(c, plan);
  const hasMoved = (id: string): boolean => {
    const { published } = c.taskList[c.indexOf.get(id) as number];
    return published !== undefined && assignment[id]?.slot !== published[0];
  };
  const moved: MovedTask[] = [];
  for (const [index, task] of c.taskList.entries()) {
    if (!task.published || !hasMoved(task.id)) continue;
    const to = assignment[task.id]?.slot ?? null;
    const before = (task.preds ?? []).find(hasMoved);
    moved.push({
      task: task.id,
      from: task.published[0],
      to,
      reason:
        gone.get(index) ??
        (before !== undefined
          ? `what it waits for, ${before}, moved`
          : to === null
            ? (heads.forcedOut[index]?.reason ?? 'made room for what matters more')
            : `made room, or joined cheaper work, on ${slotName(c, to)}`),
    });
  }
  return { ...round, moved };
}
