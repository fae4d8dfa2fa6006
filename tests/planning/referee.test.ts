/** The search and the bounds against optima proved by an outside solver (HiGHS), on instances made by seed. */
import { describe, expect, it } from 'vitest';
import { drawRound } from '../../shared/planning/drawRound.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { generateInstance } from '../support/generateInstance.ts';
import { provedOptimum } from '../support/milp.ts';

/** A few tasks over a few days with every plain feature of the model. */
function tiny(seed: number): PlanInstance {
  const random = createRandom(seed);
  const days = random.integer(2, 4);
  const slots = Array.from({ length: 2 * days }, (_, slot) => ({
    day: slot >> 1,
    occupied: slot % 2 === 1,
    period: slot >> 2,
  }));
  const count = random.integer(4, 9);
  return {
    slots,
    crews: Array.from({ length: random.integer(1, 2) }, (_, crew) => ({
      id: `c${crew}`,
      regular: slots.map(() => random.integer(30, 110)),
      overtime: slots.map(() => random.integer(0, 1) * 20),
    })),
    mains: ['m0', 'm1'].map((id) => ({
      id,
      natural: slots.map(() => (random.integer(0, 2) === 0 ? ('H' as const) : ('L' as const))),
      switchMin: random.integer(0, 10),
    })),
    tasks: Array.from({ length: count }, (_, at) => {
      const due = random.integer(0, days - 1);
      const weight = random.integer(1, 6);
      return {
        id: `t${at}`,
        min: random.integer(10, 50),
        weight,
        due,
        earliest: random.integer(0, due),
        ...(random.integer(0, 2) > 0
          ? {
              main: `m${random.integer(0, 1)}`,
              state: random.integer(0, 1) ? ('H' as const) : ('L' as const),
            }
          : {}),
        ...(at > 0 && random.integer(0, 2) === 0 ? { preds: [`t${random.integer(0, at - 1)}`] } : {}),
        building: `b${random.integer(0, 1)}`,
        floor: `f${random.integer(0, 1)}`,
        unscheduled: 200 + weight * (days - due),
      };
    }),
    travel: { building: 8, floor: 2 },
    periodTarget: { 0: 60, 1: 60 },
    cost: { switchover: 20, switchoverOccupied: 20, overtime: 2, walk: 1, uneven: 1 },
  };
}

describe('the referee', () => {
  it('is never below a bound nor above the search on 60 tiny instances, and the search meets it on nearly all', async () => {
    let met = 0;
    for (let seed = 1; seed <= 60; seed += 1) {
      const instance = tiny(seed);
      const optimum = await provedOptimum(instance);
      const drawn = drawRound(instance, { seed: 1 });
      expect(drawn.evaluation.total).toBeGreaterThanOrEqual(optimum);
      expect(drawn.bounds.total).toBeLessThanOrEqual(optimum);
      if (drawn.evaluation.total === optimum) met += 1;
    }
    expect(met).toBeGreaterThanOrEqual(58);
  });

  it.each([
    [30, 0],
    [45, 0],
    [60, 3],
  ])('proves %i generated tasks; the search ends at most %i %% above', async (tasks, percent) => {
    const instance = generateInstance({ tasks, seed: 2 });
    const optimum = await provedOptimum(instance);
    const drawn = drawRound(instance, { seed: 1, evaluations: 1_000_000 });
    expect(drawn.bounds.total).toBeLessThanOrEqual(optimum);
    expect(drawn.evaluation.total).toBeGreaterThanOrEqual(optimum);
    expect(drawn.evaluation.total * 100).toBeLessThanOrEqual(optimum * (100 + percent));
  });
});
