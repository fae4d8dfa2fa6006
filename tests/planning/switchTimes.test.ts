/** Worked by hand: persons on one main share its changes, and wait for each other. */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { checkAssignment, checkVisits } from '../../shared/planning/check.ts';
import { compile } from '../../shared/planning/engine/compile.ts';
import { planOf } from '../../shared/planning/engine/assignment.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { heldStates } from '../../shared/planning/heldStates.ts';
import type { DrawnRound, DrawnVisit, Placement, PlanInstance } from '../../shared/planning/instance.ts';
import { furtherChanges, shiftTimes } from '../../shared/planning/tours/switchTimes.ts';
import { drawVisits } from '../../shared/planning/visits.ts';
import { settleWays } from '../../shared/planning/ways.ts';
import { randomInstances } from '../support/randomInstances.ts';

const instance: PlanInstance = {
  slots: [{ day: 0 }],
  crews: [
    { id: 'A', regular: [240] },
    { id: 'B', regular: [240] },
  ],
  mains: [
    { id: 'M', natural: ['L'], switchMin: 10 },
    { id: 'N', natural: ['L'], switchMin: 5 },
  ],
  travel: { building: 8, floor: 2 },
  tasks: [
    { id: 'a1', min: 20, due: 0 },
    { id: 'a2', min: 30, due: 0, main: 'M', state: 'H' },
    { id: 'a3', min: 15, due: 0, main: 'N', state: 'H' },
    { id: 'b1', min: 50, due: 0, main: 'M', state: 'L' },
    { id: 'b2', min: 12, due: 0, main: 'M', state: 'H' },
    { id: 'b3', min: 7, due: 0, main: 'N', state: 'H' },
  ],
};
function visit(crew: string, order: number, task: string, state: 'L' | 'H' | null = null): DrawnVisit {
  const main = instance.tasks.find((one) => one.id === task)?.main ?? null;
  return { slot: 0, crew, order, building: 'X', floor: '1', room: task, main, state, tasks: [task] };
}

function both(crew: string, first: string, second: string): DrawnVisit[] {
  return [visit(crew, 1, first, 'H'), visit(crew, 2, second, 'H')];
}

it('a change waits for what must come before it, and ends when the last has finished', () => {
  const visits = [
    visit('A', 1, 'a1'),
    visit('A', 2, 'a2', 'H'),
    visit('B', 1, 'b1', 'L'),
    visit('B', 2, 'b2', 'H'),
  ];
  // A comes after 10 + 20 = 30, but B reads low until 10 + 50 = 60; high from 70; A is done at 100, B at 82.
  expect(shiftTimes(instance, visits, [])).toEqual({
    switches: [{ slot: 0, main: 'M', state: 'H', begin: 60, back: 100, crews: ['A', 'B'] }],
    finishes: [
      { slot: 0, crew: 'A', end: 110, waits: 30 },
      { slot: 0, crew: 'B', end: 92, waits: 0 },
    ],
    held: [],
  });
});

it('what needs the natural state of a main held away comes last, and waits for it', () => {
  const { visits } = drawVisits(
    instance,
    {
      a1: { slot: 0, crew: 'A' },
      a2: { slot: 0, crew: 'A' },
      b1: { slot: 0, crew: 'B' },
      b2: { slot: 0, crew: 'B' },
    },
    [],
  );
  expect(visits.map(({ crew, tasks }) => [crew, ...tasks])).toEqual([
    ['A', 'a2'],
    ['A', 'a1'],
    ['B', 'b2'],
    ['B', 'b1'],
  ]);
  // Both change at once; A works 30, done at 40; low again at 50. B is ready for low at 20 + 12 = 32.
  expect(shiftTimes(instance, visits, [])).toEqual({
    switches: [{ slot: 0, main: 'M', state: 'H', begin: 0, back: 40, crews: ['A', 'B'] }],
    finishes: [
      { slot: 0, crew: 'A', end: 70, waits: 0 },
      { slot: 0, crew: 'B', end: 100, waits: 18 },
    ],
    held: [],
  });
});

it('what needs no state is done with an excursion to the same room, unless others share that', () => {
  const rooms: Record<string, string> = { a1: 'r1', a2: 'r1', a3: 'r2', b2: 'r3' };
  const here = { slot: 0, crew: 'A' };
  const orderOf = (b2: Placement | null, preds: Record<string, string[]> = {}): string[] => {
    const plan: PlanInstance = {
      ...instance,
      tasks: instance.tasks.flatMap((task) =>
        rooms[task.id] ? [{ ...task, room: rooms[task.id], preds: preds[task.id] }] : [],
      ),
    };
    return drawVisits(plan, { a1: here, a2: here, a3: here, b2 }, [])
      .visits.filter((one) => one.crew === 'A')
      .map((one) => one.tasks.join('+'));
  };
  expect(orderOf(null)).toEqual(['a1+a2', 'a3']);
  expect(orderOf({ slot: 0, crew: 'B' })).toEqual(['a2', 'a3', 'a1']);
  // What an excursion waits for is done on it too, if all that waits for it is of that, and in the same room.
  expect(orderOf(null, { a2: ['a1'] })).toEqual(['a1+a2', 'a3']);
  expect(orderOf(null, { a2: ['a1'], a3: ['a1'] })).toEqual(['a1', 'a2', 'a3']);
});

it('who needs the natural state of a main that only others change waits too, or is done before', () => {
  const low = visit('B', 1, 'b1', 'L');
  const early = [visit('A', 1, 'a1'), visit('A', 2, 'a2', 'H'), low];
  // A changes it at 30, before B is done at 60: so B, who walks up before, begins at 80.
  expect(shiftTimes(instance, early, []).finishes[1]).toEqual({ slot: 0, crew: 'B', end: 130, waits: 70 });
  const long = {
    ...instance,
    tasks: instance.tasks.map((one) => (one.id === 'a1' ? { ...one, min: 50 } : one)),
  };
  expect(shiftTimes(long, early, []).finishes[1]).toEqual({ slot: 0, crew: 'B', end: 60, waits: 0 });
});

it('two mains one after the other follow each other; who comes later finds a main changed', () => {
  const visits = [...both('A', 'a2', 'a3'), ...both('B', 'b2', 'b3')];
  // M at once, high from 10; A walks in (10) and works 30, done at 50, at N at 60. B is at N at 42, done at 54; A at 80.
  expect(
    shiftTimes(instance, visits, []).switches.map(({ main, begin, back }) => [main, begin, back]),
  ).toEqual([
    ['M', 0, 50],
    ['N', 42, 80],
  ]);
  const crosswise = [...both('A', 'a2', 'a3'), ...both('B', 'b3', 'b2')];
  expect(
    shiftTimes(instance, crosswise, []).switches.map(({ main, begin, back }) => [main, begin, back]),
  ).toEqual([
    ['M', 0, 50],
    ['N', 0, 80],
  ]);
});

it('where the natural state is needed between two changes of one main, it is changed again', () => {
  const visits = [visit('A', 1, 'a2', 'H'), visit('A', 2, 'b1', 'L'), visit('A', 3, 'b2', 'H')];
  // High from 10, 10 of walking and 30 of work, low again at 60, read until 110, high from 120 to 132, low at 142.
  const again = shiftTimes(instance, visits, []);
  expect(again.switches.map(({ begin, back }) => [begin, back])).toEqual([
    [0, 50],
    [110, 132],
  ]);
  expect(again.finishes).toEqual([{ slot: 0, crew: 'A', end: 142, waits: 0 }]);
  expect(furtherChanges(again)).toBe(2);
  // Another who only needs it high comes with the first change; who only needs it low reads between the two.
  const high = [...visits, visit('B', 1, 'b2', 'H')];
  expect(shiftTimes(instance, high, []).finishes[1]).toEqual({ slot: 0, crew: 'B', end: 42, waits: 0 });
  const low = [...visits, visit('B', 1, 'a1'), visit('B', 2, 'b1', 'L')];
  expect(shiftTimes(instance, low, []).finishes[1]).toEqual({ slot: 0, crew: 'B', end: 110, waits: 30 });
});

it('work without a state between two parts of an excursion leaves the main away', () => {
  const visits = [visit('A', 1, 'a2', 'H'), visit('A', 2, 'a1'), visit('A', 3, 'b2', 'H')];
  const through = shiftTimes(instance, visits, []);
  expect(through.switches.map(({ begin, back }) => [begin, back])).toEqual([[0, 82]]);
  expect(through.finishes).toEqual([{ slot: 0, crew: 'A', end: 92, waits: 0 }]);
  expect(furtherChanges(through)).toBe(0);
});

it('a main held for days that is needed in both states is worked in as it is found first', () => {
  const shut: PlanInstance = {
    ...instance,
    mains: [{ id: 'M', natural: ['L'], switchMin: 10, policy: 'hold' }],
  };
  const visits = [visit('A', 1, 'a2', 'H'), visit('B', 1, 'a1'), visit('B', 2, 'b1', 'L')];
  // It is found low. B: 10 of walking, 20, a change counted, 50. A is there after 10, waits till 90, changes 10 and works 30.
  expect(shiftTimes(shut, visits, [{ main: 'M', slot: 0, found: 'L', left: 'H' }])).toMatchObject({
    finishes: [
      { slot: 0, crew: 'A', end: 130, waits: 80 },
      { slot: 0, crew: 'B', end: 90, waits: 0 },
    ],
    held: [{ slot: 0, main: 'M', at: 90, crews: ['A', 'B'] }],
  });
  const here = (crew: string): Placement => ({ slot: 0, crew });
  const together = { a2: here('A'), b1: here('A') };
  const both = drawVisits(shut, together, heldStates(shut, together)).visits.map((one) => one.state);
  expect(both).toEqual(['L', 'H']);
});

it('where two would wait for each other for ever, one comes after the other', () => {
  const mixed: PlanInstance = {
    ...instance,
    tasks: [
      { id: 'a1', min: 10, due: 0, main: 'M', state: 'H' },
      { id: 'a2', min: 10, due: 0, main: 'N', state: 'L' },
      { id: 'a3', min: 10, due: 0, main: 'M', state: 'H' },
      { id: 'b1', min: 10, due: 0, main: 'N', state: 'H' },
      { id: 'b2', min: 10, due: 0, main: 'M', state: 'L' },
      { id: 'b3', min: 10, due: 0, main: 'N', state: 'H' },
    ],
  };
  const at = (order: number, task: number): DrawnVisit[] =>
    ['A', 'B'].map((crew) => {
      const { id, main = null, state = null } = mixed.tasks[task + (crew === 'A' ? 0 : 3)];
      return { ...visit(crew, order, 'a1'), room: id, main, state, tasks: [id] };
    });
  const { switches, finishes } = shiftTimes(mixed, [...at(1, 0), ...at(2, 1), ...at(3, 2)], []);
  expect(finishes).toEqual([
    { slot: 0, crew: 'A', end: 60, waits: 0 },
    { slot: 0, crew: 'B', end: 110, waits: 60 },
  ]);
  expect(switches.map(({ main, begin, back }) => [main, begin, back])).toEqual([
    ['M', 0, 50],
    ['N', 60, 105],
  ]);
});

it('a main that one person would need again goes to a shift of its own where that costs no more', () => {
  const chain: PlanInstance = {
    slots: [{ day: 0 }, { day: 1 }],
    crews: [{ id: 'A', regular: [90, 90] }],
    mains: [{ id: 'M', natural: ['L', 'L'], switchMin: 10 }],
    tasks: [
      { id: 'a', min: 10, due: 1, main: 'M', state: 'H' },
      { id: 'b', min: 10, due: 1, main: 'M', state: 'L', preds: ['a'] },
      { id: 'c', min: 10, due: 1, main: 'M', state: 'H', preds: ['b'] },
    ],
    cost: { switchover: 20 },
  };
  const short = { ...chain, crews: [{ id: 'A', regular: [60, 45] }] };
  const together = drawRound(chain, { seed: 1, evaluations: 2_000 });
  expect([together.furtherChanges, together.overruns]).toEqual([2, []]);
  // 30 minutes of work and two changes there and back are 70: the plan counts 50.
  const long = drawRound(short, { seed: 1, evaluations: 2_000 });
  expect(long.overruns).toEqual([{ slot: 0, crew: 'A', minutes: 10 }]);
  const mended = drawRound(short, { seed: 1, evaluations: 2_000, handBack: true });
  expect([mended.furtherChanges, mended.overruns]).toEqual([0, []]);
  expect(mended.unplaced).toEqual([]);
});

it('on 300 random instances a round mended runs over no longer, and is dearer only for that', () =>
  fc.assert(
    fc.property(randomInstances(), (asked) => {
      const drawn = drawRound(asked, { seed: 1, evaluations: 6_000 });
      const mended = drawRound(asked, { seed: 1, evaluations: 6_000, handBack: true });
      const over = ({ overruns }: DrawnRound): number =>
        overruns.reduce((sum, { minutes }) => sum + minutes, 0);
      expect(over(mended)).toBeLessThanOrEqual(over(drawn));
      if (over(drawn) === 0 && drawn.furtherChanges === 0)
        expect(mended.evaluation.total).toBe(drawn.evaluation.total);
    }),
    { numRuns: 300 },
  ));

it('a shift that waiting makes too long hands its work on to another', () => {
  const tight: PlanInstance = {
    ...instance,
    slots: [{ day: 0 }, { day: 1 }],
    mains: [{ id: 'M', natural: ['L', 'L'], switchMin: 10 }],
    crews: [
      { id: 'A', regular: [110, 0] },
      { id: 'B', regular: [105, 100] },
    ],
    tasks: instance.tasks
      .filter(({ id }) => ['a1', 'a2', 'b1', 'b2'].includes(id))
      .map((task) => ({
        ...task,
        building: 'X',
        floor: '1',
        room: task.id,
        ...(task.id === 'b1' ? { skill: 'low' } : {}),
      })),
    cost: { switchover: 20, walk: 1 },
  };
  tight.crews[0].skills = ['high'];
  const drawn = drawRound(tight, { seed: 1, evaluations: 20_000 });
  const relieved = drawRound(tight, { seed: 1, evaluations: 20_000, handBack: true });
  expect(checkAssignment(tight, relieved.assignment)).toEqual([]);
  expect(relieved.overruns).toEqual([]);
  expect(relieved.unplaced).toEqual([]);
  expect(drawn.evaluation.total).toBeLessThanOrEqual(relieved.evaluation.total);
});

it('on 300 random instances who has no main changed again is done after the minutes of the plan and the waiting', () =>
  fc.assert(
    fc.property(randomInstances(), (asked) => {
      const { assignment, visits } = drawRound(asked, { seed: 1, evaluations: 3_000 });
      const c = compile(asked);
      const { load } = planOf(c, assignment);
      const times = shiftTimes(settleWays(asked, assignment).instance, visits, heldStates(asked, assignment));
      const again = new Set(
        [...Map.groupBy(times.switches, ({ slot, main }) => `${slot} ${main}`).values()].flatMap((all) =>
          all.slice(1).map(({ slot }) => slot),
        ),
      );
      for (const { slot, crew, end, waits } of times.finishes)
        if (!again.has(slot))
          expect(end - waits).toBe(load[slot * c.crews + asked.crews.findIndex(({ id }) => id === crew)]);
    }),
    { numRuns: 300 },
  ));

it('on 300 random instances a round relieved of waiting stands, and costs no less than its bound', () =>
  fc.assert(
    fc.property(randomInstances(), (asked) => {
      const drawn = drawRound(asked, { seed: 1, evaluations: 6_000, handBack: true });
      expect(checkAssignment(asked, drawn.assignment)).toEqual([]);
      expect(checkVisits(asked, drawn.assignment, drawn.visits)).toEqual([]);
      expect(drawn.bounds.total).toBeLessThanOrEqual(drawn.evaluation.total);
    }),
    { numRuns: 300 },
  ));
