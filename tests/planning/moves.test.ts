/** Steps of the search that no other step can replace, one by one. */
import { expect, it } from 'vitest';
import { checkAssignment } from '../../shared/planning/check.ts';
import { assignmentOf, planOf } from '../../shared/planning/engine/assignment.ts';
import { compile } from '../../shared/planning/engine/compile.ts';
import { findHeads } from '../../shared/planning/engine/heads.ts';
import { Moves } from '../../shared/planning/engine/moves.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import type { Assignment, PlanInstance, PlanTask } from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';

it('three short sessions of a main become one long one, whose shifts change places with them', () => {
  // Slots 0, 2, 4 hold 60 minutes a person, slot 5 holds 120, and is full of other work.
  const minutes = [60, 0, 60, 0, 60, 120];
  const high = (id: string): PlanTask => ({ id, min: 20, due: 5, main: 'M', state: 'H', floor: 'f' });
  const other = (id: string): PlanTask => ({ id, min: 20, due: 5, floor: 'f' });
  const instance: PlanInstance = {
    slots: minutes.map((_, day) => ({ day })),
    crews: ['A', 'B'].map((id) => ({ id, regular: minutes })),
    mains: [{ id: 'M', natural: minutes.map(() => 'L' as const), switchMin: 10 }],
    tasks: [0, 1, 2, 3, 4, 5, 6, 7, 8, 9].flatMap((at) => [high(`h${at}`), other(`o${at}`)]),
    cost: { switchover: 20, walk: 1 },
    travel: { floor: 0 },
  };
  const assignment: Assignment = {};
  const shifts = [0, 2, 4].flatMap((slot) => ['A', 'B'].map((crew) => ({ slot, crew })));
  // Two sessions' tasks fill a short shift of a person: 2 x 20 minutes and 2 changes of 10.
  for (let at = 0; at < 10; at += 1) {
    assignment[`h${at}`] = shifts[at >> 1];
    assignment[`o${at}`] = { slot: 5, crew: at % 2 === 0 ? 'A' : 'B' };
  }
  expect(checkAssignment(instance, assignment)).toEqual([]);
  const c = compile(instance);
  const plan = planOf(c, assignment);
  expect(plan.total).toBe(3 * 40);
  const moves = new Moves(plan, findHeads(c), createRandom(1), [0, c.slots - 1]);
  for (let step = 0; step < 20; step += 1) {
    moves.joinSessions();
    expect(plan.total).toBe(evaluate(instance, assignmentOf(c, plan)).total);
  }
  expect(plan.total).toBe(40);
  expect(checkAssignment(instance, assignmentOf(c, plan))).toEqual([]);
});
