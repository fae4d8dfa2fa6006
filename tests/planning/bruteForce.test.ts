/** Search and bounds against every plan there is, on tiny instances with held mains, portable supplies and fixed tasks. */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { checkAssignment } from '../../shared/planning/check.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import { InstanceError } from '../../shared/planning/instance.ts';
import type { Assignment, DrawnRound, Placement, PlanInstance } from '../../shared/planning/instance.ts';
import { randomInstances } from '../support/randomInstances.ts';

/** The least cost of any feasible plan, by trying them all. */
function leastOfAll(instance: PlanInstance): number {
  const choices = instance.tasks.map((task): (Placement | null)[] => [
    null,
    ...instance.slots.flatMap((_, slot) =>
      instance.crews.flatMap(({ id: crew }): Placement[] =>
        task.portableMin === undefined || task.main === undefined
          ? [{ slot, crew }]
          : [
              { slot, crew },
              { slot, crew, portable: true },
            ],
      ),
    ),
  ]);
  const assignment: Assignment = {};
  let least = Infinity;
  const tryFrom = (at: number): void => {
    if (at === choices.length) {
      const { total } = evaluate(instance, assignment);
      if (total < least && checkAssignment(instance, assignment).length === 0) least = total;
      return;
    }
    for (const choice of choices[at]) {
      assignment[instance.tasks[at].id] = choice;
      tryFrom(at + 1);
    }
  };
  tryFrom(0);
  return least;
}

function drawnOrRefused(instance: PlanInstance): DrawnRound | null {
  try {
    return drawRound(instance, { seed: 1, evaluations: 60_000 });
  } catch (error) {
    if (error instanceof InstanceError) return null;
    throw error;
  }
}

it('the search finds the least cost of all plans on 80 tiny instances, and no bound is above it', () => {
  const tiny = fc
    .sample(randomInstances({ fixed: true }), { numRuns: 20_000, seed: 7 })
    .filter(({ tasks, slots, crews }) => tasks.length <= 4 && slots.length <= 4 && crews.length <= 2);
  let tried = 0;
  let missed = 0;
  for (const instance of tiny) {
    const drawn = drawnOrRefused(instance);
    if (drawn === null || drawn.outOfOrder.length > 0) continue;
    const least = leastOfAll(instance);
    expect(drawn.bounds.total).toBeLessThanOrEqual(least);
    expect(drawn.evaluation.total).toBeGreaterThanOrEqual(least);
    if (drawn.evaluation.total > least) missed += 1;
    tried += 1;
    if (tried === 80) break;
  }
  expect(tried).toBe(80);
  expect(missed).toBe(0);
});
