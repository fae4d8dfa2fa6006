/**
 * Drift series and trend estimators.
 *
 * Series A, B and C: constructed for this project (data/drift_series_examples.csv); expected values computed
 * outside it in Python and R 4.2.2 (data/drift_series_expected.json).
 * Norris: NIST/ITL Statistical Reference Datasets, certified values read in the data file's header.
 * Theil-Sen of the sodium data: EPA 530/R-09-007 Unified Guidance (2009) example 17-7, results read as
 * reproduced in public R examples, data from memory (all published numbers are reproduced by them).
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { daysBetween, julianYearsBetween } from '../../shared/dates/plainDate.ts';
import { driftPoints, toleranceTally } from '../../shared/stats/driftSeries.ts';
import type { DriftVisit } from '../../shared/stats/driftSeries.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { leastSquares } from '../../shared/stats/leastSquares.ts';
import { theilSen } from '../../shared/stats/theilSen.ts';
import { combined } from '../../shared/trade/doubt.ts';
import { gainOf, throttlingRangeOf } from '../../shared/trade/proportional.ts';
import { errorByBranch } from '../../shared/trade/setpointError.ts';
import {
  degreesOfSignal,
  transmittedPressure,
  transmittedTemperature,
} from '../../shared/trade/transmitters.ts';

const file = (name: string): string => readFileSync(new URL(`data/${name}`, import.meta.url), 'utf8');
const expected = JSON.parse(file('drift_series_expected.json'));

function series(name: string): DriftVisit[] {
  const milli = (text: string): number | null => (text === '' ? null : Math.round(Number(text) * 1000));
  return file('drift_series_examples.csv')
    .split(/\r?\n/)
    .filter((line) => line.startsWith(`${name},`))
    .map((line) => {
      const [, date, found, left, event] = line.split(',');
      const value = milli(found);
      return {
        date,
        found: value === null ? null : { milli: value, relation: '=' as const },
        leftMilli: milli(left),
        event: event === 'replace' ? ('replaced' as const) : ('none' as const),
        supplyFlagged: false,
      };
    });
}

describe('series A: never adjusted', () => {
  const points = driftPoints(series('A'));
  it('counts days from the first reading', () =>
    expect(points.map((point) => daysBetween(points[0].date, point.date))).toEqual(expected.A.t_days));
  it('gives both lines of the reference', () => {
    const { fit, median } = driftStatistics(points, 2000);
    expect(fit?.slope).toBeCloseTo(expected.A.ols.slope_F_per_yr, 12);
    expect(fit?.intercept).toBeCloseTo(expected.A.ols.intercept_F, 12);
    expect(median?.slope).toBeCloseTo(expected.A.theil_sen.slope, 12);
    expect(median?.intercept).toBeCloseTo(
      expected.A.theil_sen.median_y - expected.A.theil_sen.slope * expected.A.theil_sen.median_t,
      12,
    );
  });
});

describe('series B: adjusted twice, then replaced', () => {
  const points = driftPoints(series('B')).slice(1);
  it('counts days, drifts and adjustments', () =>
    expect(
      points.map((point) => [
        point.days,
        point.driftMilli,
        point.event === 'replaced' ? null : point.adjustmentMilli,
      ]),
    ).toEqual(
      expected.B.days.map((days: number, index: number) => [
        days,
        Math.round(expected.B.drift_F[index] * 1000),
        index === 6 ? null : Math.round(expected.B.adjustment_F[index] * 1000),
      ]),
    ));
  it('gives the rates of the reference', () => {
    for (const [index, rate] of (expected.B.rate_F_per_yr as number[]).entries())
      expect(points[index].ratePerYear).toBeCloseTo(rate, 8);
  });
  it('starts the cumulative drift of the new device again', () =>
    expect(points.map((point) => point.cumulativeMilli)).toEqual(
      expected.B.cumulative_unadjusted_F.map((value: number) => Math.round(value * 1000)),
    ));
  it('puts the new device into a series of its own', () =>
    expect(points.map((point) => point.series)).toEqual([0, 0, 0, 0, 0, 0, 0, 1]));
});

describe('series C: an as-left that was not written down, and a visit without access', () => {
  it('says unknown, never zero, and counts across the visit without a reading', () => {
    const points = driftPoints(series('C'));
    expect(points.slice(1).map((point) => [point.date, point.driftMilli])).toEqual(
      expected.C.drift.map(([date, drift]: [string, number | null]) => [
        date,
        drift === null ? null : Math.round(drift * 1000),
      ]),
    );
    expect(points.at(-1)?.days).toBe(728);
  });
});

describe('trend estimators', () => {
  it('least squares meets the certified values of Norris to ten digits', () => {
    const rows = file('nist_norris.csv')
      .split(/\r?\n/)
      .filter((line) => /^[-\d]/.test(line))
      .map((line) => line.split(',').map(Number));
    const header =
      file('nist_norris.csv')
        .split(/\r?\n/)
        .find((line) => /^[a-z]/i.test(line)) ?? 'y,x';
    const yFirst = header.trim().startsWith('y');
    const line = leastSquares(
      rows.map((row) => row[yFirst ? 1 : 0]),
      rows.map((row) => row[yFirst ? 0 : 1]),
    );
    expect(Math.abs((line?.slope ?? 0) / 1.00211681802045 - 1)).toBeLessThan(1e-10);
    expect(Math.abs((line?.intercept ?? 0) / -0.262323073774029 - 1)).toBeLessThan(1e-10);
  });
  it('Theil-Sen meets the published sodium example', () => {
    const x = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3];
    const y = [56, 53, 51, 55, 52, 60, 62, 59, 61, 63];
    const line = theilSen(x, y);
    expect(line?.slope).toBeCloseTo(1.3333333, 6);
    expect(line?.intercept).toBeCloseTo(-65.9666667, 5);
  });
  it('Theil-Sen of an even count of slopes is the mean of the middle two', () =>
    expect(theilSen([0, 1, 2, 3], [0, 1, 3, 3.5])?.slope).toBeCloseTo(1.2083333, 6));
  it('one wild reading does not move Theil-Sen', () =>
    expect(theilSen([1, 2, 3, 4, 5, 6, 7], [1, 2, 3, 4, 5, 16, 7])?.slope).toBe(1));
});

describe('readings and what moved, checks 1 to 8 and 11 of the drift reference (all worked out there)', () => {
  const gain = { outputLow: 3, outputHigh: 13, throttlingRange: 4 };
  const found = (action: 'direct' | 'reverse', measuredTemperature: number, dial: number, branch: number) =>
    errorByBranch({
      action,
      gain: 2.5,
      calibrationPressure: 8,
      mainPressure: 18,
      measuredTemperature,
      dial,
      branch,
    });
  it('1 to 3: errors by the branch', () => {
    expect(found('direct', 72, 72, 9.2).error).toBeCloseTo(-0.48, 9);
    expect(found('reverse', 72, 72, 9.2).error).toBeCloseTo(0.48, 9);
    expect(found('direct', 73.5, 72, 11).error).toBeCloseTo(0.3, 9);
  });
  it('4, 5: transmitters', () => {
    const span = { low: 50, high: 100 };
    expect(transmittedTemperature(9, span)).toBeCloseTo(75, 9);
    expect(transmittedPressure(74, span)).toBeCloseTo(8.76, 9);
    expect(degreesOfSignal(0.06, { low: 0, high: 200 })).toBeCloseTo(1, 9);
  });
  it('6: throttling ranges', () => {
    expect([throttlingRangeOf(3, 13, 2.5), throttlingRangeOf(3, 15, 2.5)]).toEqual([4, 4.8]);
    expect(gainOf(gain.outputLow, gain.outputHigh, gain.throttlingRange)).toBe(2.5);
  });
  it('7, 8: days, years and rates', () => {
    expect(daysBetween('2018-03-12', '2025-03-17')).toBe(2562);
    expect(julianYearsBetween('2018-03-12', '2025-03-17')).toBeCloseTo(7.0143737166, 9);
    expect(0.4 / julianYearsBetween('2020-04-06', '2021-04-12')).toBeCloseTo(0.3938005391, 9);
  });
  it('11: doubt of a drift between two readings that share nothing', () =>
    expect(
      combined([
        { name: 'found', u: 0.3 },
        { name: 'left', u: 0.3 },
      ]).u,
    ).toBeCloseTo(0.4242640687, 9));
});

describe('drift arithmetic, pneumatic checks 81 to 84 (arithmetic and the rules of this program)', () => {
  const visit = (date: string, found: number | null, left: number | null): DriftVisit => ({
    date,
    found: found === null ? null : { milli: found, relation: '=' },
    leftMilli: left,
    event: 'none',
    supplyFlagged: false,
  });
  it('check 81: +1.2 over 370 days', () => {
    const [, point] = driftPoints([visit('2023-05-10', 100, 100), visit('2024-05-14', 1300, 1300)]);
    expect([point.driftMilli, point.days]).toEqual([1200, 370]);
    expect(point.ratePerYear).toBeCloseTo(1.185, 3);
  });
  it('check 82: a bound counts as outside when it proves it', () => {
    const visits: DriftVisit[] = [
      visit('2020-01-01', 1300, 0),
      visit('2021-01-01', -600, -600),
      { ...visit('2022-01-01', 0, 0), found: { milli: 3200, relation: '>=' } },
      visit('2023-01-01', 400, 400),
    ];
    expect(toleranceTally(visits, 1000)).toEqual({ outside: 2, known: 4 });
  });
  it('check 83: without the as-left before, the drift is unknown', () =>
    expect(driftPoints([visit('2023-01-01', 500, null), visit('2024-01-01', 900, 900)])[1].driftMilli).toBe(
      null,
    ));
  it('check 84: held means left as found, adjusted by nothing', () =>
    expect(driftPoints([visit('2023-01-01', -300, -300)])[0].adjustmentMilli).toBe(0));
});
