/**
 * The planner's one face: an instance in, a round out. Pure and seeded: no clock, no I/O; the same instance,
 * seed and budget give the same round on every machine. The budget is counted in places priced.
 */
import { boundsOf, normalSteps } from './bounds/bounds.ts';
import { assignmentOf } from './engine/assignment.ts';
import { compile } from './engine/compile.ts';
import type { Compiled } from './engine/compile.ts';
import { outOfOrder, requireSoundFixes } from './engine/fixed.ts';
import { handBack } from './engine/handBack.ts';
import { findHeads } from './engine/heads.ts';
import type { Plan } from './engine/plan.ts';
import { search } from './engine/search.ts';
import { whyUnplaced } from './engine/unplaced.ts';
import { evaluate } from './evaluate.ts';
import { DrawCancelled } from './instance.ts';
import type { Bounds, DrawHooks, DrawnRound, PlanInstance, Unplaced } from './instance.ts';
import { createRandom } from './random.ts';
import { requireSoundInstance } from './validate.ts';
import { workedShifts } from './shifts.ts';

export type DrawOptions = {
  seed: number;
  /** Places that may be priced; absent = by size, see `normalBudget`. */
  evaluations?: number;
  /** Whether work is sent away from shifts that waiting for others makes too long. */
  handBack?: boolean;
};

/** Places priced in a normal draw: enough for a good round, within a few seconds up to 10,000 tasks. */
export function normalBudget(tasks: number): number {
  return Math.max(300_000, Math.min(16_000_000, tasks * 12_000), tasks * 300);
}

/** More steps for the bound where more places are priced, up to three times as many. */
function boundEffort(budget: number, tasks: number): number {
  return Math.max(1, Math.min(3, budget / normalBudget(tasks)));
}

/** A round of a plan: figures, visits in working order, bounds, and a reason for everything left out. */
export function roundOf(
  c: Compiled,
  plan: Plan,
  about: { evaluations: number; seed: number; bounds: Bounds; unplaced: Unplaced[] },
): DrawnRound {
  const assignment = assignmentOf(c, plan);
  return {
    assignment,
    ...workedShifts(c.instance, assignment),
    outOfOrder: outOfOrder(c, plan),
    evaluation: evaluate(c.instance, assignment),
    ...about,
  };
}

/**
 * Draws a round. Throws InstanceError for an instance that contradicts itself and DrawCancelled when the
 * hook says so; a task that cannot be placed is never an exception but a named reason in `unplaced`.
 */
export function drawRound(instance: PlanInstance, options: DrawOptions, hooks: DrawHooks = {}): DrawnRound {
  requireSoundInstance(instance);
  const budget = options.evaluations ?? normalBudget(instance.tasks.length);
  hooks.progress?.(0, budget);
  if (hooks.cancelled?.()) throw new DrawCancelled();
  const c = compile(instance);
  requireSoundFixes(c);
  const heads = findHeads(c);
  const { plan, evaluations, isStopped } = search(c, heads, {
    budget,
    random: createRandom(options.seed),
    onTick: (spent) => {
      hooks.progress?.(spent, budget);
      return hooks.cancelled?.() === true;
    },
  });
  if (isStopped) throw new DrawCancelled();
  if (options.handBack) handBack(plan, heads);
  const bounds = boundsOf(c, heads, Math.floor(normalSteps(c) * boundEffort(budget, c.tasks)));
  const unplaced = whyUnplaced(c, heads, plan);
  const round = roundOf(c, plan, { evaluations, seed: options.seed, bounds, unplaced });
  hooks.progress?.(budget, budget);
  return round;
}
