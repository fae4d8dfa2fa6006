/**
 * `npm run study:intervals`: policies of recalibration on simulated setpoints whose true drift is known, by a fixed seed.
 * Prints, for each policy, the share found in tolerance against the target, and the visits spent; and how often the
 * limits that the drift book gives hold what they say. `-- --points N` for another number than 20,000.
 */
import { JULIAN_YEAR, addDays, daysBetween } from '../shared/dates/plainDate.ts';
import { createRandom } from '../shared/planning/random.ts';
import type { Random } from '../shared/planning/random.ts';
import { normalQuantile } from '../shared/stats/dist/normal.ts';
import { crossingOf } from '../shared/stats/crossing.ts';
import { driftPoints } from '../shared/stats/driftSeries.ts';
import type { DriftVisit } from '../shared/stats/driftSeries.ts';
import { driftStatistics } from '../shared/stats/driftStatistics.ts';
import { groupEvidence } from '../shared/stats/groupEvidence.ts';
import type { GroupEvidence } from '../shared/stats/groupEvidence.ts';
import { leastSquares, predictionSpan } from '../shared/stats/leastSquares.ts';
import { addNoise, noiseTerms, pooledNoise } from '../shared/stats/readingNoise.ts';
import { classRule, onGrid, recommendInterval, ruleTarget } from '../shared/stats/recommend.ts';
import { renewalResults } from '../shared/stats/renewals.ts';
import { nextReadingSpan, reachesAt, wanderingLine } from '../shared/stats/wanderingLine.ts';

const at = process.argv.indexOf('--points');
const POINTS = at > 0 ? Number(process.argv[at + 1]) : 20_000;
const SEED = 1;
const YEARS = 16;
/** Histories begin with yearly visits; from here on each policy has its way. */
const WARM_UP = 5;
/** From this year on each policy has found its intervals. */
const SETTLED = 11;
/** Tolerance 1 °F: what is found beyond half of it is adjusted. */
const TOLERANCE = 1_000;
const ADJUST_FROM = 500;
/** Standard deviation of one reading, and of what is left after an adjustment, °F. */
const READ = 0.12;
const LEFT = 0.1;
const START = '2010-01-01';
const policy = { target: 0.9, leastDays: 91, mostDays: 1826 };

const kinds = ['creeping', 'walking', 'jumping', 'stuck'] as const;
type Kind = (typeof kinds)[number];

function normal(random: Random): number {
  return normalQuantile((random.next() + 0.5) / 2 ** 32);
}

/** How fast the setpoints of a site drift: no figure of any site is published; two are tried, and none is a fact. */
type Mix = {
  name: string;
  creep: number;
  walk: readonly [number, number];
  yearsAJump: number;
  stuck: number;
};
const mixes: readonly Mix[] = [
  { name: 'a calm site', creep: 0.35, walk: [0.15, 0.55], yearsAJump: 6, stuck: 0.1 },
  { name: 'a restless site', creep: 0.7, walk: [0.3, 0.8], yearsAJump: 4, stuck: 0.05 },
];

/** A setpoint with its true error; time goes on by days. */
type Setpoint = { kind: Kind; mix: Mix; rate: number; noise: number; error: number; random: Random };

function makeSetpoint(mix: Mix, index: number): Setpoint {
  const random = createRandom(SEED * 1_000_003 + index);
  const share = random.next() / 2 ** 32;
  const kind: Kind =
    share < mix.stuck ? 'stuck' : share < 0.55 ? 'creeping' : share < 0.85 ? 'walking' : 'jumping';
  return {
    kind,
    mix,
    rate: kind === 'creeping' ? mix.creep * normal(random) : 0,
    noise: kind === 'walking' ? mix.walk[0] + (mix.walk[1] - mix.walk[0]) * (random.next() / 2 ** 32) : 0,
    error: LEFT * normal(random),
    random,
  };
}

function pass(point: Setpoint, days: number): void {
  const years = days / JULIAN_YEAR;
  point.error += point.rate * years;
  if (point.noise > 0) point.error += point.noise * Math.sqrt(years) * normal(point.random);
  // Jumps of about a degree.
  if (point.kind === 'jumping' && point.random.next() / 2 ** 32 < 1 - Math.exp(-years / point.mix.yearsAJump))
    point.error += normal(point.random);
}

function visitNow(point: Setpoint, date: string): DriftVisit {
  const found = Math.round(1000 * (point.error + READ * normal(point.random)));
  const isAdjusted = Math.abs(found) > ADJUST_FROM;
  if (isAdjusted) point.error = LEFT * normal(point.random);
  const left = isAdjusted ? Math.round(1000 * (point.error + READ * normal(point.random))) : found;
  return {
    date,
    found: { milli: found, relation: '=' },
    leftMilli: left,
    event: 'none',
    supplyFlagged: false,
  };
}

type History = { point: Setpoint; visits: DriftVisit[]; interval: number };
type Policy = 'every 12 months' | 'every 24 months' | 'staircase' | 'class default alone' | 'recommended';

/** The group of all, as the book knows it. */
function groupOf(histories: readonly History[]): GroupEvidence {
  return groupEvidence(
    'all setpoints',
    histories.flatMap(({ visits }) => renewalResults(driftPoints(visits), TOLERANCE)),
  );
}

function recommended({ visits, interval }: History, group: GroupEvidence, noise: number): number {
  const points = driftPoints(visits);
  return recommendInterval(
    {
      presentDays: interval,
      toleranceMilli: TOLERANCE,
      statistics: driftStatistics(points, TOLERANCE, {
        sureness: ruleTarget(policy.target, group.recent),
        noise,
      }),
      results: visits.flatMap(({ found }) =>
        found ? [{ errorMilli: found.milli, isOutside: Math.abs(found.milli) > TOLERANCE }] : [],
      ),
      lastDoneOn: visits[visits.length - 1].date,
      isAnswered: false,
      group,
    },
    policy,
  ).days;
}

function nextInterval(name: Policy, history: History, { group, noise, classDays }: Known): number {
  if (name === 'every 12 months') return 365;
  if (name === 'every 24 months') return 730;
  if (name === 'class default alone') return classDays;
  if (name === 'recommended') return recommended(history, group, noise);
  const found = Math.abs(history.visits[history.visits.length - 1].found?.milli ?? 0);
  const factor = found > TOLERANCE ? 0.5 : found <= 0.8 * TOLERANCE ? 1.25 : 1;
  return Math.min(policy.mostDays, Math.max(policy.leastDays, history.interval * factor));
}

/** Histories that the group is known by. */
const KNOWN = 2_000;

/** The visits of one setpoint that fall before the end of a year. */
function workYear(
  name: Policy,
  history: History,
  { known, end, outcome }: { known: Known; end: string; outcome: Outcome },
): void {
  for (;;) {
    const last = history.visits[history.visits.length - 1].date;
    const interval = nextInterval(name, history, known);
    const days = Math.round(name === 'staircase' ? interval : onGrid(interval));
    if (addDays(last, days) > end) return;
    history.interval = interval;
    pass(history.point, days);
    const visit = visitNow(history.point, addDays(last, days));
    history.visits.push(visit);
    const isInside = Math.abs(visit.found?.milli ?? 0) <= TOLERANCE;
    outcome.visits += 1;
    outcome.inside += isInside ? 1 : 0;
    if (visit.date > addDays(START, 365 * SETTLED)) {
      outcome.settled[0] += isInside ? 1 : 0;
      outcome.settled[1] += 1;
    }
    const tally = outcome.byKind.get(history.point.kind) ?? [0, 0];
    outcome.byKind.set(history.point.kind, [tally[0] + (isInside ? 1 : 0), tally[1] + 1]);
  }
}

type Known = { group: GroupEvidence; noise: number; classDays: number };
type Outcome = {
  visits: number;
  years: number;
  inside: number;
  settled: [number, number];
  byKind: Map<Kind, [number, number]>;
};

function runPolicy(name: Policy, mix: Mix): Outcome {
  const outcome: Outcome = {
    visits: 0,
    years: 0,
    inside: 0,
    settled: [0, 0],
    byKind: new Map(kinds.map((kind) => [kind, [0, 0]])),
  };
  const histories = Array.from({ length: POINTS }, (_, index): History => {
    const point = makeSetpoint(mix, index);
    const visits = [visitNow(point, START)];
    for (let year = 1; year <= WARM_UP; year += 1) {
      pass(point, 365);
      visits.push(visitNow(point, addDays(START, 365 * year)));
    }
    return { point, visits, interval: 365 };
  });
  let classDays = 365;
  for (let year = WARM_UP; year < YEARS; year += 1) {
    // What the book knows at the turn of the year.
    const sample = histories.slice(0, KNOWN);
    const group = groupOf(sample);
    classDays = classRule(group, classDays, policy).days ?? classDays;
    const known = {
      group,
      classDays,
      noise: pooledNoise(sample.map(({ visits }) => noiseTerms(driftPoints(visits))).reduce(addNoise)),
    };
    for (const history of histories)
      workYear(name, history, { known, end: addDays(START, (year + 1) * 365), outcome });
  }
  // From the last visit of the beginning to the last one at all: what is under way at the end counts on neither side.
  outcome.years = histories.reduce(
    (sum, { visits }) => sum + daysBetween(visits[WARM_UP].date, visits[visits.length - 1].date) / 365,
    0,
  );
  return outcome;
}

function percent(x: number, n: number): string {
  return n === 0 ? '–' : `${((100 * x) / n).toFixed(1)} %`;
}

type Held = { all: number; line: number; wander: number; trend: number };

/** A setpoint that is never adjusted, looked at once a year: true errors and readings. */
function untouched(
  mix: Mix,
  index: number,
  years: number,
): { truth: number; x: number[]; y: number[]; point: Setpoint } {
  const point = makeSetpoint(mix, index);
  const truth = point.error;
  const [x, y]: [number[], number[]] = [[], []];
  for (let year = 0; year <= years; year += 1) {
    if (year > 0) pass(point, 365);
    x.push((365 * year) / JULIAN_YEAR);
    y.push(Math.round(1000 * (point.error + READ * normal(point.random))) / 1000);
  }
  return { truth, x, y, point };
}

/** How often the limits hold the next reading, and a trend is told, after so many yearly readings. */
function coverage(mix: Mix, count: number): void {
  const kept = new Map<Kind, Held>(kinds.map((kind) => [kind, { all: 0, line: 0, wander: 0, trend: 0 }]));
  for (let index = 0; index < POINTS; index += 1) {
    const { x, y, point } = untouched(mix, index, count);
    const [known, next] = [y.slice(0, count), y[count]];
    const fit = leastSquares(x.slice(0, count), known);
    const line = wanderingLine(x.slice(0, count), known);
    if (!fit || !line) continue;
    const straight = predictionSpan(fit, x[count], 0.9);
    const wander = nextReadingSpan(line, x[count], 0.9);
    const tally = kept.get(point.kind);
    if (!tally) continue;
    tally.all += 1;
    if (straight && next >= straight.low && next <= straight.high) tally.line += 1;
    if (next >= wander.low && next <= wander.high) tally.wander += 1;
    const visits = known.map((value, year) => ({
      date: addDays(START, 365 * year),
      found: { milli: Math.round(1000 * value), relation: '=' as const },
      leftMilli: Math.round(1000 * value),
      event: 'none' as const,
      supplyFlagged: false,
    }));
    const { trend } = driftStatistics(driftPoints(visits), TOLERANCE);
    if (trend === 'rises' || trend === 'falls') tally.trend += 1;
  }
  const sum = [...kept.values()].reduce((a, b) => ({
    all: a.all + b.all,
    line: a.line + b.line,
    wander: a.wander + b.wander,
    trend: a.trend + b.trend,
  }));
  for (const [kind, one] of [['all of them', sum] as const, ...kept])
    console.log(
      `  ${String(count).padEnd(4)}${kind.padEnd(14)}${percent(one.wander, one.all).padStart(8)}${percent(one.line, one.all).padStart(16)}${percent(one.trend, one.all).padStart(14)}   of ${one.all}`,
    );
}

/** Whether the true crossing of a steady creep lies within its limits, after eight yearly readings, where it is dated. */
function crossings(mix: Mix): void {
  let [dated, straight, reading] = [0, 0, 0];
  for (let index = 0; index < POINTS; index += 1) {
    const { truth, x, y, point } = untouched(mix, index, 8);
    if (point.kind !== 'creeping') continue;
    const fit = leastSquares(x.slice(0, 8), y.slice(0, 8));
    const line = wanderingLine(x.slice(0, 8), y.slice(0, 8));
    if (!fit || !line) continue;
    const answer = crossingOf(fit, { low: -1, high: 1 }, 0.95);
    const side = Math.sign(point.rate) as 1 | -1;
    if (answer.kind !== 'crossing' || Math.sign(answer.crossing.limit) !== side) continue;
    dated += 1;
    const crossing = (side - truth) / point.rate;
    if (crossing >= answer.crossing.line.low && crossing <= answer.crossing.line.high) straight += 1;
    const at = (p: number): number | null => reachesAt(line, { limit: side, side, p, within: 50 });
    const [from, to] = [at(0.025), at(0.975)];
    if (from !== null && Math.max(crossing, line.lastX) >= from && (to === null || crossing <= to))
      reading += 1;
  }
  console.log(
    `The true crossing of a creep within the 95 % limits, where it was dated: of the straight line ${percent(straight, dated)}, of the reading that may wander ${percent(reading, dated)}, of ${dated}`,
  );
}

/**
 * Devices that creep with some walk, adjusted as they go: whether they first stand beyond the tolerance within the dates that
 * the book shows, and not before it says to be there, where it dates them.
 */
function adjustedCrossings(mix: Mix): void {
  for (const count of [5, 8, 12]) {
    let [dated, held, early] = [0, 0, 0];
    for (let index = 0; index < POINTS / 4; index += 1) {
      const point = makeSetpoint(mix, index);
      const random = createRandom(SEED * 7_000_003 + index);
      point.kind = 'creeping';
      point.rate = mix.creep * normal(random);
      point.noise = mix.walk[0];
      const visits = [visitNow(point, START)];
      for (let year = 1; year < count; year += 1) {
        pass(point, 365);
        visits.push(visitNow(point, addDays(START, 365 * year)));
      }
      const last = visits[count - 1].date;
      const statistics = driftStatistics(driftPoints(visits), TOLERANCE, { isShown: true });
      const { leaving } = statistics;
      if (leaving.kind !== 'dated' || leaving.by !== 'increments' || leaving.from === null) continue;
      if (Math.abs(point.error) > TOLERANCE / 1000) continue;
      dated += 1;
      let days = 0;
      while (Math.abs(point.error) <= TOLERANCE / 1000 && days < 50 * 365) {
        pass(point, 7);
        days += 7;
      }
      const on = addDays(last, days);
      if (on >= leaving.from && (leaving.to === null || on <= leaving.to)) held += 1;
      if (leaving.earliest !== null && on < leaving.earliest) early += 1;
    }
    console.log(
      `Adjusted, ${count} yearly readings: first beyond the tolerance within the dates shown (95 %) ${percent(held, dated)}, before the day to be there (5 %) ${percent(early, dated)}, of ${dated}`,
    );
  }
}

const started = performance.now();
console.log(
  `${POINTS} setpoints, seed ${SEED}, ${YEARS} years of which ${WARM_UP} to begin with; tolerance 1 °F; target ${policy.target * 100} %`,
);
for (const mix of mixes) {
  console.log(
    `\n${mix.name}: creep ${mix.creep} °F a year (standard deviation), walk ${mix.walk.join(' to ')} °F by the root of a year, a jump in ${mix.yearsAJump} years, ${mix.stuck * 100} % stuck`,
  );
  console.log(`policy              in tolerance  from year ${SETTLED}  visits a year   by kind`);
  for (const name of [
    'every 12 months',
    'every 24 months',
    'staircase',
    'class default alone',
    'recommended',
  ] as const) {
    const outcome = runPolicy(name, mix);
    const byKind = [...outcome.byKind]
      .map(([kind, [inside, all]]) => `${kind} ${percent(inside, all)}`)
      .join(', ');
    console.log(
      `${name.padEnd(20)}${percent(outcome.inside, outcome.visits).padStart(10)}${percent(...outcome.settled).padStart(14)}${(outcome.visits / outcome.years).toFixed(3).padStart(16)}   ${byKind}`,
    );
  }
  console.log('Never adjusted, one reading a year: the next one within its 90 % limits, and a trend told');
  console.log('  n   kind         may wander   straight line    trend told');
  for (const count of [5, 8, 15]) coverage(mix, count);
  crossings(mix);
  adjustedCrossings(mix);
}
console.log(
  `${((performance.now() - started) / 1000).toFixed(0)} s, ${daysBetween(START, addDays(START, YEARS * 365))} days simulated`,
);
