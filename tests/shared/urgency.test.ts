/** The chance of being found outside on a day, and the price of lateness that follows from it. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addDays } from '../../shared/dates/plainDate.ts';
import { driftPoints } from '../../shared/stats/driftSeries.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { outsideChance, urgencyFactor, urgentWeight } from '../../shared/stats/urgency.ts';

const START = '2019-03-12';
const statisticsOf = (rows: readonly (readonly [number, number])[]) =>
  driftStatistics(
    driftPoints(
      rows.map(([found, left], year) => ({
        date: addDays(START, 365 * year),
        found: { milli: found, relation: '=' as const },
        leftMilli: left,
        event: 'none' as const,
        supplyFlagged: false,
      })),
    ),
    1_000,
  );
const untouched = (...found: number[]) => statisticsOf(found.map((milli) => [milli, milli] as const));
const creeping = untouched(0, 180, 330, 520, 640, 830);

describe('the chance of being found outside', () => {
  it('grows along a line, a half where the line crosses', () => {
    const { leaving } = creeping;
    if (leaving.kind !== 'dated' || leaving.on === null) throw new Error('not dated');
    const { on: crossing } = leaving;
    const [soon, then, late] = [addDays(START, 365 * 5 + 30), crossing, addDays(crossing, 1_400)].map((on) =>
      outsideChance(creeping, 1, on),
    );
    expect(soon).toBeLessThan(0.05);
    expect(then).toBeCloseTo(0.5, 1);
    expect(late).toBeGreaterThan(0.97);
  });
  it('is small where nothing moves, and follows the rate where it is adjusted', () => {
    expect(outsideChance(untouched(0, 90, -60, 40, -80, 30), 1, '2025-06-01')).toBeLessThan(0.01);
    const adjusted = statisticsOf([
      [0, 0],
      [610, 0],
      [540, 0],
      [700, 0],
      [590, 0],
      [640, 0],
    ]);
    expect(outsideChance(adjusted, 1, addDays(START, 365 * 5 + 182))).toBeLessThan(0.01);
    expect(outsideChance(adjusted, 1, addDays(START, 365 * 5 + 900))).toBeGreaterThan(0.9);
  });
  it('is not told from too few readings, or without an as-left', () => {
    expect(outsideChance(untouched(0, 300, 600), 1, '2025-01-01')).toBe(null);
    const lost = driftStatistics(driftPoints([]), 1_000);
    expect(outsideChance(lost, 1, '2025-01-01')).toBe(null);
  });
  it('lies between none and one, and never falls with time on a steady line', () =>
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: -2_000, max: 2_000 }), { minLength: 5, maxLength: 12 }),
        fc.integer({ min: 0, max: 4_000 }),
        (found, days) => {
          const chance = outsideChance(untouched(...found), 1, addDays(START, 365 * found.length + days));
          if (chance === null) return;
          expect(chance).toBeGreaterThanOrEqual(0);
          expect(chance).toBeLessThanOrEqual(1 + 1e-12);
        },
      ),
    ));
});

describe('the price of a day late', () => {
  it('is the class’s where the chance is what the target allows, and within a half and twice of it', () => {
    expect([0, 0.05, 0.1, 0.3, 1].map((chance) => urgencyFactor(chance, 0.9).toFixed(2))).toEqual([
      '0.50',
      '0.75',
      '1.00',
      '2.00',
      '2.00',
    ]);
    expect([urgentWeight(4, null, 0.9), urgentWeight(4, 0, 0.9), urgentWeight(4, 1, 0.9)]).toEqual([4, 2, 8]);
    expect([urgentWeight(1, 0, 0.9), urgentWeight(8, 1, 0.9)]).toEqual([1, 10]);
  });
});
