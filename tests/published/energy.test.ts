/**
 * Energy of setpoints against the check values 64 to 96 and 99 of data/energy-check-values.csv (each line names its source:
 * "seen" was read there, "memory" recalled, "calc" worked out), and degree days against the public normals of
 * data/energy-normals-*.csv (NOAA NCEI, public domain; seen, Chicago 1991-2020 from memory).
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  betweenBases,
  byDailyMeans,
  byHitchin,
  byMonthlyMeans,
  byNormalLaw,
  monthSpread,
  yearSpread,
} from '../../shared/energy/degreeDays.ts';
import type { MonthMean, Season } from '../../shared/energy/degreeDays.ts';
import { driftByMonth, errorOn } from '../../shared/energy/driftByMonth.ts';
import {
  addedDegreeDays,
  balancePoint,
  fuelOfDegreeDays,
  fuelOfHours,
  slopePercent,
} from '../../shared/energy/heating.ts';
import { deficitArea, hoursToReach, monthArea } from '../../shared/energy/setback.ts';
import { allowedOf, rowsOf } from '../support/publishedTables.ts';

function stationOf(name: string, period: string): MonthMean[] {
  return rowsOf('energy-normals-monthly.csv')
    .filter(([, station, own]) => station.startsWith(name) && own === period)
    .map(([, , , , days, degF]) => ({ days: Number(days), degF: Number(degF) }));
}

const sum = (values: readonly number[]): number => values.reduce((total, one) => total + one, 0);
const chicago = stationOf('Chicago', '1981-2010');
const palmer = stationOf('Palmer', '1981-2010');
const austin = stationOf('Austin', '1981-2010');
const year = (months: readonly MonthMean[], base: number, season: Season = 'heating'): number =>
  sum(byMonthlyMeans(months, base, season));
const wing = { k: 3_000, efficiency: 0.8 };
const BASE = balancePoint(70, 36_000, 3_000);
const atBase = (month: number, base: number): number => byMonthlyMeans(chicago, base)[month];
const night = (outdoorDegF: number, nightDegF = 60) => ({
  dayDegF: 70,
  nightDegF,
  balanceDegF: outdoorDegF + 9_000 / 3_000,
  tau: 32,
});
const week = [
  { count: 4, hours: 12 },
  { count: 1, hours: 60 },
];
/** October to April: the months in which the wing is heated. */
const heated = [0, 1, 2, 3, 9, 10, 11];
const season = (nightDegF: number): number =>
  fuelOfHours(
    sum(heated.map((month) => monthArea(night(chicago[month].degF, nightDegF), chicago[month].days, week))),
    wing,
  );
/** From October on: what a drift that grows on a line stands at in the middle of each month. */
const growing = Array.from({ length: 12 }, (_, month) => (2.5 * (((month + 3) % 12) + 0.5)) / 12);
const early = Array.from({ length: 12 }, (_, month) => (month < 3 ? 2.5 : 0));

const own: Record<number, () => number> = {
  64: () => yearSpread(chicago),
  65: () => monthSpread(23.8, yearSpread(chicago)),
  66: () => (65 - 23.8) / (monthSpread(23.8, yearSpread(chicago)) * Math.sqrt(31)),
  67: () => byMonthlyMeans(chicago, 65)[0],
  68: () => byMonthlyMeans(chicago, 65)[0] / 1.8,
  69: () => year(chicago, 65),
  70: () => year(chicago, 65, 'cooling'),
  71: () => year(chicago, 50),
  72: () => year(chicago, 55),
  73: () => year(chicago, 58),
  74: () => year(chicago, 60.5),
  75: () => year(stationOf('Urbana', '1981-2010'), 65),
  76: () => year(palmer, 45),
  77: () => year(palmer, 55),
  78: () => year(palmer, 57),
  79: () => year(palmer, 60),
  80: () => year(palmer, 65),
  81: () => year(austin, 50),
  82: () => year(austin, 60),
  83: () => year(austin, 65),
  84: () => year(stationOf('Chicago', '1991-2020'), 65),
  85: () => byHitchin({ days: 31, degC: 10 }, 10) * 1.8,
  86: () => byNormalLaw({ days: 31, degF: 23.8 }, 10, 30),
  87: () => BASE,
  88: () => fuelOfDegreeDays(year(chicago, BASE), wing),
  89: () => fuelOfDegreeDays(year(chicago, BASE + 2.5) - year(chicago, BASE), wing),
  90: () => slopePercent(BASE, (base) => year(chicago, base)),
  91: () => fuelOfDegreeDays(sum(addedDegreeDays(growing, BASE, atBase)), wing),
  92: () => fuelOfHours(1, wing),
  93: () => hoursToReach(night(23.8)),
  94: () => deficitArea(night(23.8), 12),
  95: () => season(60),
  96: () => season(60) - season(65),
  99: () => fuelOfDegreeDays(sum(addedDegreeDays(early, BASE, atBase)), wing),
};

describe('energy, check values 64 to 96 and 99', () => {
  const rows = rowsOf('energy-check-values.csv').filter(
    ([id]) => (Number(id) >= 64 && Number(id) <= 96) || id === '99',
  );
  it('each line of the table has its figure here', () =>
    expect(rows.map(([id]) => Number(id))).toEqual(Object.keys(own).map(Number)));
  it.each(rows)('check %s, %s: %s', (id, _topic, _input, expected, _unit, tolerance) => {
    const wanted = Number(expected);
    expect(Math.abs(own[Number(id)]() - wanted)).toBeLessThanOrEqual(allowedOf(wanted, tolerance));
  });
});

describe('degree days against public normals', () => {
  it.each([
    ['Chicago', 65, 6339, 0.4],
    ['Urbana', 65, 5878, 0.6],
    ['Palmer', 65, 5617, 1],
    ['Palmer', 55, 2710, 5],
    ['Austin', 65, 1903, 3],
  ])('%s at %i °F: %i printed, within %f %%', (station, base, printed, percent) => {
    const worked = year(stationOf(station, '1981-2010'), base);
    expect(Math.abs(worked / printed - 1) * 100).toBeLessThan(percent);
  });
  const multi = rowsOf('energy-normals-multibase.csv').filter(
    ([, station, , month, kind]) => station.startsWith('Palmer') && month === '1' && kind === 'HDD',
  );
  const known = multi.map(([, , , , , base, value]) => ({ base: Number(base), degreeDays: Number(value) }));
  it('normals at several bases are met at each, and lie on a line between', () => {
    for (const { base, degreeDays } of known) expect(betweenBases(known, base)).toBe(degreeDays);
    expect(betweenBases(known, 47.5)).toBe((190 + 333) / 2);
    expect(() => betweenBases(known, 39)).toThrow(RangeError);
    expect(() => betweenBases(known, 66)).toThrow(RangeError);
    expect(() => betweenBases([], 50)).toThrow(RangeError);
  });
  it('days that are all alike need no formula', () =>
    expect([byDailyMeans(Array<number>(30).fill(40), 65), byDailyMeans([70, 60], 65, 'cooling')]).toEqual([
      750, 5,
    ]));
  it('never fall with the base, and grow by no more than the days of the month', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: -20, max: 95 }), { minLength: 12, maxLength: 12 }),
        fc.integer({ min: 20, max: 90 }),
        (means, base) => {
          const months = means.map((degF) => ({ days: 30, degF }));
          const lower = byMonthlyMeans(months, base);
          return byMonthlyMeans(months, base + 1).every(
            (one, month) => one >= lower[month] - 1e-9 && one <= lower[month] + 30 + 1e-9,
          );
        },
      ),
    );
  });
});

describe('a setback', () => {
  const area = fc.record({
    outdoor: fc.integer({ min: -20, max: 75 }),
    hours: fc.integer({ min: 0, max: 72 }),
    depth: fc.integer({ min: 0, max: 20 }),
  });
  it('saves nothing where it is warm outside, never more than its depth, and more the longer it lasts', () => {
    fc.assert(
      fc.property(area, ({ outdoor, hours, depth }) => {
        const own = deficitArea(night(outdoor, 70 - depth), hours);
        const longer = deficitArea(night(outdoor, 70 - depth), hours + 1);
        return own >= 0 && own <= depth * hours + 1e-9 && longer >= own - 1e-9;
      }),
    );
    expect(deficitArea(night(70), 12)).toBe(0);
  });
});

describe('a drift by month', () => {
  const visits = [
    { on: '2025-01-11', found: 1, left: 0 },
    { on: '2025-04-21', found: 2, left: 0.5 },
    { on: '2025-06-01', found: null, left: 0 },
  ];
  it('goes on a line from what was left to what was found, and steps where it was adjusted', () => {
    expect([
      errorOn(visits, '2025-01-10'),
      errorOn(visits, '2025-01-11'),
      errorOn(visits, '2025-03-02'),
      errorOn(visits, '2025-04-20'),
      errorOn(visits, '2025-04-21'),
      // What was found next is not known: it is taken as it was left.
      errorOn(visits, '2025-05-20'),
      errorOn(visits, '2026-01-01'),
    ]).toEqual([null, 0, 1, 1.98, 0.5, 0.5, 0]);
  });
  it('of a month is the mean over the days on which it is known', () => {
    const [january, february] = driftByMonth(visits, { from: '2025-01-01', to: '2025-02-28' });
    expect(january).toMatchObject({ month: '2025-01', days: 31, known: 21 });
    expect(january.mean).toBeCloseTo(0.2, 9);
    // 11 January is day 0 of a line of 100 days to 2 degrees; February lies between days 21 and 48.
    expect(february.mean).toBeCloseTo((0.02 * (21 + 48)) / 2, 9);
  });
  it('that grows from October to September is met to a thousandth of the table’s by its days', () => {
    const grown = driftByMonth(
      [
        { on: '2025-10-01', found: 0, left: 0 },
        { on: '2026-10-01', found: 2.5, left: 2.5 },
      ],
      { from: '2025-10-01', to: '2026-09-30' },
    );
    const byMonth = [...grown.slice(3), ...grown.slice(0, 3)].map(({ mean }) => mean ?? 0);
    const therms = fuelOfDegreeDays(sum(addedDegreeDays(byMonth, BASE, atBase)), wing);
    expect(Math.abs(therms / 175.8 - 1)).toBeLessThan(0.01);
  });
});
