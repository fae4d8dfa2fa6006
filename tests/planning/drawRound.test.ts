import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkAssignment, checkVisits } from '../../shared/planning/check.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import { DrawCancelled } from '../../shared/planning/instance.ts';
import type { PlanInstance, PlanTask } from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';

/** A random instance with every feature; precedence only to earlier tasks unless `cyclic`. */
const instances = fc
  .record({
    seed: fc.nat(),
    tasks: fc.integer({ min: 1, max: 40 }),
    days: fc.integer({ min: 1, max: 12 }),
    crews: fc.integer({ min: 1, max: 3 }),
    cyclic: fc.boolean(),
  })
  .map(({ seed, tasks, days, crews, cyclic }): PlanInstance => {
    const random = createRandom(seed);
    const chance = (percent: number): boolean => random.integer(0, 99) < percent;
    const slots = Array.from({ length: days * 2 }, (_, index) => ({
      day: Math.floor(index / 2),
      occupied: index % 2 === 1,
      period: Math.floor(index / 6),
    }));
    const some = (percent: number): number[] => slots.map((_, index) => index).filter(() => chance(percent));
    const list = Array.from({ length: tasks }, (_, index): PlanTask => {
      const earliest = random.integer(0, days);
      return {
        id: `t${index}`,
        min: random.integer(0, 60),
        weight: random.integer(1, 9),
        due: random.integer(-3, days),
        ...(chance(60) ? { earliest } : {}),
        ...(chance(50) ? { latest: earliest + random.integer(-1, 6) } : {}),
        ...(chance(60)
          ? { main: `m${random.integer(0, 1)}`, state: chance(50) ? ('H' as const) : ('L' as const) }
          : {}),
        ...(chance(20) ? { portableMin: random.integer(10, 90) } : {}),
        ...(chance(20)
          ? { published: [random.integer(0, slots.length - 1), 0] as [number, number], moveFactor: 2 }
          : {}),
        ...(chance(20) ? { skill: 'air' } : {}),
        ...(chance(40) && index > 0
          ? { preds: [`t${random.integer(0, cyclic ? tasks - 1 : index - 1)}`] }
          : {}),
        building: `b${random.integer(0, 1)}`,
        floor: `f${random.integer(0, 2)}`,
        room: `r${random.integer(0, 5)}`,
        unscheduled: 500,
        ...(chance(15)
          ? {
              open: [[0, random.integer(0, slots.length - 1)]] as [number, number][],
              closedBy: 'room access',
            }
          : {}),
      };
    });
    return {
      slots,
      crews: Array.from({ length: crews }, (_, index) => ({
        id: `c${index}`,
        regular: slots.map(() => (chance(80) ? random.integer(30, 150) : 0)),
        overtime: slots.map(() => (chance(30) ? 20 : 0)),
        skills: chance(50) ? ['*'] : ['valves'],
      })),
      mains: ['m0', 'm1'].map((id) => ({
        id,
        natural: slots.map(() => (chance(50) ? ('H' as const) : ('L' as const))),
        switchMin: random.integer(0, 12),
        unsettled: some(10),
        ...(chance(60) ? { forcible: some(50) } : {}),
        ...(chance(20) ? { policy: 'hold' as const } : {}),
      })),
      tasks: list,
      travel: { building: 8, floor: 2 },
      periodTarget: { 0: 100, 1: 100 },
      cost: { switchover: 20, switchoverOccupied: 20, overtime: 2, walk: 1, uneven: 1, move: 3 },
    };
  });

describe('a drawn round', () => {
  it('passes the independent checker on 2,000 random instances, costs no less than any bound, and has a reason for everything left out', () =>
    fc.assert(
      fc.property(instances, (instance) => {
        const drawn = drawRound(instance, { seed: 3, evaluations: 2_000 });
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
