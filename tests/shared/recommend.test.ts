/** Recommended intervals, the results they rest on, and the statistics of groups. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addDays } from '../../shared/dates/plainDate.ts';
import { createRandom } from '../../shared/planning/random.ts';
import { biasOf, cellSums, compareShares, figuresOfGroup, funnelOf } from '../../shared/stats/driftGroups.ts';
import type { GroupReading } from '../../shared/stats/driftGroups.ts';
import { driftPoints } from '../../shared/stats/driftSeries.ts';
import type { DriftVisit } from '../../shared/stats/driftSeries.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import {
  INTERVAL_GRID,
  classRule,
  onGrid,
  recommendInterval,
  ruleTarget,
} from '../../shared/stats/recommend.ts';
import type { GroupEvidence } from '../../shared/stats/groupEvidence.ts';
import type { Evidence } from '../../shared/stats/recommend.ts';
import { addNoise, noiseTerms, pooledNoise } from '../../shared/stats/readingNoise.ts';
import { fitReliability } from '../../shared/stats/reliability.ts';
import { renewalResults } from '../../shared/stats/renewals.ts';

const policy = { target: 0.9, leastDays: 91, mostDays: 1095 };
const START = '2019-01-10';
const visit = (year: number, found: number | null, left: number | null = found, change = {}): DriftVisit => ({
  date: addDays(START, year * 365),
  found: found === null ? null : { milli: found, relation: '=' },
  leftMilli: left,
  event: 'none',
  supplyFlagged: false,
  ...change,
});

function evidence(visits: DriftVisit[], change: Partial<Evidence> = {}): Evidence {
  return {
    presentDays: 365,
    toleranceMilli: 1_000,
    statistics: driftStatistics(driftPoints(visits), 1_000),
    results: visits.flatMap(({ found }) =>
      found === null ? [] : [{ errorMilli: found.milli, isOutside: Math.abs(found.milli) > 1_000 }],
    ),
    lastDoneOn: visits.at(-1)?.date ?? null,
    isAnswered: false,
    group: null,
    ...change,
  };
}

const group = (tested: number, inside: number): GroupEvidence => ({
  name: 'all setpoints',
  tested,
  inside,
  recent: { tested: 0, inside: 0 },
  interval: 365,
  reliability: fitReliability([{ interval: 365, tested, inside }]),
});

describe('results as interval statistics take them', () => {
  it('each visit is a trial of the stretch since the one before, from the last renewal', () =>
    expect(
      renewalResults(
        driftPoints([visit(0, 0), visit(1, 300), visit(2, 800), visit(3, 1_200, 0), visit(4, 200)]),
        1_000,
      ),
    ).toEqual([
      { on: visit(1, 0).date, since: 0, days: 365, isInside: true },
      { on: visit(2, 0).date, since: 365, days: 730, isInside: true },
      { on: visit(3, 0).date, since: 730, days: 1_095, isInside: false },
      { on: visit(4, 0).date, since: 0, days: 365, isInside: true },
    ]));
  it('an as-left that is unknown or outside starts no clock; a wrong supply says nothing', () =>
    expect(
      renewalResults(
        driftPoints([
          visit(0, 0, null),
          visit(1, 300, 1_300),
          visit(2, 1_400, 100),
          visit(3, 5_000, 5_000, { supplyFlagged: true }),
          visit(4, 500),
        ]),
        1_000,
      ),
    ).toEqual([]));
  it('a memoryless rate is found whatever the policy of adjusting, from runs that end outside', () => {
    // Out at a constant chance a year: 13 % a visit. Counting only how runs end would see far more.
    const random = createRandom(3);
    const results = Array.from({ length: 4_000 }, () => {
      const visits = [visit(0, 0)];
      for (let year = 1; year <= 8; year += 1) {
        const isOut = random.next() < 0.13 * 2 ** 32;
        visits.push(isOut ? visit(year, 1_500, 0) : visit(year, 100));
      }
      return renewalResults(driftPoints(visits), 1_000);
    }).flat();
    const fit = fitReliability(
      results.map(({ since, days, isInside }) => ({
        since,
        interval: days,
        tested: 1,
        inside: isInside ? 1 : 0,
      })),
    );
    if (fit.kind !== 'fitted') throw new Error('not fitted');
    expect(Math.exp(-fit.exponential.lambda * 365)).toBeCloseTo(0.87, 2);
  });
});

describe('the noise of a reading, pooled', () => {
  const historyOf = (
    random: ReturnType<typeof createRandom>,
    { walk, noise }: { walk: number; noise: number },
  ) => {
    // Sums of twelve are normal enough.
    const normal = (): number =>
      Array.from({ length: 12 }, () => random.next() / 2 ** 32).reduce((a, b) => a + b) - 6;
    const rate = 0.3 * normal();
    let truth = 0;
    return driftPoints(
      Array.from({ length: 8 }, (_, year) => {
        truth += year === 0 ? 0 : rate + walk * normal();
        return visit(year, Math.round(1000 * (truth + noise * normal())));
      }),
    );
  };
  it.each([
    [{ walk: 0, noise: 0.15 }, 0.15],
    [{ walk: 0.4, noise: 0.15 }, 0.15],
    [{ walk: 0.4, noise: 0 }, 0],
  ])('of %o is found, whatever creeps or walks besides', (kind, wanted) => {
    const random = createRandom(9);
    const terms = Array.from({ length: 6_000 }, () => noiseTerms(historyOf(random, kind))).reduce(addNoise);
    expect(Math.abs(pooledNoise(terms) - wanted)).toBeLessThan(wanted === 0 ? 0.06 : 0.03);
  });
  it('of few stretches is not told', () =>
    expect(pooledNoise(noiseTerms(historyOf(createRandom(1), { walk: 0, noise: 0.2 })))).toBe(0));
});

describe('a recommended interval', () => {
  it('too few results: the policy stands', () =>
    expect(recommendInterval(evidence([visit(0, 0)]), policy)).toMatchObject({
      days: 365,
      limitedBy: 'policy',
    }));
  it('outside: shortened at once', () =>
    expect(recommendInterval(evidence([visit(0, 0), visit(1, 1_400, 0)]), policy)).toMatchObject({
      days: 182,
      limitedBy: 'staircase',
    }));
  it('two good ones: a quarter longer, never more at once', () => {
    const good = [0, 1, 2, 3].map((year) => visit(year, 100));
    expect(recommendInterval(evidence(good.slice(0, 2)), policy)).toMatchObject({ days: 456 });
    expect(recommendInterval(evidence(good), policy)).toMatchObject({ days: 456, heldBy: 'one step' });
  });
  it('a reading that was answered is not answered again', () => {
    const out = evidence([visit(0, 0), visit(1, 1_400, 0)], { presentDays: 182, isAnswered: true });
    expect(recommendInterval(out, policy).days).toBe(182);
    const good = evidence([visit(0, 0), visit(1, 100)], { presentDays: 456, isAnswered: true });
    expect(recommendInterval(good, policy).days).toBe(456);
  });
  it('what was left outside, or found beyond a bound outside, is shortened, however good the reading before', () => {
    const left = recommendInterval(evidence([visit(0, 0), visit(1, 100, 1_200)]), policy);
    expect([left.days, left.words]).toEqual([
      182,
      'Shorten 12.0 months to 6.0 months: It stands outside its tolerance: shorten 12.0 months to 6.0 months, and see to it before.',
    ]);
    const bound = visit(2, 0, null, { found: { milli: 1_500, relation: '>=' }, isLeftAsBound: true });
    expect(recommendInterval(evidence([visit(0, 0), visit(1, 100), bound]), policy).days).toBe(182);
  });
  it('one reading that stands outside is enough to shorten; the ends of the policy turn no step round', () => {
    expect(recommendInterval(evidence([visit(0, 1_400)]), policy)).toMatchObject({
      days: 182,
      limitedBy: 'staircase',
    });
    const out = [visit(0, 0), visit(1, 1_400, 0)];
    expect(recommendInterval(evidence(out, { presentDays: 30 }), policy).days).toBe(30);
    const good = recommendInterval(evidence([visit(0, 0), visit(1, 100)], { presentDays: 2_000 }), policy);
    expect([good.days, good.heldBy, /extend/.test(good.words)]).toEqual([policy.mostDays, 'most', false]);
  });
  it('the default of a class goes by the target itself, one step at a time, and by what was found lately', () => {
    const of = (inside: number, recent = { tested: 0, inside: 0 }) =>
      classRule({ ...group(400, inside), recent }, 365, policy);
    expect([of(396).days, of(340).days, of(12).days === null]).toEqual([456, 213, false]);
    expect(of(396, { tested: 100, inside: 80 })).toMatchObject({ days: 182 });
    expect(classRule(group(12, 12), 365, policy).days).toBe(null);
  });
  it('rules are held to more or less as the last two years of like points were worse or better than asked for', () => {
    const held = (inside: number, tested: number = 1_000): string =>
      ruleTarget(0.9, { tested, inside }).toFixed(3);
    expect([ruleTarget(0.9).toFixed(3), held(20, 40), held(900), held(930), held(1_000), held(800)]).toEqual([
      '0.770',
      '0.770',
      '0.770',
      '0.671',
      '0.655',
      '0.862',
    ]);
  });
  it('a policy of weeks is kept to', () =>
    expect(
      recommendInterval(evidence([visit(0, 0), visit(1, 1_400, 0)], { presentDays: 60 }), {
        target: 0.9,
        leastDays: 20,
        mostDays: 60,
      }).days,
    ).toBe(30));
  it('between 80 % and the tolerance: kept', () =>
    expect(recommendInterval(evidence([visit(0, 100), visit(1, 900)]), policy).days).toBe(365));
  it('a creeping one is there before it leaves tolerance, and its own record stands before the group’s', () => {
    const visits = [0, 160, 330, 480, 650].map((milli, year) => visit(year, milli));
    const answer = recommendInterval(evidence(visits, { group: group(400, 380) }), policy);
    expect(answer).toMatchObject({ limitedBy: 'line', days: 700 });
    expect(answer.rules.map(({ rule, counts }) => [rule, counts])).toEqual([
      ['line', true],
      ['group model', false],
      ['simple response', false],
      ['incremental response', false],
    ]);
  });
  it('without a date of its own the group counts; what its limits allow is not contradicted', () => {
    const visits = [visit(0, 100), visit(1, 100)];
    expect(recommendInterval(evidence(visits, { group: group(400, 305) }), policy)).toMatchObject({
      days: 365,
      limitedBy: 'group model',
    });
    expect(recommendInterval(evidence(visits, { group: group(400, 260) }), policy)).toMatchObject({
      days: 213,
      limitedBy: 'group model',
    });
  });
  it('a small group is tested, not fitted', () => {
    const answer = recommendInterval(evidence([visit(0, 100)], { group: group(12, 12) }), policy);
    expect(answer.rules.find(({ rule }) => rule === 'group test')?.words).toContain(
      '36 without one outside would extend it',
    );
  });
  it('lies on the grid, within the policy, for whatever was found', () =>
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: -3_000, max: 3_000 }), fc.boolean()), { maxLength: 12 }),
        fc.constantFrom(91, 182, 365, 400, 730),
        fc.integer({ min: 0, max: 60 }),
        (found, presentDays, outside) => {
          const visits = found.map(([milli, isAdjusted], year) => visit(year, milli, isAdjusted ? 0 : milli));
          const answer = recommendInterval(
            evidence(visits, { presentDays, group: group(60, 60 - outside) }),
            policy,
          );
          expect([...INTERVAL_GRID, presentDays]).toContain(answer.days);
          expect(answer.days).toBeGreaterThanOrEqual(Math.min(policy.leastDays, presentDays));
          expect(answer.days).toBeLessThanOrEqual(Math.max(policy.mostDays, presentDays));
          expect(answer.words).not.toMatch(/NaN|Infinity|undefined/);
        },
      ),
    ));
  it('the grid rounds down', () =>
    expect([80, 91, 364, 365, 5_000].map(onGrid)).toEqual([80, 91, 334, 365, 1_826]));
});

describe('groups', () => {
  const reading = (change: Partial<GroupReading> = {}): GroupReading => ({
    date: '2026-01-01',
    share: 0.2,
    isInside: true,
    rate: 0.1,
    moved: null,
    ...change,
  });
  it('a bound counts where it decides, and takes part in no distribution', () => {
    const figures = figuresOfGroup([
      reading(),
      reading({ share: null, isInside: false, rate: null }),
      reading({ share: null, isInside: null, rate: null }),
    ]);
    expect([figures.readings, figures.known, figures.inside]).toEqual([3, 2, 1]);
    expect(figures.bars.reduce((sum, count) => sum + count, 0)).toBe(1);
    expect(figures.rates).toMatchObject({ count: 1, p50: 0.1 });
  });
  it('a small group is not punished for its size', () => {
    expect(funnelOf(1, 3, 0.9)).toEqual({ place: 'too few', limits: null });
    expect(funnelOf(6, 8, 0.9).place).toBe('within');
    expect(funnelOf(75, 100, 0.9).place).toBe('low');
    expect(funnelOf(100, 100, 0.9).place).toBe('high');
  });
  it('the funnel’s limits are exact: 8 of 8, 5 of 8 at 95 % lie within, 3 of 8 does not', () => {
    // By the binomial sums: P(X <= 3 | 8, 0.95) = 1.5e-5, P(X <= 5) = 0.0058 (worked out here).
    expect([8, 5, 3].map((inside) => funnelOf(inside, 8, 0.95).place)).toEqual(['within', 'within', 'low']);
    expect(funnelOf(5, 8, 0.95).limits).toEqual({ low: 5 / 8, high: 1 });
  });
  /** Readers on mains that shift together each quarter, at different intervals, drifting on; one may read high. */
  const crew = (seed: number, high: number) => {
    const random = createRandom(seed);
    const spread = (): number => (random.next() / 2 ** 32 - 0.5) * 2;
    const own: GroupReading[] = [];
    const others: GroupReading[] = [];
    for (let round = 0; round < 10; round += 1)
      for (const main of ['M1', 'M2', 'M3']) {
        const shift = spread();
        for (let point = 0; point < 12; point += 1) {
          const years = 0.5 + random.next() / 2 ** 32;
          const isOwn = point % 3 === 0;
          const by = 0.4 * years + shift + 0.2 * spread() + (isOwn ? high : 0);
          const moved = { by, years, cell: `${main} ${round}`, isHandOver: point % 2 === 0 };
          (isOwn ? own : others).push(reading({ moved }));
        }
      }
    return { own, all: cellSums([...own, ...others]) };
  };
  it('a reader who reads high shows at hand-overs, and only with enough of them', () => {
    const { own, all } = crew(5, 0.3);
    expect(biasOf(own, all)).toMatchObject({ isClear: true });
    expect(biasOf(own, all)?.mean).toBeCloseTo(0.3, 1);
    expect(biasOf(own.slice(0, 12), all)).toBe(null);
  });
  it('one who reads as the others do is told apart by chance alone, whatever the mains do', () => {
    const clear = Array.from({ length: 200 }, (_, seed) => {
      const { own, all } = crew(seed + 1, 0);
      return biasOf(own, all)?.isClear === true;
    }).filter(Boolean);
    expect(clear.length).toBeLessThan(24);
  });
  it('two periods, with limits of the difference (Newcombe 1998, 56/70 and 48/80, from memory: 0.0524 to 0.3339)', () => {
    const answer = compareShares({ known: 80, inside: 48 }, { known: 70, inside: 56 });
    expect([
      answer?.difference.toFixed(4),
      answer?.span.low.toFixed(4),
      answer?.span.high.toFixed(4),
    ]).toEqual(['0.2000', '0.0524', '0.3339']);
    expect(compareShares({ known: 0, inside: 0 }, { known: 70, inside: 56 })).toBe(null);
  });
  it('of nothing nothing', () =>
    expect(figuresOfGroup([])).toMatchObject({
      known: 0,
      chart: null,
      exact: null,
      rates: null,
      medianShare: null,
    }));
});
