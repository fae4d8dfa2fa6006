/** The rules of a drift series and of what may be said of it. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addDays, daysBetween } from '../../shared/dates/plainDate.ts';
import { driftPoints, toleranceTally } from '../../shared/stats/driftSeries.ts';
import type { DriftVisit } from '../../shared/stats/driftSeries.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { whatMayBeSaid } from '../../shared/stats/driftWords.ts';
import { outsideChance } from '../../shared/stats/urgency.ts';
import { errorOnBasis } from '../../shared/stats/reexpress.ts';
import type { Basis } from '../../shared/stats/reexpress.ts';
import { errorByBranch, errorByDial } from '../../shared/trade/setpointError.ts';

const START = '2018-03-12';
const basis = (change: Partial<Basis> = {}): Basis => ({
  calibrationPressureMilli: 8_000,
  throttlingRangeMilli: 4_000,
  outputLowMilli: 3_000,
  outputHighMilli: 13_000,
  action: 'direct',
  ...change,
});
const visit = (year: number, found: number | null, change: Partial<DriftVisit> = {}): DriftVisit => ({
  date: addDays(START, year * 365),
  found: found === null ? null : { milli: found, relation: '=' },
  leftMilli: found,
  event: 'none',
  supplyFlagged: false,
  method: 'M3',
  basis: basis(),
  ...change,
});
const said = (visits: DriftVisit[], limit: number = 2_000): string =>
  whatMayBeSaid(driftStatistics(driftPoints(visits), limit), { unit: '°F', up: 'warmer', down: 'colder' });

describe('older errors on the newest basis', () => {
  // The same readings judged on either basis give what the re-expression gives, for each method.
  it.each(['direct', 'reverse'] as const)(
    '%s acting: as the readings themselves would be judged',
    (action) => {
      const [from, to] = [
        basis({ action }),
        basis({ action, calibrationPressureMilli: 9_500, throttlingRangeMilli: 5_000 }),
      ];
      const gain = (one: Basis): number =>
        (one.outputHighMilli - one.outputLowMilli) / one.throttlingRangeMilli;
      const judged = (one: Basis, dial: number): number =>
        Math.round(
          1000 *
            errorByBranch({
              action,
              gain: gain(one),
              calibrationPressure: one.calibrationPressureMilli / 1000,
              measuredTemperature: 72,
              dial,
              branch: 9.2,
              mainPressure: 18,
            }).error,
        );
      expect(errorOnBasis(judged(from, 72), 'M3', from, to)).toBe(judged(to, 72));
      const samePressure = { ...to, throttlingRangeMilli: 4_000 };
      expect(errorOnBasis(judged(from, 70), 'M2', from, samePressure)).toBe(judged(samePressure, 70));
      expect(errorOnBasis(judged(from, 70), 'M2', from, to)).toBe(null);
      // By the dial: the dial that gives the new pressure stands dP/G further.
      const dialAt = (one: Basis): number => {
        const sign = action === 'direct' ? 1 : -1;
        return 71 - (sign * (one.calibrationPressureMilli - 8_000)) / 1000 / gain(to);
      };
      const byDial = (one: Basis): number => Math.round(1000 * errorByDial(72, dialAt(one)).error);
      expect(errorOnBasis(byDial(from), 'M1', from, to)).toBe(byDial(to));
    },
  );
  it('not over a change of the action, nor from or to a basis that is not known', () => {
    expect(errorOnBasis(500, 'M3', basis(), basis({ action: 'reverse' }))).toBe(null);
    expect(errorOnBasis(500, 'M3', null, basis())).toBe(null);
    expect(errorOnBasis(500, 'typed', null, null)).toBe(500);
  });
  it('a series goes on over another calibration pressure, its older part moved', () => {
    const points = driftPoints([
      visit(0, 0),
      visit(1, 200),
      visit(2, 900, { basis: basis({ calibrationPressureMilli: 9_000 }) }),
    ]);
    expect(points.map((one) => [one.series, one.found?.milli, one.reexpressedMilli, one.driftMilli])).toEqual(
      [
        [0, 400, 400, null],
        [0, 600, 400, 200],
        [0, 900, 0, 300],
      ],
    );
  });
  it('and breaks where it cannot: another gain after a reading with the dial elsewhere', () => {
    const points = driftPoints([
      visit(0, 0, { method: 'M2' }),
      visit(1, 200, { method: 'M2', leftMilli: 100 }),
      visit(2, 900, { basis: basis({ throttlingRangeMilli: 5_000 }) }),
      visit(3, 1_000, { basis: basis({ throttlingRangeMilli: 5_000 }) }),
    ]);
    // What was left on the old gain is another kind of figure: no drift is counted from it.
    expect(
      points.map((one) => [
        one.series,
        one.driftMilli,
        one.event,
        one.leftMilli,
        one.carriedMilli,
        one.closes,
      ]),
    ).toEqual([
      [0, null, 'none', 0, 0, 'no'],
      [0, 200, 'changed', 100, null, 'anew'],
      [1, null, 'none', 900, 900, 'no'],
      [1, 100, 'none', 1_000, 1_000, 'no'],
    ]);
  });
  it('what was left at a repair is moved for what follows, and stays as it was for its adjustment', () => {
    const points = driftPoints([
      visit(0, 200, { leftMilli: 100, event: 'changed' }),
      visit(1, 900, { basis: basis({ calibrationPressureMilli: 9_000 }) }),
    ]);
    expect(
      points.map((one) => [one.series, one.leftMilli, one.adjustmentMilli, one.carriedMilli, one.driftMilli]),
    ).toEqual([
      [0, 100, -100, 500, null],
      [1, 900, 0, 900, 400],
    ]);
    const reversed = driftPoints([
      visit(0, 200, { leftMilli: 100, event: 'changed' }),
      visit(1, 900, { basis: basis({ action: 'reverse' }) }),
    ]);
    expect(reversed.map((one) => [one.series, one.closes, one.carriedMilli, one.driftMilli])).toEqual([
      [0, 'anew', null, null],
      [1, 'no', 900, null],
    ]);
  });
});

describe('a device that is gone', () => {
  const other = { basis: basis({ calibrationPressureMilli: 9_000, throttlingRangeMilli: 5_000 }) };
  it.each([
    ['replaced on a day without a visit', [visit(0, 0), visit(1, 200, { isLastOfDevice: true })]],
    [
      'replaced on a day on which nothing was read',
      [visit(0, 0), visit(1, 200), visit(1, null, { event: 'replaced' })],
    ],
  ])('%s: its errors stay on its own basis', (_, old) => {
    const points = driftPoints([...old, visit(2, 900, other), visit(3, 1_000, other)]);
    const read = points.filter(({ found }) => found !== null);
    expect(read.map((one) => [one.found?.milli, one.reexpressedMilli, one.event, one.driftMilli])).toEqual([
      [0, 0, 'none', null],
      [200, 0, 'none', 200],
      [900, 0, 'none', null],
      [1_000, 0, 'none', 100],
    ]);
  });
  it('repaired on a day on which nothing was read: the next drift counts from nothing', () => {
    const points = driftPoints([visit(0, 0), visit(1, null, { event: 'changed' }), visit(2, 900)]);
    expect(points.map((one) => [one.series, one.days, one.driftMilli])).toEqual([
      [0, null, null],
      [0, 365, null],
      [1, null, null],
    ]);
  });
});

describe('what breaks, flags and leaves out', () => {
  it('supply wrong at either end flags the drift and stays out of every figure', () => {
    const points = driftPoints([
      visit(0, 0),
      visit(1, 900, { supplyFlagged: true }),
      visit(2, 300),
      visit(3, 400),
    ]);
    expect(points.map(({ driftFlagged }) => driftFlagged)).toEqual([false, true, true, false]);
    const statistics = driftStatistics(points, 2_000);
    expect([statistics.count, statistics.rate?.count]).toEqual([3, 1]);
  });
  it('a bound takes part in no drift, and an adjustment from one begins the series again', () => {
    const points = driftPoints([
      visit(0, 0),
      visit(1, 3_200, { found: { milli: 3_200, relation: '>=' }, leftMilli: 100 }),
      visit(2, 300),
    ]);
    expect(points.map((one) => [one.series, one.driftMilli, one.unadjustedMilli])).toEqual([
      [0, null, 0],
      [0, null, null],
      [1, 200, 300],
    ]);
  });
  it('another setting of the dial is flagged and breaks nothing', () =>
    expect(
      driftPoints([visit(0, 0, { nominalMilli: 71_000 }), visit(1, 100, { nominalMilli: 70_000 })]).map(
        (one) => [one.series, one.nominalChanged, one.driftMilli],
      ),
    ).toEqual([
      [0, false, null],
      [0, true, 100],
    ]));
  it('a reading before the device existed belongs to no series', () => {
    const points = driftPoints([visit(0, 5_000, { isBeforeService: true }), visit(1, 100), visit(2, 200)]);
    expect(points.map((one) => [one.isBeforeService, one.driftMilli, one.unadjustedMilli])).toEqual([
      [true, null, null],
      [false, null, 100],
      [false, 100, 200],
    ]);
    expect(driftStatistics(points, 2_000).count).toBe(2);
  });
  it('two readings on one day: no rate, one day in the statistics', () => {
    const points = driftPoints([
      visit(0, 0),
      visit(1, 300),
      { ...visit(1, 500), leftMilli: 500 },
      visit(2, 600),
    ]);
    expect(points[2]).toMatchObject({ driftMilli: 200, days: 0, ratePerYear: null });
    const statistics = driftStatistics(points, 2_000);
    expect([statistics.count, statistics.median?.slopes]).toEqual([3, 3]);
  });
  it('after a replacement nothing is said of the new device by the readings of the old one', () => {
    const visits = [0, 200, 400, 600, 800].map((milli, year) => visit(year, milli));
    visits[4] = { ...visits[4], event: 'replaced', leftMilli: 0 };
    expect(said(visits)).toBe('No reading of this series yet: nothing can be said.');
    expect(said([...visits, visit(5, 200)])).toContain('Last drift +0.20 °F; 1 reading');
  });
});

describe('what breaks a series unseen', () => {
  it('a replacement between two visits: no drift runs across it', () =>
    expect(
      driftPoints([visit(0, 0), visit(1, 300, { isLastOfDevice: true }), visit(2, 100), visit(3, 200)]).map(
        (one) => [one.series, one.driftMilli],
      ),
    ).toEqual([
      [0, null],
      [0, 300],
      [1, null],
      [1, 100],
    ]));
  it('a visit that noted only what was left: how far it was adjusted is not known', () =>
    expect(
      driftPoints([visit(0, 200), visit(1, 600), visit(2, null, { leftMilli: 0 }), visit(3, 200)]).map(
        (one) => [one.series, one.driftMilli, one.unadjustedMilli],
      ),
    ).toEqual([
      [0, null, 200],
      [0, 400, 600],
      [0, null, null],
      [1, 200, 200],
    ]));
  it('a visit without access at the end moves no date', () => {
    const rows = [0, 610, 590, 640, 600, 620].map((found, year) => visit(year, found, { leftMilli: 0 }));
    const dated = (visits: DriftVisit[]) => driftStatistics(driftPoints(visits), 2_000).leaving;
    expect(dated([...rows, visit(7, null)])).toEqual(dated(rows));
  });
  it('the last drift is one of the newest series', () =>
    expect(
      driftStatistics(driftPoints([visit(0, 0), visit(1, 900, { leftMilli: null }), visit(2, 200)]), 2_000)
        .lastDriftMilli,
    ).toBe(null));
});

describe('what may be said by the number of readings', () => {
  const creeping = (count: number): DriftVisit[] =>
    [0, 310, 480, 730, 880, 1_130, 1_290, 1_520].slice(0, count).map((milli, year) => visit(year, milli));
  it.each([
    [0, 'No reading of this series yet: nothing can be said.'],
    [1, '1 reading: too few for a trend.'],
    [2, 'Last drift +0.31 °F; 2 readings are too few for a trend.'],
    [
      4,
      'Left alone, it would have moved 0.24 °F a year warmer, by the median of slopes, over 4 readings; with fewer than five this is a number, not a trend.',
    ],
  ])('%i', (count, words) => expect(said(creeping(count))).toBe(words));
  it('five and more: the test, the date, its interval, and when to be there', () => {
    const words = said(creeping(8));
    expect(words).toMatch(
      /^Left alone, it would have moved 0.21 °F a year warmer, by the median of slopes, over 8 readings; the trend is more than chance\. It leaves tolerance about 2027-\d\d-\d\d by its line \(2026-\d\d-\d\d to 2028-\d\d-\d\d\); be there by 2026-\d\d-\d\d\.$/,
    );
  });
  it('equal values: no trend, nothing divided by nothing', () => {
    const visits = [1, 2, 3, 4, 5, 6].map((year) => visit(year, 300));
    const statistics = driftStatistics(driftPoints(visits), 2_000);
    expect([statistics.leaving.kind, statistics.kendall?.p, statistics.fit?.p]).toEqual([
      'no trend',
      1,
      null,
    ]);
    expect(said(visits)).toBe(
      'Left alone, it would have stayed where it was, over 6 readings; no trend can be told from chance.',
    );
  });
  it('all bounds', () =>
    expect(
      said(
        [1, 2, 3, 4, 5].map((year) =>
          visit(year, null, { found: { milli: 3_000 + year, relation: '>=' }, isLeftAsBound: true }),
        ),
      ),
    ).toBe(
      'Every reading is only a bound (5): how far it is off is not known. It stands outside its tolerance now.',
    ));
  it('as-left missing: the next drift is unknown, never zero', () => {
    const points = driftPoints([visit(0, 700, { leftMilli: null }), visit(1, 1_500)]);
    expect([points[1].driftMilli, points[1].series]).toEqual([null, 1]);
  });
  it('a walk that happens to rise is no trend, and gets no date', () => {
    // Steps of a walk, each way; in order they rise by more than chance would order them.
    const walk = [0, 350, 290, 700, 560, 620, 1_010, 900].map((milli, year) => visit(year, milli));
    const statistics = driftStatistics(driftPoints(walk), 2_000);
    expect((statistics.kendall?.exactP ?? 1) < 0.05).toBe(true);
    expect(statistics.wander && statistics.wander.chance > 0.05).toBe(true);
    expect([statistics.trend, statistics.leaving.kind]).toEqual(['none', 'no trend']);
    expect(said(walk)).toMatch(/no trend can be told from chance\.$/);
  });
  it('of what may be low as it likes only what lies above is outside, and only a rise is dated', () => {
    const points = (slope: number, from: number) =>
      driftPoints([0, 1, 2, 3, 4, 5].map((year) => visit(year, from + slope * year)));
    const above = (slope: number, from: number) => {
      const { leaving } = driftStatistics(points(slope, from), 2_000, { side: 'above' });
      return leaving.kind;
    };
    expect([above(-500, -3_000), above(500, -3_000), above(500, 100), above(500, -9_000)]).toEqual([
      'no trend',
      'dated',
      'outside now',
      'dated',
    ]);
    expect(driftStatistics(points(0, -3_000), 2_000).leaving.kind).toBe('outside now');
    expect(toleranceTally([visit(0, -3_000), visit(1, 2_100)], 2_000, 'above')).toEqual({
      outside: 1,
      known: 2,
    });
    const low = driftStatistics(points(100, -9_000), 2_000, { side: 'above' });
    expect(outsideChance(low, 2, '2027-01-01')).toBeLessThan(1e-6);
  });
  it('a date lies never before the last reading', () => {
    // Its scatter reaches the tolerance already.
    const visits = [0, 300, 500, 900, 1_100, 1_400, 1_600, 1_950].map((milli, year) => visit(year, milli));
    const { leaving, lastOn } = driftStatistics(driftPoints(visits), 2_000);
    if (leaving.kind !== 'dated') throw new Error('not dated');
    expect([leaving.from, leaving.earliest]).toEqual([lastOn, lastOn]);
  });
  it('an exact line is dated, and a flat one beyond fifty years is said to stay', () => {
    const exact = [0, 100, 200, 300, 400, 500].map((milli, year) => visit(year, milli));
    const { leaving } = driftStatistics(driftPoints(exact), 2_000);
    expect(leaving).toMatchObject({ kind: 'dated', by: 'line', isBeyondSpan: true });
    const slow = [0, 1, 2, 3, 4, 5].map((milli, year) => visit(year, milli));
    expect(driftStatistics(driftPoints(slow), 2_000).leaving).toMatchObject({
      kind: 'dated',
      on: null,
      from: null,
      to: null,
      earliest: null,
    });
    expect(said(slow)).toContain('It stays in tolerance for fifty years by its line.');
  });
  it('a last visit with the supply wrong says nothing of where it stands; one that touched nothing leaves it where it was', () => {
    const good = [0, 200, 410, 590, 800].map((milli, year) => visit(year, milli));
    const wrong = visit(5, 3_000, { supplyFlagged: true });
    expect(driftStatistics(driftPoints([...good, wrong]), 1_000)).toMatchObject({ standing: 0.8 });
    const touched = visit(5, 3_000, { supplyFlagged: true, leftMilli: 0 });
    expect(driftStatistics(driftPoints([...good, touched]), 1_000).standing).toBe(null);
  });
  it('a bound beyond the tolerance that nobody moved stands outside', () => {
    const bound = visit(2, null, { found: { milli: 2_500, relation: '>=' }, isLeftAsBound: true });
    expect(said([visit(0, 0), visit(1, 300), bound])).toMatch(/It stands outside its tolerance now\.$/);
  });
  it('bounds are compared as if never adjusted, like the readings beside them', () => {
    // Adjusted back by 900 each year: what was read stands still, what it would have moved to rises.
    const visits = [0, 900, 900, 900].map((milli, year) => visit(year, milli, { leftMilli: 0 }));
    const bound = visit(4, null, { found: { milli: 850, relation: '>=' }, isLeftAsBound: true });
    expect(driftStatistics(driftPoints([...visits, bound]), 5_000).kendall?.s).toBe(10);
  });
  it('an adjusted bound, or a visit with only an as-left, closes the series: no date of it is told', () => {
    const creep = [0, -150, -300, -450, -620, -740].map((milli, year) => visit(year, milli));
    const bound = visit(6, null, { found: { milli: -900, relation: '<=' }, leftMilli: 20 });
    const statistics = driftStatistics(driftPoints([...creep, bound]), 1_000);
    expect([statistics.count, statistics.leaving.kind, statistics.standing]).toEqual([0, 'too few', 0.02]);
    const only = visit(6, null, { leftMilli: 20 });
    expect(driftStatistics(driftPoints([...creep, only]), 1_000).leaving.kind).toBe('too few');
  });
  it('a new device that was left outside stands outside', () => {
    const replaced = visit(2, 500, { event: 'replaced', leftMilli: 1_300 });
    expect(said([visit(0, 200), visit(1, 400), replaced], 1_000)).toBe(
      'No reading of this series yet: nothing can be said. It stands outside its tolerance now.',
    );
  });
  it('no date lies before the last look, though it said nothing; one that is over is told as over', () => {
    const visits = [0, 160, 330, 480, 650].map((milli, year) => visit(year, milli));
    const late = visit(12, 3_000, { supplyFlagged: true });
    const { leaving } = driftStatistics(driftPoints([...visits, late]), 1_000);
    if (leaving.kind !== 'dated' || leaving.earliest === null) throw new Error('not dated');
    expect(leaving.earliest).toBe(late.date);
    const words = whatMayBeSaid(driftStatistics(driftPoints(visits), 1_000), {
      unit: '°F',
      up: 'warmer',
      down: 'colder',
      today: '2040-01-01',
    });
    expect(words).toMatch(/It will have left tolerance about .*; it should have been seen to by/);
  });
  it('readings in steps are no better known than their step', () => {
    const visits = [100, 200, 300, 400, 500].map((milli, year) => visit(year, milli));
    const { leaving } = driftStatistics(driftPoints(visits), 1_000);
    if (leaving.kind !== 'dated' || leaving.from === null || leaving.to === null)
      throw new Error('not dated');
    expect(daysBetween(leaving.from, leaving.to)).toBeGreaterThan(365);
  });
  it('two readings of one day count with their mean, in the rate too', () => {
    const rows = [
      visit(0, 0),
      visit(1, 500, { leftMilli: 0 }),
      visit(2, 400),
      { ...visit(2, 600), leftMilli: 0 },
      visit(3, 500, { leftMilli: 0 }),
    ];
    const { rate } = driftStatistics(driftPoints(rows), 5_000);
    expect([rate?.count, ((rate?.rate ?? 0) * (rate?.years ?? 0)).toFixed(6)]).toEqual([3, '1.600000']);
  });
  it('an adjusted device by its increments: series B leaves 2 degrees by its first passage', () => {
    const rows = [
      [0, 0],
      [600, 600],
      [1_100, 100],
      [500, 500],
      [1_300, -100],
      [400, 400],
      [800, 800],
    ];
    const statistics = driftStatistics(
      driftPoints(rows.map(([found, left], year) => visit(year, found, { leftMilli: left }))),
      2_000,
    );
    expect(statistics.isAdjusted).toBe(true);
    expect(statistics.band.every(({ reading }) => reading === null)).toBe(true);
    expect(statistics.leaving).toMatchObject({ kind: 'dated', by: 'increments' });
  });
  it('left at the very limit, moving out: it leaves at once', () => {
    const rows = [
      [0, 0],
      [610, 100],
      [720, 50],
      [640, 0],
      [590, 2_000],
    ];
    const statistics = driftStatistics(
      driftPoints(rows.map(([found, left], year) => visit(year, found, { leftMilli: left }))),
      2_000,
    );
    expect(statistics.leaving).toMatchObject({ kind: 'dated', on: '2022-03-11' });
  });
  it('never NaN, Infinity or an exception, whatever was noted', () =>
    fc.assert(
      fc.property(
        fc.array(
          fc.record({
            gap: fc.integer({ min: 0, max: 900 }),
            found: fc.option(
              fc.oneof(fc.integer({ min: -9_000, max: 9_000 }), fc.constantFrom(-1_000, 0, 1_000)),
            ),
            left: fc.option(
              fc.oneof(fc.integer({ min: -9_000, max: 9_000 }), fc.constantFrom(-1_000, 0, 1_000)),
            ),
            relation: fc.constantFrom('=' as const, '>=' as const, '<=' as const),
            event: fc.constantFrom(
              'none' as const,
              'none' as const,
              'none' as const,
              'replaced' as const,
              'changed' as const,
            ),
            supplyFlagged: fc.boolean(),
            method: fc.constantFrom('M1', 'M2', 'M3', 'typed', null),
            pressure: fc.constantFrom(8_000, 9_000),
            range: fc.constantFrom(4_000, 4_000, 5_000),
            known: fc.boolean(),
          }),
          { maxLength: 20 },
        ),
        (noted) => {
          let day = 0;
          const visits = noted.map((one): DriftVisit => {
            day += one.gap;
            return {
              date: addDays(START, day),
              found: one.found === null ? null : { milli: one.found, relation: one.relation },
              leftMilli: one.left,
              event: one.event,
              supplyFlagged: one.supplyFlagged,
              method: one.method,
              basis: one.known
                ? basis({ calibrationPressureMilli: one.pressure, throttlingRangeMilli: one.range })
                : null,
            };
          });
          const points = driftPoints(visits);
          const statistics = driftStatistics(points, 1_000);
          // Each drift is what its row found less what the row before it carries.
          for (const [index, point] of points.entries()) {
            const carried = index === 0 ? null : points[index - 1].carriedMilli;
            const found = point.found?.relation === '=' ? point.found.milli : null;
            expect(point.driftMilli).toBe(found === null || carried === null ? null : found - carried);
          }
          const walk = (value: unknown): void => {
            if (typeof value === 'number') expect(Number.isFinite(value)).toBe(true);
            else if (typeof value === 'object' && value !== null) Object.values(value).forEach(walk);
          };
          walk(points);
          walk(statistics);
          expect(whatMayBeSaid(statistics, { unit: '°F', up: 'up', down: 'down' })).not.toMatch(
            /NaN|Infinity|undefined/,
          );
        },
      ),
      { numRuns: 2_000 },
    ));
});
