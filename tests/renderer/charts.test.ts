import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { layoutDrift } from '../../renderer/charts/drift/layout.ts';
import { layoutTrend } from '../../renderer/charts/trend/layout.ts';
import { layoutMonths } from '../../renderer/charts/months/layout.ts';
import { layoutYear, loadStep } from '../../renderer/charts/year/layout.ts';
import { typed, typingProblem } from '../../renderer/ui/typed.ts';
import type { DriftSeries } from '../../shared/contract/drift.ts';
import { driftPoints } from '../../shared/stats/driftSeries.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { addDays } from '../../shared/dates/plainDate.ts';

const size = { width: 1200, height: 360 };

function seriesOf(errors: readonly (number | null)[]): DriftSeries {
  const visits = errors.map((milli, index) => ({
    date: addDays('2019-01-10', index * 365),
    found: milli === null ? null : { milli, relation: '=' as const },
    leftMilli: milli,
    event: 'none' as const,
    supplyFlagged: false,
  }));
  const points = driftPoints(visits);
  return {
    testPointId: 1,
    deviceId: 1,
    tag: 'T',
    kind: 'setpoint',
    role: 'only',
    airState: null,
    unit: 'degF',
    toleranceMilli: 1000,
    actionLimitMilli: 2000,
    points: points.map(({ found, ...point }, index) => ({
      ...point,
      calibrationId: index + 1,
      foundMilli: found?.milli ?? null,
      foundRelation: found?.relation ?? null,
      toleranceMilli: index % 2 === 0 ? 1000 : null,
      person: 'OV',
      outcome: 'held',
    })),
    statistics: driftStatistics(points, 1000),
    said: '',
    outside: 0,
    known: errors.length,
  };
}

describe('the drift chart', () => {
  it('keeps every mark inside the plot, whatever the errors', () =>
    fc.assert(
      fc.property(
        fc.array(fc.option(fc.integer({ min: -20_000, max: 20_000 })), { maxLength: 15 }),
        (errors) => {
          const layout = layoutDrift(seriesOf(errors), size);
          for (const mark of [...layout.found, ...layout.left]) {
            expect(mark.x).toBeGreaterThanOrEqual(layout.plot.left);
            expect(mark.x).toBeLessThanOrEqual(layout.plot.right);
            expect(mark.y).toBeGreaterThanOrEqual(layout.plot.top);
            expect(mark.y).toBeLessThanOrEqual(layout.plot.bottom);
          }
          for (const band of layout.bands) expect(band.top).toBeLessThan(band.bottom);
          expect(JSON.stringify(layout)).not.toMatch(/NaN|Infinity|null,null/);
        },
      ),
    ));
  it('draws no line under three readings', () =>
    expect([
      layoutDrift(seriesOf([0, 500]), size).theilSen,
      layoutDrift(seriesOf([0, 500, 900]), size).theilSen === null,
    ]).toEqual([null, false]));
});

describe('the month chart', () => {
  it('bars stand on the baseline and grow with the count', () => {
    const layout = layoutMonths(
      [
        { month: '2026-11', count: 10, late: 5 },
        { month: '2026-12', count: 30, late: 0 },
      ],
      { width: 600, height: 200 },
    );
    expect(layout.bars.map((bar) => [bar.label, Math.round(bar.y + bar.height), bar.total])).toEqual([
      ['Nov 26', layout.baseline, 15],
      ['Dec', layout.baseline, 30],
    ]);
    expect(layout.bars[1].height).toBeGreaterThan(layout.bars[0].height);
  });
  it('nothing due is an empty chart', () =>
    expect(layoutMonths([], { width: 600, height: 200 }).bars).toEqual([]));
});

describe('the year', () => {
  it('has every day once, Mondays on top', () => {
    const layout = layoutYear('2027-01-01', '2027-12-31');
    expect([
      layout.cells.length,
      new Set(layout.cells.map((cell) => cell.date)).size,
      layout.cells.find((cell) => cell.date === '2027-01-04')?.row,
      layout.months.length,
    ]).toEqual([365, 365, 0, 12]);
  });
  it.each([
    [0, 100, 0],
    [1, 100, 1],
    [50, 100, 2],
    [100, 100, 4],
    [101, 100, 5],
    [10, 0, 5],
  ])('%i of %i minutes is step %i', (load, capacity, step) => expect(loadStep(load, capacity)).toBe(step));
});

describe('typed figures on the card', () => {
  it('take a point or a comma, and say what they refuse', () =>
    expect([
      typed('13.1'),
      typed('13,1'),
      typed(''),
      typed('x'),
      typingProblem('x') === null,
      typingProblem(''),
    ]).toEqual([13_100, 13_100, null, null, false, null]));
});

describe('a trend', () => {
  const points = [2, 3, 4].map((value, year) => ({
    date: `${2020 + year}-01-01`,
    value,
    from: 'card' as const,
    isFresh: false,
  }));
  const size = { width: 560, height: 200 };
  it('shows a limit that lies near, and leaves one that lies far off to the words', () => {
    const near = layoutTrend({ points, line: null, limit: { value: 8, words: '' } }, size);
    expect(near.limit).toBeGreaterThan(near.plot.top);
    expect(near.limit).toBeLessThan(near.marks[2].y);
    expect(layoutTrend({ points, line: null, limit: { value: 80, words: '' } }, size).limit).toBe(null);
  });
  it('of one reading, or of equal ones, stays within its plot', () => {
    for (const own of [points.slice(0, 1), points.map((one) => ({ ...one, value: 0 }))]) {
      const { marks, plot } = layoutTrend({ points: own, line: null, limit: null }, size);
      for (const { x, y } of marks) {
        expect(x).toBeGreaterThanOrEqual(plot.left);
        expect(x).toBeLessThanOrEqual(plot.right);
        expect(y).toBeGreaterThanOrEqual(plot.top);
        expect(y).toBeLessThanOrEqual(plot.bottom);
      }
    }
  });
});
