/**
 * The planner's parts against known answers. planning_checks.json: hand-sized cases written for this project, each
 * checked outside it as its `verified` says (enumeration, dynamic programming, HiGHS). tsplib/: TSPLIB95 (G.
 * Reinelt, Heidelberg), EUC_2D, optima 7542, 426, 675. binpack_u120.json: OR-Library (Falkenauer's u120),
 * copyright (c) 2010 J E Beasley, MIT licence; the best known packings 48, 50, 50, 52 equal the lower bound.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { countedTasks } from '../../shared/planning/bounds/counted.ts';
import { lateSetBound } from '../../shared/planning/bounds/lateSet.ts';
import { packingBound } from '../../shared/planning/bounds/packing.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { compile } from '../../shared/planning/engine/compile.ts';
import { findHeads } from '../../shared/planning/engine/heads.ts';
import { evenShares } from '../../shared/planning/evenShares.ts';
import { heldChanges, NEEDS_HIGH, NEEDS_LOW } from '../../shared/planning/hold.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { exactTour, oneTreeBound, shortTour, tourLength } from '../../shared/planning/tours/tour.ts';

const read = (name: string): string => readFileSync(new URL(`data/${name}`, import.meta.url), 'utf8');
type Check = { id: string; input: never; output: never };
const checks = JSON.parse(read('planning_checks.json')) as Check[];
const starting = (prefix: string): [string, Check][] =>
  checks.filter(({ id }) => id.startsWith(prefix)).map((check) => [check.id, check]);

it.each(starting('AIR'))('%s: fewest changes of a main, held and returned', (_id, { input, output }) => {
  const { start, need } = input as { start: string; need: string[][] };
  const bits = need.map((states) =>
    states.reduce((sum, state) => sum | (state === 'H' ? NEEDS_HIGH : NEEDS_LOW), 0),
  );
  expect(heldChanges(bits, start === 'H' ? 1 : 0, () => 1).changes).toBe(
    (output as { holdPolicy: number }).holdPolicy,
  );
  const tasks = need.flatMap((states, day) =>
    states.map((state) => ({
      id: `${day}${state}`,
      min: 1,
      due: day,
      earliest: day,
      latest: day,
      main: 'M',
      state: state as 'L' | 'H',
    })),
  );
  const instance: PlanInstance = {
    slots: need.map((_, day) => ({ day })),
    crews: [{ id: 'A', regular: need.map(() => 10) }],
    mains: [{ id: 'M', natural: need.map(() => 'L') }],
    tasks,
    cost: { switchover: 1 },
  };
  expect(drawRound(instance, { seed: 1, evaluations: 2_000 }).evaluation.parts.switchovers).toBe(
    (output as { returnPolicyNaturalLow: number }).returnPolicyNaturalLow,
  );
  const held: PlanInstance = {
    ...instance,
    mains: [{ id: 'M', natural: need.map(() => start as 'L' | 'H'), policy: 'hold' }],
  };
  expect(drawRound(held, { seed: 1, evaluations: 2_000 }).evaluation.parts.switchovers).toBe(
    (output as { holdPolicy: number }).holdPolicy,
  );
});

it.each(starting('SESS'))('%s: sessions of one main against lateness', (_id, { input, output }) => {
  const { tasks, T, K } = input as { tasks: { r: number; d: number; w: number }[]; T: number; K: number };
  const days = Array.from({ length: T }, (_, day) => day);
  const drawn = drawRound(
    {
      slots: days.map((day) => ({ day })),
      crews: [{ id: 'A', regular: days.map(() => 1_000) }],
      mains: [{ id: 'M', natural: days.map(() => 'L') }],
      // Priced at two changes a session, and doubled so that odd prices stay whole.
      tasks: tasks.map(({ r, d, w }, index) => ({
        id: `t${index}`,
        min: 1,
        weight: 2 * w,
        due: d,
        earliest: r,
        main: 'M',
        state: 'H',
      })),
      cost: { switchover: K },
    },
    { seed: 1, evaluations: 60_000 },
  );
  expect(drawn.evaluation.total).toBe(2 * (output as { optimum: number }).optimum);
  expect(drawn.bounds.total).toBeLessThanOrEqual(drawn.evaluation.total);
});

it.each(starting('STAB'))('%s: fewest sessions that meet all windows', (_id, { input, output }) => {
  const { windows } = input as { windows: [number, number][] };
  const days = Array.from({ length: 13 }, (_, day) => day);
  const drawn = drawRound(
    {
      slots: days.map((day) => ({ day })),
      crews: [{ id: 'A', regular: days.map(() => 1_000) }],
      mains: [{ id: 'M', natural: days.map(() => 'L') }],
      tasks: windows.map(([earliest, latest], index) => ({
        id: `t${index}`,
        min: 1,
        due: 20,
        earliest,
        latest,
        main: 'M',
        state: 'H',
      })),
      cost: { switchover: 1 },
    },
    { seed: 1, evaluations: 60_000 },
  );
  expect(drawn.evaluation.parts.switchovers).toBe(2 * (output as { sessions: number }).sessions);
  expect(drawn.bounds.switchovers).toBe(2 * (output as { sessions: number }).sessions);
});

it.each(starting('BIN'))('%s: bound and optimum of a packing', (_id, { input, output }) => {
  const { items, C } = input as { items: number[]; C: number };
  const known = output as { L2: number; optimum: number };
  expect(packingBound(items, C)).toBe(known.L2);
  // The same as sessions: one slot a bin, each opened at a price of 2.
  const slots = items.map(() => ({ day: 0 }));
  const drawn = drawRound(
    {
      slots,
      crews: [{ id: 'A', regular: slots.map(() => C) }],
      mains: [{ id: 'M', natural: slots.map(() => 'L') }],
      tasks: items.map((min, index) => ({ id: `t${index}`, min, due: 9, main: 'M', state: 'H' })),
      cost: { switchover: 1 },
    },
    { seed: 1, evaluations: 100_000 },
  );
  expect(drawn.evaluation.total).toBe(2 * known.optimum);
});

it('u120: the packing bound is the best known packing', () => {
  const known = JSON.parse(read('binpack_u120.json')) as Record<
    string,
    { capacity: number; best: number; items: number[] }
  >;
  expect(Object.values(known).map(({ items, capacity }) => packingBound(items, capacity))).toEqual([
    48, 50, 50, 52,
  ]);
  expect(Object.values(known).map(({ best }) => best)).toEqual([48, 50, 50, 52]);
});

it.each(starting('TARD'))('%s: late-set bound', (_id, { input, output }) => {
  const { tasks, cap } = input as { tasks: { p: number; w: number; d: number; r: number }[]; cap: number[] };
  const c = compile({
    slots: cap.map((_, day) => ({ day })),
    crews: [{ id: 'A', regular: cap }],
    tasks: tasks.map(({ p, w, d, r }, index) => ({
      id: `t${index}`,
      min: p,
      weight: w,
      due: d,
      earliest: r,
    })),
  });
  const heads = findHeads(c);
  expect(lateSetBound(c, heads, countedTasks(c, heads))).toBe(
    (output as { lateSetBound: number }).lateSetBound,
  );
});

it.each(starting('SHARE'))('%s: even shares', (_id, { input, output }) => {
  const { total, cap } = input as { total: number; cap: number[] };
  expect(evenShares(total, cap)).toEqual((output as { target: number[] }).target);
});

it.each(starting('TOUR'))('%s: floors one by one from one stair', (_id, { input, output }) => {
  const { stops, floorCost } = input as { stops: [number, number, number][]; floorCost: number };
  const { perFloorTours, closedTour } = output as {
    perFloorTours: Record<string, number>;
    closedTour: number;
  };
  const lengths = Object.keys(perFloorTours).map((floor) => {
    const points = [[0, 0], ...stops.filter(([own]) => own === Number(floor)).map(([, x, y]) => [x, y])];
    const distance = points.flatMap(([ax, ay]) =>
      points.map(([bx, by]) => Math.abs(ax - bx) + Math.abs(ay - by)),
    );
    return tourLength(distance, points.length, exactTour(distance, points.length));
  });
  expect(lengths).toEqual(Object.values(perFloorTours));
  const span = Math.max(...stops.map(([floor]) => floor)) - 1;
  expect(lengths.reduce((sum, one) => sum + one, 0) + 2 * floorCost * span).toBe(closedTour);
});

describe.each([
  ['berlin52', 7542, 7542],
  ['eil51', 426, 422.5],
  ['st70', 675, 671],
])('%s', (name, optimum, heldKarp) => {
  const points = [...read(`tsplib/${name}.tsp`).matchAll(/^\s*\d+\s+([\d.e+]+)\s+([\d.e+]+)\s*$/gm)].map(
    ([, x, y]) => [Number(x), Number(y)],
  );
  // TSPLIB's EUC_2D: rounded Euclidean distance.
  const distance = points.flatMap(([ax, ay]) =>
    points.map(([bx, by]) => Math.floor(Math.hypot(ax - bx, ay - by) + 0.5)),
  );
  it('is toured within one per cent of the optimum', () => {
    const tour = shortTour(distance, points.length, createRandom(1));
    expect(new Set(tour).size).toBe(points.length);
    const length = tourLength(distance, points.length, tour);
    expect(length).toBeGreaterThanOrEqual(optimum);
    expect(length).toBeLessThanOrEqual(optimum * 1.01);
  });
  it('has the Held-Karp bound within 0.5, never above the optimum', () => {
    const bound = oneTreeBound(distance, points.length, 2_000);
    expect(Math.abs(bound - heldKarp)).toBeLessThanOrEqual(0.5);
    expect(bound).toBeLessThanOrEqual(optimum + 1e-6);
  });
});
