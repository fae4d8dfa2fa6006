import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkAssignment, checkVisits } from '../../shared/planning/check.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import { DrawCancelled } from '../../shared/planning/instance.ts';
import type { PlanInstance, PlanTask } from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { randomInstances } from '../support/randomInstances.ts';

const instances = randomInstances();

describe('a drawn round', () => {
  it('passes the independent checker on 2,000 random instances, costs no less than any bound, and has a reason for everything left out', () =>
    fc.assert(
      fc.property(instances, (instance) => {
        const drawn = drawRound(instance, { seed: 3, evaluations: 12_000 });
        expect(checkAssignment(instance, drawn.assignment)).toEqual([]);
        expect(checkVisits(instance, drawn.assignment, drawn.visits)).toEqual([]);
        expect(drawn.unplaced.map(({ task }) => task).sort()).toEqual(
          Object.keys(drawn.assignment)
            .filter((id) => drawn.assignment[id] === null)
            .sort(),
        );
        expect(drawn.evaluation).toEqual(evaluate(instance, drawn.assignment));
        expect(drawn.bounds.parts).toBeLessThanOrEqual(drawn.evaluation.total);
        expect(drawn.bounds.prices).toBeLessThanOrEqual(drawn.evaluation.total);
      }),
      { numRuns: 2000 },
    ));
  it('is the same for the same seed', () =>
    fc.assert(
      fc.property(instances, fc.nat(), (instance, seed) => {
        const options = { seed, evaluations: 5_000 };
        expect(drawRound(instance, options)).toEqual(drawRound(instance, options));
      }),
      { numRuns: 50 },
    ));
  it('does not depend on the order in which the tasks are listed', () =>
    fc.assert(
      fc.property(instances, (instance) => {
        const turned = { ...instance, tasks: instance.tasks.toReversed() };
        const options = { seed: 1, evaluations: 5_000 };
        expect(drawRound(turned, options).assignment).toEqual(drawRound(instance, options).assignment);
      }),
      { numRuns: 100 },
    ));
});

const bare: PlanInstance = {
  slots: [{ day: 0 }, { day: 1 }],
  crews: [{ id: 'A', regular: [60, 60] }],
  mains: [{ id: 'M', natural: ['L', 'L'], switchMin: 5, forcible: [] }],
  tasks: [],
};

describe('reasons for what is left out', () => {
  it.each([
    ['window outside the period', { earliest: 9 }],
    ['no open shift in the window', { open: [], closedBy: 'room access' }],
    ['no person with the skill', { skill: 'steam' }],
    ['longer than any shift', { min: 61 }],
    ['main may not be switched', { main: 'M', state: 'H' as const }],
  ])('%s', (reason, change) => {
    const crews = [{ id: 'A', regular: [60, 60], skills: ['air'] }];
    expect(
      drawRound({ ...bare, crews, tasks: [{ id: 't', min: 10, due: 0, ...change } as PlanTask] }, { seed: 1 })
        .unplaced,
    ).toMatchObject([{ task: 't', reason }]);
  });
  it('a full plan says so, and what waits for it waits', () => {
    const tasks = [
      { id: 'a', min: 60, due: 0 },
      { id: 'b', min: 60, due: 0 },
      { id: 'c', min: 60, due: 0 },
      { id: 'd', min: 1, due: 0, preds: ['c'] },
    ];
    expect(drawRound({ ...bare, tasks }, { seed: 1 }).unplaced).toMatchObject([
      { task: 'c', reason: 'no room in the shifts' },
      { task: 'd', reason: 'waits for an unplaced task', detail: 'c' },
    ]);
  });
  it('a cycle is named for each of its tasks', () => {
    const tasks = [
      { id: 'a', min: 1, due: 0, preds: ['b'] },
      { id: 'b', min: 1, due: 0, preds: ['a'] },
      { id: 'c', min: 1, due: 0 },
    ];
    expect(drawRound({ ...bare, tasks }, { seed: 1 })).toMatchObject({
      assignment: { a: null, b: null, c: { slot: 0 } },
      unplaced: [{ reason: 'precedence cycle' }, { reason: 'precedence cycle' }],
    });
  });
  it('an instance that contradicts itself is refused with a name', () => {
    expect(() =>
      drawRound(
        {
          ...bare,
          tasks: [
            { id: 'a', min: 1, due: 0 },
            { id: 'a', min: 1, due: 0 },
          ],
        },
        { seed: 1 },
      ),
    ).toThrow('two tasks are called a');
    expect(() =>
      drawRound({ ...bare, tasks: [{ id: 'a', min: 1, due: 0, main: 'X', state: 'L' }] }, { seed: 1 }),
    ).toThrow('main that is not listed');
    expect(() => drawRound({ ...bare, crews: [{ id: 'A', regular: [60] }] }, { seed: 1 })).toThrow(
      '1 of 2 slots',
    );
  });
  it('a cancelled draw decides nothing', () =>
    expect(() =>
      drawRound({ ...bare, tasks: [{ id: 'a', min: 1, due: 0 }] }, { seed: 1 }, { cancelled: () => true }),
    ).toThrow(DrawCancelled));
});

describe('the checker', () => {
  const tasks: PlanTask[] = [
    { id: 'a', min: 40, due: 0, main: 'M', state: 'H', latest: 0 },
    { id: 'b', min: 40, due: 0, preds: ['a'], skill: 'air' },
    { id: 'c', min: 5, due: 0, main: 'M', state: 'L' },
  ];
  it('finds every breach of a bad plan', () => {
    const instance = { ...bare, crews: [{ id: 'A', regular: [60, 60], skills: ['valves'] }], tasks };
    const breaches = checkAssignment(instance, {
      a: { slot: 1, crew: 'A' },
      b: { slot: 0, crew: 'A' },
      c: { slot: 1, crew: 'A' },
      d: null,
    });
    expect(breaches.map((breach) => breach.constraint).sort()).toEqual([
      'known task',
      'latest',
      'predecessor',
      'skill',
      'switching policy',
    ]);
  });
  it('finds an overfull shift, a missing answer and a person that is not there', () => {
    const instance = {
      ...bare,
      mains: [{ id: 'M' }],
      tasks: [
        { id: 'a', min: 61, due: 0 },
        { id: 'b', min: 1, due: 0 },
        { id: 'c', min: 1, due: 0 },
      ],
    };
    expect(
      checkAssignment(instance, { a: { slot: 0, crew: 'A' }, b: { slot: 0, crew: 'Z' } }).map(
        (breach) => breach.constraint,
      ),
    ).toEqual(['place', 'answered', 'capacity']);
  });
});

it('the generator of numbers gives the published stream for seed 1 (mulberry32, first four outputs)', () => {
  const random = createRandom(1);
  expect([random.next(), random.next(), random.next(), random.next()]).toEqual([
    2693262067, 11749833, 2265367787, 4213581821,
  ]);
});
