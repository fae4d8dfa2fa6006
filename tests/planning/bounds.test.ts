/** The bound by prices, checked from its witness by a reading of docs/planning-format.md that shares no code with it. */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { CheapestSlots } from '../../shared/planning/bounds/cheapestSlot.ts';
import { termsOf } from '../../shared/planning/bounds/priceBound.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { compile } from '../../shared/planning/engine/compile.ts';
import { findHeads } from '../../shared/planning/engine/heads.ts';
import type { MinutePrices, PlanInstance, PlanTask } from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { generateInstance } from '../support/generateInstance.ts';
import { randomInstances } from '../support/randomInstances.ts';

const UNIT = 4096;

/** Points that the prices prove, when every task is taken alone; a lower bound of what chains prove. */
function provedAlone(instance: PlanInstance, { slot: prices, period: weeks }: MinutePrices): number {
  const { slots, crews, tasks, mains = [], travel = {}, cost = {}, periodTarget = {} } = instance;
  const leastBuilding = tasks.every((task) => task.building !== undefined) ? (travel.building ?? 0) : 0;
  const leastFloor = tasks.every((task) => task.floor !== undefined) ? (travel.floor ?? 0) : 0;
  const visit = leastBuilding + leastFloor;
  const capacity = (crew: number, slot: number): number =>
    crews[crew].regular[slot] + (crews[crew].overtime?.[slot] ?? 0);
  const priceOf = (slot: number): number => prices[slot] + (weeks[slots[slot].period ?? -1] ?? 0);
  const mainOf = new Map(mains.map((main) => [main.id, main]));
  const needsChange = (task: PlanTask, slot: number): boolean => {
    const main = mainOf.get(task.main ?? '');
    return (
      main !== undefined &&
      task.state !== undefined &&
      main.policy !== 'hold' &&
      task.state !== (main.natural?.[slot] ?? 'L')
    );
  };
  /** Least UNITs a minute in a session of a main carries: its price over all it could hold. */
  const session = new Map<string, number>();
  const shareOf = (id: string, slot: number): number => {
    const key = `${id} ${slot}`;
    const known = session.get(key);
    if (known !== undefined) return known;
    const main = mainOf.get(id);
    const holds = crews.reduce(
      (sum, _crew, at) => sum + Math.max(0, capacity(at, slot) - visit - 2 * (main?.switchMin ?? 0)),
      0,
    );
    const price = 2 * ((cost.switchover ?? 0) + (slots[slot].occupied ? (cost.switchoverOccupied ?? 0) : 0));
    const share = holds > 0 ? Math.floor((price * UNIT) / holds) : 0;
    session.set(key, share);
    return share;
  };
  let sum = 0;
  for (const task of tasks) {
    let least = (task.unscheduled ?? 100_000) * UNIT;
    for (const [slot, { day }] of slots.entries()) {
      if (day < (task.earliest ?? day) || day > (task.latest ?? day)) continue;
      if (task.open && !task.open.some(([from, to]) => slot >= from && slot <= to)) continue;
      const late = Math.max(0, day - task.due) * (task.weight ?? 1) * UNIT;
      const share = needsChange(task, slot) ? shareOf(task.main ?? '', slot) : 0;
      least = Math.min(least, late + task.min * (priceOf(slot) + share));
      if (task.portableMin !== undefined) least = Math.min(least, late + task.portableMin * priceOf(slot));
    }
    sum += least;
  }
  for (const slot of slots.keys())
    for (const crew of crews.keys()) {
      const most = capacity(crew, slot) - visit;
      if (most <= 0) continue;
      const regular = Math.max(0, Math.min(most, crews[crew].regular[slot] - visit));
      // The dearest that a price may be taken off for: overtime; the least, a visit over the minutes that fill it.
      const walk = (cost.walk ?? 0) * visit;
      const overtime = cost.overtime ?? 0;
      const isKnee = regular > 0 && walk / regular <= overtime;
      const rate = isKnee ? walk / regular : (walk + overtime * (most - regular)) / most;
      sum -= Math.max(0, prices[slot] - Math.floor(rate * UNIT)) * (isKnee ? regular : most);
      if (isKnee) sum -= Math.max(0, prices[slot] - overtime * UNIT) * (most - regular);
    }
  for (const [week, price] of weeks.entries()) sum -= price * (periodTarget[week] ?? 0);
  return Math.ceil(sum / UNIT);
}

it('a short checker proves nearly all of the reported bound from its witness, on a generated year', () => {
  const instance = generateInstance({ tasks: 400, seed: 3 });
  const { bounds, evaluation, unplaced } = drawRound(instance, { seed: 1, evaluations: 300_000 });
  expect(unplaced).toEqual([]);
  const proved = provedAlone(instance, bounds.witness);
  expect(proved).toBeLessThanOrEqual(bounds.prices);
  expect(proved).toBeGreaterThan(0.8 * bounds.prices);
  expect(bounds.prices).toBeLessThanOrEqual(evaluation.total);
});

it('what the checker proves is never above the reported bound, nor that above the cost, on 400 random instances', () =>
  fc.assert(
    fc.property(randomInstances(), (instance) => {
      const { bounds, evaluation } = drawRound(instance, { seed: 1, evaluations: 6_000 });
      const proved = provedAlone(instance, bounds.witness);
      expect(proved).toBeLessThanOrEqual(Math.max(0, bounds.prices));
      expect(bounds.prices).toBeLessThanOrEqual(evaluation.total);
    }),
    { numRuns: 400 },
  ));

/** The cheapest slot of every task, asked for by ranges, is as cheap as the cheapest of all slots looked at one by one. */
function compareSlots(instance: PlanInstance, seed: number): void {
  const c = compile(instance);
  const heads = findHeads(c);
  const { session } = termsOf(c, heads);
  const cheapest = new CheapestSlots(c, heads, session, Int32Array.from(c.due.keys()));
  const random = createRandom(seed);
  for (const top of [0, 20, 6_000]) {
    cheapest.fill(Float64Array.from({ length: c.slots }, () => random.integer(0, top)));
    for (let task = 0; task < c.tasks; task += 1) {
      if (heads.forcedOut[task] || c.frozen[task] >= 0) continue;
      let least = c.leaveOut[task] * UNIT;
      for (let slot = heads.earliest[task]; slot <= c.last[task]; slot += 1)
        least = Math.min(least, cheapest.priceIn(task, slot));
      expect(cheapest.of(task)).toBe(least);
      if (cheapest.slot >= 0) expect(cheapest.priceIn(task, cheapest.slot)).toBe(least);
      else expect(least).toBe(c.leaveOut[task] * UNIT);
    }
  }
}

it('finds the cheapest slot of every task by ranges, in a generated year and on 300 random instances', () => {
  compareSlots(generateInstance({ tasks: 1000, seed: 2 }), 1);
  fc.assert(
    fc.property(randomInstances({ fixed: true }), fc.nat(1_000), (instance, seed) =>
      compareSlots(instance, seed),
    ),
    { numRuns: 300 },
  );
});
