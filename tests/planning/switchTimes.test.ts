/** Worked by hand: two persons on one main share its changes. */
import { expect, it } from 'vitest';
import type { DrawnVisit, PlanInstance } from '../../shared/planning/instance.ts';
import { switchTimes } from '../../shared/planning/tours/switchTimes.ts';

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

it('a change begins when the last person has come, and ends when the last has finished', () => {
  const visits = [
    visit('A', 1, 'a1'),
    visit('A', 2, 'a2', 'H'),
    visit('B', 1, 'b1', 'L'),
    visit('B', 2, 'b2', 'H'),
  ];
  // A comes after 10 + 20 = 30, B after 10 + 50 = 60; high from 70; A is done at 100, B at 82.
  expect(switchTimes(instance, visits)).toEqual([
    {
      slot: 0,
      main: 'M',
      state: 'H',
      begin: 60,
      back: 100,
      crews: [
        { crew: 'A', waits: 30 },
        { crew: 'B', waits: 18 },
      ],
    },
  ]);
});

it('two mains one after the other follow each other', () => {
  const visits = [...both('A', 'a2', 'a3'), ...both('B', 'b2', 'b3')];
  // M at once, high from 10; A walks in (10) and works 30, done at 50; low again at 60. N: high from 65, A done at 80.
  expect(switchTimes(instance, visits).map(({ main, begin, back }) => [main, begin, back])).toEqual([
    ['M', 0, 50],
    ['N', 60, 80],
  ]);
});

it('where each would wait for the other, no time is given', () => {
  const visits = [...both('A', 'a2', 'a3'), ...both('B', 'b3', 'b2')];
  expect(switchTimes(instance, visits).map(({ begin }) => begin)).toEqual([null, null]);
});
