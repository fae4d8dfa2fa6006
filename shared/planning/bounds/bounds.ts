/**
 * How far from the best can a plan be? Five cheap bounds on parts of the cost that add up, and one by prices that
 * looks at all parts at once; the larger of the two is reported. None is ever above the cost of any plan.
 *
 * The cheap ones add up because each looks at another part of the cost, and because a task that is left out pays
 * at least what it could lower them by. Tasks whose price for being left out is smaller than that, and tasks that
 * no plan can place, are not counted in them.
 */
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';
import type { Bounds } from '../instance.ts';
import { countedTasks } from './counted.ts';
import { evennessBound } from './evenness.ts';
import { lateSetBound } from './lateSet.ts';
import { priceBound } from './priceBound.ts';
import { sessionBound } from './sessions.ts';
import { walkBound } from './walk.ts';

/** Steps of the bound by prices: about a million tasks looked at, within reason. */
export function normalSteps(c: Compiled): number {
  return Math.max(40, Math.min(400, Math.floor(1_000_000 / Math.max(1, c.tasks))));
}

/** All bounds of an instance. Deterministic; half a second at 10,000 tasks with the normal number of steps. */
export function boundsOf(c: Compiled, heads: Heads, steps = normalSteps(c)): Bounds {
  const counted = countedTasks(c, heads);
  let forcedOut = 0;
  for (let task = 0; task < c.tasks; task += 1) if (heads.forcedOut[task]) forcedOut += c.leaveOut[task];
  const lateness = lateSetBound(c, heads, counted);
  const evenness = evennessBound(c, heads, counted);
  const { cost: switching, sessions } = sessionBound(c, heads, counted);
  const walking = walkBound(c, counted);
  const parts = forcedOut + Math.max(lateness, evenness) + switching + walking;
  const { bound, prices: witness } = priceBound(c, heads, steps);
  return {
    total: Math.max(0, parts, bound),
    forcedOut,
    lateness,
    evenness,
    switching,
    switchovers: 2 * sessions,
    walking,
    parts,
    prices: bound,
    witness,
  };
}
