/** Explanations and moves by hand say what the evaluator says; a re-draw keeps what it can. */
import { isDeepStrictEqual } from 'node:util';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkAssignment } from '../../shared/planning/check.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { assignmentOf, planOf } from '../../shared/planning/engine/assignment.ts';
import { compile } from '../../shared/planning/engine/compile.ts';
import { findHeads } from '../../shared/planning/engine/heads.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import { explainTask, priceMove } from '../../shared/planning/explain.ts';
import type { Assignment, PlanInstance, PlanTask, Placement } from '../../shared/planning/instance.ts';
import { redrawRound } from '../../shared/planning/redraw.ts';
import { generateInstance, promised } from '../support/generateInstance.ts';
import { randomInstances } from '../support/randomInstances.ts';

/** By the definition: placed in the same slot for the same state, not natural there, of the same main, from the main itself. */
function sharers({ tasks, mains = [] }: PlanInstance, assignment: Assignment, id: string): string[] {
  const byMain = (task: PlanTask): boolean => {
    const place = assignment[task.id];
    const main = mains.find((one) => one.id === task.main);
    if (!place || place.portable || !main || main.policy === 'hold' || task.state === undefined) return false;
    return task.state !== (main.natural?.[place.slot] ?? 'L');
  };
  const own = tasks.find((task) => task.id === id);
  if (!own || !byMain(own)) return [];
  return tasks
    .filter(
      (task) =>
        task !== own &&
        byMain(task) &&
        task.main === own.main &&
        assignment[task.id]?.slot === assignment[id]?.slot,
    )
    .map((task) => task.id)
    .sort();
}

describe('prices', () => {
  it('of explanations and moves are the evaluator’s differences, on 2,000 random instances', () =>
    fc.assert(
      fc.property(randomInstances(), fc.nat(), (instance, pick) => {
        const drawn = drawRound(instance, { seed: 1, evaluations: 12_000 });
        const c = compile(instance);
        const heads = findHeads(c);
        const plan = planOf(c, drawn.assignment);
        expect(plan.total).toBe(drawn.evaluation.total);
        const task = pick % c.tasks;
        const { id } = c.taskList[task];
        const why = explainTask(c, heads, plan, task);
        expect(why.place).toEqual(drawn.assignment[id]);
        for (const { difference, parts, ...place } of why.others) {
          const { slot, crew, portable } = place;
          const moved = {
            ...drawn.assignment,
            [id]: { slot, crew, ...(portable ? { portable } : {}) },
          };
          expect(difference).toBe(evaluate(instance, moved).total - drawn.evaluation.total);
          expect(Object.values({ ...parts, total: 0 }).reduce((sum, one) => sum + one, 0)).toBe(parts.total);
          expect(checkAssignment(instance, moved)).toEqual([]);
        }
        expect(why.sharesSwitchingWith).toEqual(sharers(instance, drawn.assignment, id));
        if (why.place) {
          expect(why.from).toBeLessThanOrEqual(why.place.slot);
          expect(why.to).toBeGreaterThanOrEqual(why.place.slot);
        }
        for (const outside of [why.from - 1, why.to + 1])
          if (outside >= 0 && outside < c.slots)
            for (let crew = 0; crew < c.crews; crew += 1)
              expect(priceMove(plan, task, outside * c.crews + crew).breaches.length).toBeGreaterThan(0);
        const to = (pick * 7) % c.crewSlots;
        const move = priceMove(plan, task, to);
        const place = { slot: Math.floor(to / c.crews), crew: instance.crews[to % c.crews].id };
        const after = { ...drawn.assignment, [id]: place };
        if (move.difference === null) expect(move.breaches.length).toBeGreaterThan(0);
        else if (!move.portable) {
          expect(checkAssignment(instance, after)).toEqual([]);
          expect(move.difference).toBe(evaluate(instance, after).total - drawn.evaluation.total);
        }
        // Looking changes nothing.
        expect(assignmentOf(c, plan)).toEqual(drawn.assignment);
        expect(plan.total).toBe(drawn.evaluation.total);
      }),
      { numRuns: 2000 },
    ));
});

describe('a re-draw', () => {
  const instance = generateInstance({ tasks: 1000, seed: 1 });
  const drawn = drawRound(instance, { seed: 1, evaluations: 300_000 });
  const published = (change: (copy: PlanInstance) => void): PlanInstance =>
    promised(instance, drawn.assignment, change);

  it('of an unchanged year with no budget moves nothing', () => {
    const again = redrawRound(
      published(() => {}),
      { seed: 1, evaluations: 0 },
    );
    expect(again.moved).toEqual([]);
    expect(again.assignment).toEqual(drawn.assignment);
  });

  it('leaves a promise with its person where nothing is won by another, and names who gets it where something is', () => {
    const shared: PlanInstance = {
      slots: [{ day: 0 }],
      crews: [
        { id: 'A', regular: [60] },
        { id: 'B', regular: [60] },
      ],
      travel: { floor: 4 },
      cost: { move: 5, handOver: 3, walk: 1 },
      tasks: [
        { id: 'one', min: 20, due: 9, floor: '1', published: [0, 0] },
        { id: 'two', min: 20, due: 9, floor: '1', published: [0, 1] },
      ],
    };
    // One floor visit less saves 4 points and costs 3.
    const again = redrawRound(shared, { seed: 1 });
    expect(again.evaluation).toMatchObject({ total: 7, parts: { moves: 0, handOvers: 1, walkMin: 4 } });
    expect(again.moved).toHaveLength(1);
    expect(again.moved[0]).toMatchObject({ from: { slot: 0 }, to: { slot: 0 } });
    expect(again.moved[0].reason).toMatch(/^1 points dearer there, .* with [AB]$/);
    const dear = redrawRound({ ...shared, cost: { move: 5, handOver: 5, walk: 1 } }, { seed: 1 });
    expect(dear.moved).toEqual([]);
    const away = redrawRound({ ...shared, crews: [{ id: 'A', regular: [0] }, shared.crews[1]] }, { seed: 1 });
    expect(away.moved).toEqual([
      {
        task: 'one',
        from: { slot: 0, crew: 'A' },
        to: { slot: 0, crew: 'B' },
        reason: 'person absent: A does not work then',
      },
    ]);
  });

  it('from a later shift says that nothing new goes before it, and its bound holds without that', () => {
    const late: PlanInstance = {
      slots: [0, 1, 2].map((day) => ({ day })),
      crews: [
        { id: 'A', regular: [60, 30, 30] },
        { id: 'B', regular: [0, 30, 30] },
      ],
      cost: { move: 5 },
      tasks: [
        { id: 'lost', min: 30, due: 0, latest: 1, published: [1, 0] },
        { id: 'waits', min: 30, due: 2, preds: ['lost'], published: [2, 1] },
        { id: 'kept', min: 30, due: 0, published: [0, 0] },
      ],
    };
    late.crews[0].regular[1] = 0;
    late.crews[1].regular[1] = 0;
    const again = redrawRound(late, { seed: 1, slots: [2, 2] });
    expect(again.assignment.kept).toEqual({ slot: 0, crew: 'A' });
    expect(again.unplaced).toEqual([
      {
        task: 'lost',
        reason: 'nothing goes before the re-draw',
        detail: 'nothing new goes before slot 2 (day 2); its last is slot 1 (day 1)',
      },
      { task: 'waits', reason: 'waits for an unplaced task', detail: 'lost' },
    ]);
    // Without that, the lost one has room on the first day.
    expect(again.bounds.total).toBeLessThanOrEqual(drawRound(late, { seed: 1 }).evaluation.total);
  });

  it('keeps a later promise where what it waits for finds a place before it', () => {
    const days = [0, 1, 2, 3].map((day) => ({ day }));
    const plan: PlanInstance = {
      slots: days,
      crews: [
        { id: 'A', regular: [0, 60, 60, 60] },
        { id: 'B', regular: [60, 60, 60, 60] },
      ],
      cost: { move: 5 },
      tasks: [
        { id: 'regulator', min: 30, due: 9, published: [0, 0] },
        { id: 'setpoint', min: 30, due: 9, preds: ['regulator'], published: [2, 1] },
      ],
    };
    const again = redrawRound(plan, { seed: 1 });
    expect(again.assignment.setpoint).toEqual({ slot: 2, crew: 'B' });
    expect(again.moved.map((one) => one.task)).toEqual(['regulator']);
    expect(again.assignment.regulator).toMatchObject({ slot: 0, crew: 'B' });
  });

  it('on 600 random instances stands, names each moved task once, and gives reasons that hold in the new plan', () =>
    fc.assert(
      fc.property(randomInstances(), fc.nat(), (asked, pick) => {
        const first = drawRound(asked, { seed: 1, evaluations: 6_000 });
        const next = promised(asked, first.assignment, (copy) => {
          const crew = copy.crews[pick % copy.crews.length];
          const from = pick % copy.slots.length;
          crew.regular.fill(0, from, from + 4);
          crew.overtime?.fill(0, from, from + 4);
        });
        const from = pick % Math.min(3, next.slots.length);
        const again = redrawRound(next, {
          seed: 1,
          evaluations: 6_000,
          slots: [from, next.slots.length - 1],
        });
        expect(checkAssignment(next, again.assignment)).toEqual([]);
        const placeOf = (place: Placement | null) =>
          place === null ? null : { slot: place.slot, crew: place.crew };
        const promiseOf = ({ published }: PlanTask): Placement | null =>
          published === undefined ? null : { slot: published[0], crew: next.crews[published[1]].id };
        const gone = next.tasks.filter(
          (task) => task.published && !isDeepStrictEqual(placeOf(again.assignment[task.id]), promiseOf(task)),
        );
        expect(again.moved.map((one) => one.task).sort()).toEqual(gone.map((one) => one.id).sort());
        for (const { task: id, from: old, to, reason } of again.moved) {
          const [, waitsFor] = /^waits for: (t\d+), which has no place/.exec(reason) ?? [];
          if (waitsFor !== undefined) expect(again.assignment[waitsFor]).toBe(null);
          const dearer = /^(-?\d+) points dearer there/.exec(reason);
          if (dearer) {
            expect(Number(dearer[1])).toBeGreaterThan(0);
            // Either way of doing it will do there.
            const breaches = [old, { ...old, portable: true as const }].map(
              (back) => checkAssignment(next, { ...again.assignment, [id]: back }).length,
            );
            expect(Math.min(...breaches)).toBe(0);
          }
          if (to === null) expect(again.unplaced.map((one) => one.task)).toContain(id);
        }
      }),
      { numRuns: 600 },
    ));

  it('after an absence keeps what is before it, passes the checker, and gives every moved task its reason', () => {
    const from = 40;
    const next = published((copy) => {
      for (let slot = from; slot < from + 24; slot += 1) {
        copy.crews[0].regular[slot] = 0;
        if (copy.crews[0].overtime) copy.crews[0].overtime[slot] = 0;
      }
    });
    const lost = next.tasks.filter(
      ({ published: at }) => at && at[1] === 0 && at[0] >= from && at[0] < from + 24,
    );
    expect(lost.length).toBeGreaterThan(5);
    const again = redrawRound(next, { seed: 1, evaluations: 300_000, slots: [from, 165] });
    expect(checkAssignment(next, again.assignment)).toEqual([]);
    for (const task of next.tasks)
      if (task.published && task.published[0] < from)
        expect(again.assignment[task.id]).toEqual(drawn.assignment[task.id]);
    const moved = new Map(again.moved.map((one) => [one.task, one.reason]));
    for (const task of lost) if (moved.has(task.id)) expect(moved.get(task.id)).not.toBe('');
    expect([...moved.values()]).toContain('person absent: T1 does not work then');
    expect(moved.size).toBeLessThan(400);
  });
});
