/**
 * Statistics of the drift book against figures from outside. The number of each check is that of the project's reference on
 * drift and intervals. Sources, and how they were met:
 *
 * StRD: NIST/ITL Statistical Reference Datasets; certified values of Norris, NoInt1, NoInt2, Filip and NumAcc read in the
 *   files' headers, those of Pontius, Longley, Lottery, Mavro and Michelso from memory and re-computed with 60 digits.
 * Resistor drift (1.4.2.7) and linewidth (2.3.6.7), control charts (6.3.2.2 read, 6.3.2.3 data from memory, 6.3.2.4 read in
 *   public copies): NIST/SEMATECH e-Handbook.
 * Montgomery and Runger, Applied Statistics and Probability for Engineers, 3rd ed., table 16-7: read.
 * Sodium: EPA 530/R-09-007 (2009), example 17-7, results read as reproduced in public R examples, data from memory.
 * QA/G-9S: EPA, p. 109, read in a secondary page. Holy Cross and Wisconsin notes: read. Nile: R datasets, computed.
 * Tau of the grade data: Conover, 3rd ed., pp. 315-316; R cor. Newcombe (1998): from memory, R. 5 of 25: read.
 * NASA RP-1342 (1994), appendix D: form read; numbers computed. A1, A2, A3 and ILAC-G24: formulas from memory, computed.
 * Everything else: computed outside the project in Python (scipy, mpmath) and R 4.2.2.
 */
import { readFileSync } from 'node:fs';
import { mean, median, sampleStandardDeviation } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { addDays } from '../../shared/dates/plainDate.ts';
import { binomialChance, clopperPearson, wilson } from '../../shared/stats/binomial.ts';
import { D2, D3, D4, cusum, ewma, individualsChart } from '../../shared/stats/controlChart.ts';
import { crossingOf } from '../../shared/stats/crossing.ts';
import { betaQuantile } from '../../shared/stats/dist/beta.ts';
import { normalCdf, normalQuantile } from '../../shared/stats/dist/normal.ts';
import { tQuantile } from '../../shared/stats/dist/studentT.ts';
import { passageMoments, passageQuantile, passedBy } from '../../shared/stats/firstPassage.ts';
import { rateOfIncrements } from '../../shared/stats/increments.ts';
import {
  afterStep,
  incrementalResponse,
  simpleReduction,
  simpleResponse,
  staircaseStep,
} from '../../shared/stats/intervalSteps.ts';
import { intervalTest, scaledInterval } from '../../shared/stats/intervalTest.ts';
import {
  leastSquares,
  meanSpan,
  predictionSpan,
  slopeSpan,
  throughOrigin,
} from '../../shared/stats/leastSquares.ts';
import type { Fit } from '../../shared/stats/leastSquares.ts';
import { exactChance, mannKendall, tauB } from '../../shared/stats/mannKendall.ts';
import {
  averageShare,
  exponentialInterval,
  fitReliability,
  rescaledInterval,
  testsToShow,
  weibullInterval,
} from '../../shared/stats/reliability.ts';
import { lagOne } from '../../shared/stats/serial.ts';
import { bendChance, fitTerms } from '../../shared/stats/terms.ts';
import { theilSen } from '../../shared/stats/theilSen.ts';

const text = (name: string): string => readFileSync(new URL(`data/${name}`, import.meta.url), 'utf8');
const json = (name: string) => JSON.parse(text(name));
/** Rows of a data file: its comments and its head left out. */
const rows = (name: string): string[][] =>
  text(name)
    .split(/\r?\n/)
    .filter((line) => line !== '' && !line.startsWith('#'))
    .slice(1)
    .map((line) => line.split(','));
const numbers = (name: string): number[][] => rows(name).map((row) => row.map(Number));

/** Digits that agree: minus the logarithm of the relative error. */
const digits = (value: number, certified: string | number): number =>
  value === Number(certified)
    ? 15
    : -Math.log10(Math.abs(value - Number(certified)) / Math.abs(Number(certified)));
const near = (value: number | undefined | null, wanted: number, relative = 1e-9): void =>
  expect(Math.abs((value ?? NaN) - wanted)).toBeLessThanOrEqual(relative * Math.max(1, Math.abs(wanted)));
const some = <T>(value: T | null | undefined): T => {
  if (value === null || value === undefined) throw new Error('nothing came of it');
  return value;
};

const strd = json('strd_certified.json');
const examples = json('drift_series_expected.json');
const years = examples.A.t_days.map((days: number) => days / 365.25) as number[];
const seriesA = [0.1, 0.3, 0.2, 0.6, 0.5, 0.9, 0.8, 1.2];
const fitA = (): Fit => some(leastSquares(years, seriesA));

describe('certified data sets (checks 23 to 31)', () => {
  it('Norris, with its errors, to nine digits and more', () => {
    const data = numbers('nist_norris.csv');
    const fit = some(
      leastSquares(
        data.map(([, x]) => x),
        data.map(([y]) => y),
      ),
    );
    const wanted = strd.linear['nist_norris.csv'];
    for (const [value, certified] of [
      [fit.intercept, wanted.b[0]],
      [fit.slope, wanted.b[1]],
      [fit.interceptError, wanted.se[0]],
      [fit.slopeError, wanted.se[1]],
      [fit.s, wanted.s],
      [fit.rSquared, wanted.r2],
    ] as const)
      expect(digits(value, certified)).toBeGreaterThanOrEqual(9);
    near(fit.intercept + fit.slope * 500, 500.796085936, 1e-9);
    const span = some(predictionSpan(fit, 500, 0.95));
    near(span.low, 498.971794054);
    near(span.high, 502.620377819);
  });
  it('NoInt1 and NoInt2, through the origin', () => {
    for (const name of ['nist_noint1.csv', 'nist_noint2.csv']) {
      const data = numbers(name);
      const fit = some(
        throughOrigin(
          data.map(([, x]) => x),
          data.map(([y]) => y),
        ),
      );
      const wanted = strd.linear[name];
      expect(digits(fit.slope, wanted.b[0])).toBeGreaterThanOrEqual(9);
      expect(digits(fit.slopeError, wanted.se[0])).toBeGreaterThanOrEqual(9);
      expect(digits(fit.s, wanted.s)).toBeGreaterThanOrEqual(9);
    }
  });
  it('Pontius, a parabola, with its columns brought to one size', () => {
    const data = numbers('nist_pontius.csv');
    const fit = some(
      fitTerms(
        data.map(([, x]) => [1, x, x * x]),
        data.map(([y]) => y),
      ),
    );
    const wanted = strd.linear['nist_pontius.csv'];
    for (const [index, certified] of (wanted.b as string[]).entries()) {
      expect(digits(fit.coefficients[index], certified)).toBeGreaterThanOrEqual(9);
      expect(digits(fit.errors[index], wanted.se[index])).toBeGreaterThanOrEqual(9);
    }
    expect(digits(fit.s, wanted.s)).toBeGreaterThanOrEqual(9);
    expect(
      bendChance(
        data.map(([, x]) => x),
        data.map(([y]) => y),
      ),
    ).toBeLessThan(1e-12);
  });
  it('Longley, six columns that nearly repeat each other', () => {
    const data = numbers('nist_longley.csv');
    const fit = some(
      fitTerms(
        data.map(([, ...terms]) => [1, ...terms]),
        data.map(([y]) => y),
      ),
    );
    const wanted = strd.linear['nist_longley.csv'];
    expect(digits(fit.coefficients[6], wanted.b[6])).toBeGreaterThanOrEqual(9);
    expect(digits(fit.s, wanted.s)).toBeGreaterThanOrEqual(9);
  });
  it('the univariate sets: mean, standard deviation and lag-one autocorrelation', () => {
    const least: Record<string, number> = { 'nist_numacc3.csv': 9, 'nist_numacc4.csv': 8 };
    for (const [name, wanted] of Object.entries<Record<string, string>>(strd.univariate)) {
      const values = numbers(name).map(([y]) => y);
      const enough = least[name] ?? 9;
      expect(digits(mean(values), wanted.mean)).toBeGreaterThanOrEqual(9);
      expect([name, digits(sampleStandardDeviation(values), wanted.sd) >= enough]).toEqual([name, true]);
      expect([name, digits(some(lagOne(values)), wanted.r1) >= Math.min(enough, 8)]).toEqual([name, true]);
    }
  });
});

describe('the line of example A (checks 12 to 22)', () => {
  it('slope, intercept, errors, t, p, and its limits', () => {
    const fit = fitA();
    near(fit.slope, examples.A.ols.slope_F_per_yr);
    near(fit.intercept, examples.A.ols.intercept_F);
    near(fit.s, examples.A.ols.s);
    near(fit.slopeError, examples.A.ols.se_slope);
    near(fit.interceptError, examples.A.ols.se_intercept);
    near(fit.slope / fit.slopeError, examples.A.ols.t);
    near(fit.p, examples.A.ols.p);
    near(fit.rSquared, examples.A.ols.r2);
    const span = some(slopeSpan(fit, 0.95));
    near(span.low, examples.A.ols.slope_ci95[0]);
    near(span.high, examples.A.ols.slope_ci95[1]);
  });
  it('what the next reading may be, and the line there', () => {
    const wanted = examples.A.predict_2026_03_16;
    const [one, line] = [predictionSpan, meanSpan].map((of) => some(of(fitA(), wanted.t, 0.95)));
    near(one.low, wanted.prediction_interval95[0]);
    near(one.high, wanted.prediction_interval95[1]);
    near(line.low, wanted.mean_ci95[0]);
    near(line.high, wanted.mean_ci95[1]);
  });
  it('whole years, by hand (check 18), and three readings (check 19)', () => {
    const fit = some(leastSquares([0, 1, 2, 3, 4, 5, 6, 7], seriesA));
    near(fit.slope, 0.1452380952, 1e-9);
    near(fit.intercept, 0.0666666667, 1e-9);
    const span = some(predictionSpan(fit, 8, 0.95));
    near(span.low, 0.8103772007);
    near(span.high, 1.6467656565);
    const three = some(leastSquares([0, 1, 2], [0.1, 0.3, 0.4]));
    near(three.slope, 0.15);
    near(three.p, 0.1210377, 1e-6);
    const wide = some(slopeSpan(three, 0.95));
    // The reference prints -0.2167906 and 0.5167906; 0.15 -+ 12.7062047362 x 0.0288675135 is this.
    near(wide.low, -0.2167965, 1e-6);
    near(wide.high, 0.5167965, 1e-6);
    const crossing = crossingOf(three, { low: -2, high: 2 });
    expect(crossing.kind).toBe('not dated');
    if (crossing.kind === 'not dated') near(crossing.g, 5.9795, 1e-4);
  });
  it('when it crosses two degrees, with Fieller’s limits', () => {
    const wanted = examples.A.crossing_plus2F;
    const answer = crossingOf(fitA(), { low: -2, high: 2 });
    if (answer.kind !== 'crossing') throw new Error('not dated');
    const { crossing } = answer;
    near(crossing.at, wanted.t_star);
    near(crossing.line.low, wanted.fieller_mean95_t[0]);
    near(crossing.line.high, wanted.fieller_mean95_t[1]);
    near(crossing.reading.low, wanted.fieller_prediction95_t[0]);
    near(crossing.reading.high, wanted.fieller_prediction95_t[1]);
    near(crossing.earliest, wanted.one_sided95_prediction_lower_t);
    near(crossing.g, wanted.g);
    const date = (t: number): string => addDays('2018-03-12', Math.floor(t * 365.25));
    expect([date(crossing.at), date(crossing.earliest)]).toEqual([
      wanted.date,
      wanted.one_sided95_prediction_lower_date,
    ]);
    expect([date(crossing.line.low), date(crossing.line.high)]).toEqual(wanted.fieller_mean95_dates);
    expect([date(crossing.reading.low), date(crossing.reading.high)]).toEqual(
      wanted.fieller_prediction95_dates,
    );
  });
  it('falls as it rises: everything mirrors', () => {
    const up = crossingOf(fitA(), { low: -2, high: 2 });
    const down = crossingOf(
      some(
        leastSquares(
          years,
          seriesA.map((y) => -y),
        ),
      ),
      { low: -2, high: 2 },
    );
    if (up.kind !== 'crossing' || down.kind !== 'crossing') throw new Error('not dated');
    near(down.crossing.at, up.crossing.at);
    near(down.crossing.earliest, up.crossing.earliest);
    expect(down.crossing.limit).toBe(-2);
  });
});

describe('histories of standards (checks 32 and 33)', () => {
  it('a resistor over 1,000 checks', () => {
    const values = numbers('nist_dziuba1_resistor_drift.csv').map((_, index) => index + 1);
    const y = rows('nist_dziuba1_resistor_drift.csv').map(([, value]) => Number(value));
    const fit = some(leastSquares(values, y));
    near(fit.slope, 2.0967000267e-4, 1e-12);
    near(fit.slopeError, 2.0920781905e-6, 1e-14);
    near(fit.s, 0.0190979641);
    near(fit.slope / fit.slopeError, 100.2, 1e-3);
  });
  it('a linewidth calibration, and back from y to x', () => {
    const data = numbers('ehandbook_linewidth_calibration.csv');
    const fit = some(
      leastSquares(
        data.map(([x]) => x),
        data.map(([, y]) => y),
      ),
    );
    near(fit.intercept, 0.2357622903);
    near(fit.slope, 0.9870377143);
    near(fit.s, 0.0620319594);
    near((6 - fit.intercept) / fit.slope, 5.839936637);
  });
});

describe('Mann-Kendall and Theil-Sen (checks 34 to 46)', () => {
  const series = new Map<string, { x: number[]; y: number[] }>();
  for (const [name, x, y] of rows('trend_examples.csv')) {
    const held = series.get(name) ?? { x: [], y: [] };
    held.x.push(Number(x));
    held.y.push(Number(y));
    series.set(name, held);
  }
  const expected = json('trend_expected.json');
  it.each([...series.keys()])('%s', (name) => {
    const { x, y } = some(series.get(name));
    const wanted = expected[name];
    const test = some(mannKendall(y.map((value) => ({ value }))));
    expect([test.count, test.s]).toEqual([wanted.n, wanted.S]);
    near(test.variance, wanted.VarS);
    near(test.z, wanted.z);
    near(test.p, wanted.p_two_sided);
    near(test.tau, wanted.tau_b ?? 0);
    if (wanted.p_exact_two_sided !== undefined) near(test.exactP, wanted.p_exact_two_sided);
    const line = some(theilSen(x, y));
    near(line.slope, wanted.slope);
    if (wanted.intercept_conover !== undefined) near(line.intercept, wanted.intercept_conover);
    if (wanted.N_slopes !== undefined) expect(line.slopes).toBe(wanted.N_slopes);
    if (wanted.ci_interp === undefined) return;
    const [between, outward] = [line.span, some(theilSen(x, y, 0.95, 'outward')).span];
    const exists = wanted.M1 >= 1 && wanted.M2plus1 <= wanted.N_slopes;
    expect([between !== null, outward !== null]).toEqual([exists, exists]);
    if (!between || !outward) return;
    near(between.low, wanted.ci_interp[0]);
    near(between.high, wanted.ci_interp[1]);
    near(outward.low, wanted.ci_outer[0]);
    near(outward.high, wanted.ci_outer[1]);
  });
  it('example A on its dates', () => {
    const line = some(theilSen(years, seriesA));
    near(line.slope, 0.1499658159);
    near(line.span?.low, 0.0694967506);
    near(line.span?.high, 0.1990770437);
  });
  it('published: sodium, QA/G-9S, Holy Cross and Wisconsin', () => {
    const test = (values: number[]) => some(mannKendall(values.map((value) => ({ value }))));
    const sodium = test([56, 53, 51, 55, 52, 60, 62, 59, 61, 63]);
    expect([sodium.s, sodium.z.toFixed(4), sodium.p.toFixed(4), sodium.tau.toFixed(4)]).toEqual([
      25,
      '2.1466',
      '0.0318',
      '0.5556',
    ]);
    const qa = test([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]);
    expect([qa.s, qa.variance.toFixed(2), qa.z.toFixed(3)]).toEqual([22, '155.33', '1.685']);
    const cross = test([12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11, 17.3, 15.9, 19, 18.3, 20.1, 21.7]);
    expect([cross.s, cross.z.toFixed(4), (cross.p / 2).toFixed(4)]).toEqual([54, '2.9058', '0.0018']);
    expect(test([100, 50, 85, 75, 50]).s).toBe(-5);
  });
  it('all values equal is no trend, never NaN', () =>
    expect(mannKendall([1, 1, 1, 1].map((value) => ({ value })))).toMatchObject({
      s: 0,
      variance: 0,
      p: 1,
      tau: 0,
    }));
  it('the exact table, from three to fifteen readings', () => {
    for (const [n, most, least, oneS, oneP, twoS, twoP] of rows('mann_kendall_exact_critical.csv')) {
      near(exactChance(Number(most), Number(n)), Number(least), 1e-9);
      if (oneS !== '') near(exactChance(Number(oneS), Number(n)) / 2, Number(oneP), 1e-6);
      if (twoS !== '') near(exactChance(Number(twoS), Number(n)), Number(twoP), 1e-6);
    }
  });
  // R cor prints 0.4390389: 27 more pairs agree than do not, of 62 and 61 that differ. The reference has 0.4390389033.
  it('tau with ties of the grade data', () => {
    const data = numbers('conover_kendall_gmat.csv');
    near(
      tauB(
        data.map(([x]) => x),
        data.map(([, y]) => y),
      ),
      27 / Math.sqrt(62 * 61),
    );
  });
  it('a bound takes part only where its order is certain', () => {
    const test = mannKendall([{ value: 1 }, { value: 3, relation: '>=' }, { value: 2 }, { value: 4 }]);
    // 1 < 3+ surely, 1 < 2, 1 < 4, 2 < 4; 3+ against 2 falls surely, against 4 nobody knows.
    expect(test).toMatchObject({ s: 3, exactP: null });
  });
});

describe('adjusted devices (checks 47 to 50)', () => {
  const wanted = examples.B.first_device;
  const increments = (examples.B.drift_F as number[])
    .slice(0, 7)
    .map((moved, index) => ({ moved, years: examples.B.days[index] / 365.25 }));
  it('rate, noise and limits of series B', () => {
    const rate = some(rateOfIncrements(increments));
    near(rate.rate, wanted.rate_sum_over_sum);
    near(rate.sigma, wanted.sigma_wiener_F_per_sqrt_yr);
    near(rate.error, wanted.se_rate);
    near(rate.span?.low, wanted.rate_ci95[0]);
    near(rate.span?.high, wanted.rate_ci95[1]);
    near(rate.originRate, wanted.rate_through_origin_OLS);
  });
  it('first passage', () => {
    const passage = { distance: 2, rate: 0.5, sigma: 0.3 };
    near(passedBy(passage, 2), 0.0126527, 1e-6);
    near(passedBy(passage, 3), 0.2044681456);
    near(passedBy(passage, 4), 0.5585769, 1e-7);
    near(passageQuantile(passage, 0.1), 2.626273779, 1e-8);
    near(passageMoments(passage).sd, 1.2);
    const { rate, sigma } = some(rateOfIncrements(increments));
    const own = { distance: 2, rate, sigma: some(sigma) };
    near(passageQuantile(own, 0.05), wanted.first_passage_2F.q05, 1e-8);
    near(passageQuantile(own, 0.1), wanted.first_passage_2F.q10, 1e-8);
    near(passageQuantile(own, 0.5), wanted.first_passage_2F.median, 1e-8);
    near(passageMoments(own).mean, wanted.first_passage_2F.mean_yr);
    near(passageMoments(own).sd, wanted.first_passage_2F.sd_yr);
  });
  it('neither overflows nor leaves 0 to 1 with little noise', () => {
    for (const sigma of [1e-6, 1e-3, 0.05, 5])
      for (const at of [0.01, 1, 3.9, 4, 4.1, 40]) {
        const share = passedBy({ distance: 2, rate: 0.5, sigma }, at);
        expect(share >= 0 && share <= 1).toBe(true);
      }
    near(passedBy({ distance: 2, rate: 0.5, sigma: 1e-6 }, 4.1), 1);
    near(passedBy({ distance: 2, rate: 0.5, sigma: 1e-6 }, 3.9), 0);
  });
});

describe('control charts (checks 51 to 57)', () => {
  const chart = (name: string): number[] =>
    rows('control_chart_examples.csv')
      .filter(([own]) => own === name)
      .map(([, , value]) => Number(value));
  const expected = json('control_chart_expected.json');
  it('individuals and moving range: flow rate, concentration, and the constants', () => {
    const flow = some(individualsChart(chart('ehandbook_imr_flowrate'), 1.128));
    const wanted = expected.ehandbook_imr_flowrate;
    near(flow.centre, wanted.mean);
    near(flow.meanRange, wanted.mr_bar);
    near(flow.upper, wanted.ucl);
    near(flow.lower, wanted.lcl);
    expect(flow.signals).toEqual([]);
    const other = some(individualsChart(chart('montgomery_cusum_concentration'), 1.128));
    near(other.upper, 105.981898, 1e-6);
    near(other.lower, 92.208102, 1e-6);
    near(D2, 1.1283791671);
    near(D3, 0.8525024664);
    near(3 / D2, 2.6586807764);
    near(D4, 3.2665319193);
  });
  it('EWMA', () => {
    const wanted = expected.ehandbook_ewma;
    const found = ewma(chart('ehandbook_ewma'), { lambda: 0.3, target: 50, sigma: 2.0539 });
    for (const [index, value] of (wanted.ewma as number[]).entries()) near(found[index].value, value, 1e-7);
    near(found[0].upper, 51.84851, 1e-6);
    near(found[1].upper, 52.256394, 1e-6);
    near(found[19].upper, wanted.ucl, 1e-4);
    near(found[19].lower, wanted.lcl, 1e-4);
  });
  it('CUSUM, tabular and plain', () => {
    const wanted = expected.ehandbook_cusum;
    const found = cusum(chart('ehandbook_cusum'), { target: 325, slack: 0.3175, decision: 4.1959 });
    expect(found.firstSignal).toBe(13);
    for (const [index, [high, low]] of (wanted.hi_lo as [number, number][]).entries()) {
      near(found.rows[index].high, high, 1e-9);
      near(found.rows[index].low, low, 1e-9);
    }
    const plain = chart('montgomery_cusum_concentration');
    near(
      plain.reduce((sum, value) => sum + value - 99, 0),
      1.9,
      1e-9,
    );
    const slow = cusum(plain, { target: 99, slack: 1, decision: 10 });
    expect([
      slow.firstSignal,
      Math.max(...slow.rows.map(({ high, low }) => Math.max(high, low))).toFixed(1),
    ]).toEqual([null, '3.2']);
  });
  it('three sigma by chance', () => near(2 * normalCdf(-3), 0.0026997961, 1e-10));
});

describe('intervals (checks 58 to 74)', () => {
  it('staircase', () => {
    const rule = { share: 0.8, extend: 1.25, shorten: 0.5, least: 3, most: 36 };
    let interval = 12;
    const run = [0.6, 1.1, 1.7, 2.3, 0.9].map(
      (error) => (interval = afterStep(interval, staircaseStep(error, 2, rule), rule)),
    );
    expect(run).toEqual([15, 18.75, 18.75, 9.375, 11.71875]);
  });
  it('A1 and A2', () => {
    near(simpleReduction(0.1, 0.9), 0.5759023816);
    near(simpleReduction(0.1, 0.85), 0.4173047863);
    const one = simpleResponse(12, [true, true, true, false, true, true], { extension: 0.1, target: 0.9 });
    for (const [index, months] of [13.2, 14.52, 15.972, 6.7736871606, 7.4510558767, 8.1961614644].entries())
      near(one[index], months);
    const other = incrementalResponse(12, [true, true, false, true, true, true], 0.9);
    for (const [index, months] of [13.2, 14.52, 7.986, 8.18565, 8.39029125, 8.6000485313].entries())
      near(other[index], months);
  });
  it('A3', () => {
    const bad = { inside: 28, tested: 35, interval: 12 };
    const test = intervalTest(bad, 0.9);
    expect(test.answer).toBe('shorten');
    near(test.shorten.low, 0.6866128, 1e-6);
    near(test.shorten.high, 0.8850892, 1e-6);
    expect(scaledInterval(bad, 0.9)).toBe(6);
    near(rescaledInterval(12, 28 / 35, 0.9), 5.6659768, 1e-6);
    const good = intervalTest({ inside: 55, tested: 60, interval: 12 }, 0.85);
    expect(good.answer).toBe('keep');
    near(good.shorten.low, 0.8509, 1e-4);
    near(good.scaled, 22.41, 1e-3);
    near(binomialChance(28, 35, 0.9), 0.0802144049, 1e-8);
    near(binomialChance(55, 60, 0.85), 0.2030445097, 1e-8);
  });
  it('exponential and Weibull fits of the constructed groups', () => {
    const groups = numbers('interval_attributes_example.csv').map(([interval, tested, inside]) => ({
      interval,
      tested,
      inside,
    }));
    const wanted = json('interval_expected.json');
    const fit = fitReliability(groups);
    if (fit.kind !== 'fitted') throw new Error('not fitted');
    const { exponential } = fit;
    near(exponential.lambda, wanted.exponential.lambda_per_month, 1e-9);
    near(exponential.error, wanted.exponential.se_expected_info, 1e-8);
    near(exponential.span.low, wanted.exponential.profile_ci95[0], 1e-6);
    near(exponential.span.high, wanted.exponential.profile_ci95[1], 1e-6);
    near(exponential.logLikelihood, wanted.exponential.loglik_bernoulli, 1e-8);
    const weibull = some(fit.weibull);
    near(weibull.beta, wanted.weibull.shape_beta, 1e-6);
    near(weibull.eta, wanted.weibull.scale_eta_months, 1e-6);
    near(weibull.logLikelihood, wanted.weibull.loglik_bernoulli, 1e-8);
    near(weibull.p, wanted.likelihood_ratio_exp_vs_weibull.p, 1e-5);
    near(
      2 * (weibull.logLikelihood - exponential.logLikelihood),
      wanted.likelihood_ratio_exp_vs_weibull.chi2_1df,
      1e-6,
    );
    for (const [target, months] of Object.entries<number>(wanted.exponential.interval_months))
      near(exponentialInterval(exponential.lambda, Number(target)), months, 1e-8);
    for (const [target, months] of Object.entries<number>(wanted.weibull.interval_months))
      near(weibullInterval(weibull, Number(target)), months, 1e-5);
    for (const [target, [low, high]] of Object.entries<[number, number]>(
      wanted.exponential.interval_ci95_months,
    )) {
      near(exponentialInterval(exponential.span.high, Number(target)), low, 1e-6);
      near(exponentialInterval(exponential.span.low, Number(target)), high, 1e-6);
    }
  });
  it('targets, rescaling, a start below one, and no failure at all', () => {
    near(exponentialInterval(0.01, 0.85), 16.2518929, 1e-7);
    near(exponentialInterval(0.01, 0.9), 10.5360516, 1e-7);
    near(exponentialInterval(0.01, 0.95), 5.1293294, 1e-7);
    near(rescaledInterval(12, 0.85, 0.95), 3.7873713, 1e-7);
    const lambda = Math.log(0.98 / 0.85) / 12;
    near(lambda, 0.0118596852, 1e-9);
    near(exponentialInterval(lambda, 0.9126883367, 0.98), 6, 1e-8);
    near(exponentialInterval(lambda, 0.9, 0.98), 7.1804, 1e-4);
    near(weibullInterval({ beta: 2, eta: 40 }, 0.9), 12.98371, 1e-6);
    const none = fitReliability([{ interval: 12, tested: 12, inside: 12 }]);
    if (none.kind !== 'none outside') throw new Error('something was outside');
    near(none.lambdaAtMost, 0.0208036963, 1e-9);
    near(exponentialInterval(none.lambdaAtMost, 0.9), 5.06, 1e-2);
    near(0.05 ** (1 / 12), 0.7790778081);
    expect([0.85, 0.9, 0.95].map((target) => testsToShow(target))).toEqual([19, 29, 59]);
    near(averageShare(0.85), 0.9229694, 1e-7);
    near(averageShare(0.9), 0.9491222, 1e-7);
    near(averageShare(0.95), 0.9747863, 1e-7);
    expect(fitReliability([{ interval: 12, tested: 5, inside: 0 }])).toEqual({ kind: 'all outside' });
    expect(fitReliability([])).toEqual({ kind: 'no data' });
  });
});

describe('shares and quantiles (checks 75 to 81)', () => {
  it('Clopper-Pearson and Wilson at 80, 90 and 95 %', () => {
    for (const [x, n, confidence, cpLow, cpHigh, wLow, wHigh] of numbers('binomial_ci_reference.csv')) {
      const [exact, score] = [clopperPearson(x, n, confidence), wilson(x, n, confidence)];
      near(exact.low, cpLow, 1e-9);
      near(exact.high, cpHigh, 1e-9);
      near(score.low, wLow, 1e-9);
      near(score.high, wHigh, 1e-9);
    }
    const five = clopperPearson(5, 25);
    expect([five.low.toFixed(3), five.high.toFixed(3)]).toEqual(['0.068', '0.407']);
  });
  it('quantiles of t, beta and normal to forty-digit references', () => {
    let checked = 0;
    for (const [dist, p, a, b, quantile] of rows('quantile_reference.csv')) {
      const value =
        dist === 't'
          ? tQuantile(Number(p), Number(a))
          : dist === 'beta'
            ? betaQuantile(Number(p), Number(a), Number(b))
            : dist === 'normal'
              ? normalQuantile(Number(p))
              : null;
      if (value === null) continue;
      expect(digits(value, quantile)).toBeGreaterThan(11);
      checked += 1;
    }
    expect(checked).toBeGreaterThan(40);
    near(betaQuantile(0.025, 28, 8), 0.6306211555);
  });
  it('the median of an even count is the mean of the middle two', () =>
    expect(median([4, 1, 3, 2])).toBe(2.5));
});
