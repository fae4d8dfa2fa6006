/**
 * A recommended interval with its reasons (a choice of this program, after ILAC-G24 / OIML D 10 and NCSLI RP-1): every
 * rule that its data allow is worked out and told; the shortest of those that count is taken, held within the policy, and
 * put on the grid of the rounds. The group counts where the point's own record gives no date. Shortening applies at once, extending one step at a time. Days throughout.
 */
import { JULIAN_YEAR, daysBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';
import type { DriftStatistics } from './driftStatistics.ts';
import type { GroupEvidence } from './groupEvidence.ts';
import { afterStep, incrementalResponse, simpleResponse, staircaseStep } from './intervalSteps.ts';
import type { StaircaseStep } from './intervalSteps.ts';
import { intervalTest, scaledInterval } from './intervalTest.ts';
import { averageShare, exponentialInterval, weibullInterval } from './reliability.ts';

export type IntervalPolicy = {
  /** Share that shall be found in tolerance at the end of an interval. */
  target: number;
  leastDays: number;
  mostDays: number;
};

/** Intervals in days: whole months from 3 to 60, rounded down, so that a year is 365 days. */
export const INTERVAL_GRID: readonly number[] = Array.from({ length: 58 }, (_, index) =>
  Math.floor(((index + 3) * JULIAN_YEAR) / 12),
);
const STAIRCASE = { share: 0.8, extend: 1.25, shorten: 0.5 } as const;
/** Group models ask for so many results, and so many found outside. */
export const GROUP_NEEDS = { tested: 20, outside: 3 } as const;

/** The record of like points moves what rules are held to from so many results on, by so much at most. */
const RECENT_FROM = 50;
const ALLOWED = 2.3;
const LEAST = 0.6;
const MOST = 1.5;

export type Evidence = {
  presentDays: number;
  toleranceMilli: number;
  statistics: DriftStatistics;
  /** As-found results in order of time; null where a bound does not say. */
  results: readonly { errorMilli: number; isOutside: boolean | null }[];
  lastDoneOn: PlainDate | null;
  /** Its interval was changed since its last reading: that reading is answered already. */
  isAnswered: boolean;
  group: GroupEvidence | null;
};

export type RuleName =
  | 'policy'
  | 'staircase'
  | 'line'
  | 'first passage'
  | 'group model'
  | 'group test'
  | 'simple response'
  | 'incremental response';

export type RuleAnswer = {
  rule: RuleName;
  /** Null where the rule gives no interval. */
  days: number | null;
  /** False for what is told for comparison only. */
  counts: boolean;
  words: string;
};

export type Recommendation = {
  days: number;
  presentDays: number;
  /** The rule whose interval was the shortest, and what held it back after. */
  limitedBy: RuleName;
  heldBy: 'least' | 'most' | 'one step' | null;
  rules: RuleAnswer[];
  words: string;
};

function months(days: number): string {
  return `${(days / (JULIAN_YEAR / 12)).toFixed(1)} months`;
}

function percent(share: number): string {
  return `${Math.round(1000 * share) / 10} %`;
}

/**
 * The share that each rule is held to, for a target of the whole. Shortening at once, extending by steps and rounding down
 * keep more in tolerance than any rule alone; by how much depends on how the site drifts. So the share found outside that a
 * rule may allow is 2.3 times the target's where nothing is known, and as much more or less, within `LEAST` and `MOST`, as
 * the like points' last two years were better or worse than asked for. The figures come from the simulation study
 * (docs/intervals.md), not from any standard.
 */
export function ruleTarget(target: number, recent: { tested: number; inside: number } | null = null): number {
  const allowed = 1 - target;
  const isKnown = recent !== null && recent.tested >= RECENT_FROM;
  const outside = isKnown ? Math.max(0.5, recent.tested - recent.inside) / recent.tested : allowed;
  const factor = Math.min(MOST, Math.max(LEAST, allowed / outside));
  return Math.max(0.5, 1 - ALLOWED * factor * allowed);
}

/** The longest interval of the grid that is not above `days`; below the grid whole days. */
export function onGrid(days: number): number {
  return INTERVAL_GRID.findLast((one) => one <= days) ?? Math.max(1, Math.floor(days));
}

function staircase(
  { results, toleranceMilli, presentDays, isAnswered, statistics }: Evidence,
  policy: IntervalPolicy,
): RuleAnswer {
  if (isAnswered)
    return {
      rule: 'staircase',
      days: presentDays,
      counts: true,
      words: 'The last reading is answered already: its interval was changed since.',
    };
  const rule = { ...STAIRCASE, least: policy.leastDays, most: policy.mostDays };
  const steps = results.flatMap(({ errorMilli, isOutside }) =>
    isOutside === null ? [] : [isOutside ? 'shorten' : staircaseStep(errorMilli, toleranceMilli, rule)],
  ) as StaircaseStep[];
  // What was left outside will be found outside, whatever it was found as.
  const isLeftOutside = statistics.leaving.kind === 'outside now';
  const step = isLeftOutside ? 'shorten' : (steps.at(-1) ?? 'keep');
  // The interval in force did not follow each result: those at the end that say the same are taken together.
  const same = step === 'extend' ? steps.length - 1 - steps.findLastIndex((one) => one !== step) : 1;
  let days = presentDays;
  for (let count = 0; count < same; count += 1) days = afterStep(days, step, rule);
  // The ends of the policy turn no step round.
  days =
    step === 'shorten'
      ? Math.min(days, presentDays)
      : step === 'extend'
        ? Math.max(days, presentDays)
        : presentDays;
  const what = {
    extend: 'was within 80 % of its tolerance',
    keep: 'was between 80 % and its tolerance',
    shorten: 'was outside',
  };
  if (isLeftOutside)
    return {
      rule: 'staircase',
      days,
      counts: true,
      words: `It stands outside its tolerance: ${days === presentDays ? 'keep' : 'shorten'} ${months(presentDays)}${days === presentDays ? '' : ` to ${months(days)}`}, and see to it before.`,
    };
  return {
    rule: 'staircase',
    days,
    counts: true,
    words: `The last ${same > 1 ? `${same} readings ` : 'reading '}${same > 1 ? what[step].replace('was', 'were').replace('its', 'their') : what[step]}: ${days === presentDays ? 'keep' : days > presentDays ? 'extend' : 'shorten'} ${months(presentDays)}${days === presentDays ? '' : ` to ${months(days)}`}.`,
  };
}

function forecast({ statistics, lastDoneOn, group }: Evidence, policy: IntervalPolicy): RuleAnswer | null {
  const { leaving, lastOn, firstOn } = statistics;
  if (leaving.kind !== 'dated' || lastDoneOn === null || firstOn === null || lastOn === null) return null;
  // No further ahead than the readings reach back.
  const reach = daysBetween(firstOn, lastOn);
  const { earliest } = leaving;
  const ahead = earliest === null ? reach : Math.min(daysBetween(lastDoneOn, earliest), reach);
  const days = Math.max(policy.leastDays, ahead);
  const sure = percent(ruleTarget(policy.target, group?.recent));
  return {
    rule: leaving.by === 'line' ? 'line' : 'first passage',
    days,
    counts: true,
    words: forecastWords(statistics, { by: leaving.by, earliest, lastDoneOn, sure }),
  };
}

function forecastWords(
  { count, rate }: DriftStatistics,
  about: { by: 'line' | 'increments'; earliest: PlainDate | null; lastDoneOn: PlainDate; sure: string },
): string {
  const { by, earliest, lastDoneOn, sure } = about;
  const readings = by === 'line' ? `${count} readings` : `${rate?.count ?? 0} drifts`;
  const subject = by === 'line' ? 'its line' : 'its rate between adjustments';
  if (earliest === null) return `By ${subject} ${sure} would be in tolerance for fifty years (${readings}).`;
  return earliest <= lastDoneOn
    ? `By ${subject}, with its scatter, fewer than ${sure} would be in tolerance already (${readings}).`
    : `By ${subject} ${sure} would still be in tolerance on ${earliest} (${readings}).`;
}

/** So many results without one outside extend an interval at the confidence that the test asks for. */
function testsToExtend(target: number, from: number): number {
  let count = Math.max(1, from);
  while (intervalTest({ inside: count, tested: count, interval: 1 }, target).answer !== 'extend') count += 1;
  return count;
}

function noneOutsideWords(tested: number, target: number): string {
  const wanted = testsToExtend(target, tested);
  return wanted > tested ? ` ${wanted} without one outside would extend it.` : '';
}

/**
 * What a group of like points says; null without one. As one rule among others it is held to less than the target, as they
 * are; alone (`isAlone`), as for the default of a class, to the target itself.
 */
export function groupRule(
  { group, presentDays }: Pick<Evidence, 'group' | 'presentDays'>,
  { target }: Pick<IntervalPolicy, 'target'>,
  isAlone: boolean = false,
): RuleAnswer | null {
  if (group === null || group.tested === 0) return null;
  const { reliability, tested, inside, name } = group;
  const outside = tested - inside;
  const seen = `${inside} of ${tested} results of ${name} were in tolerance`;
  if (reliability.kind === 'fitted' && tested >= GROUP_NEEDS.tested && outside >= GROUP_NEEDS.outside) {
    const { exponential, weibull } = reliability;
    // A rate that grows with age is followed where it is more than chance. One that falls says that fast and slow points
    // stand in one group, and nothing of any of them.
    const aged = weibull !== null && weibull.p < 0.05 && weibull.beta > 1 ? weibull : null;
    // A fit is stretched by no good years: they are in it.
    const held = isAlone ? target : Math.max(ruleTarget(target), ruleTarget(target, group.recent));
    const days = aged ? weibullInterval(aged, held) : exponentialInterval(exponential.lambda, held);
    const [low, high] = [exponential.span.high, exponential.span.low].map((rate) =>
      exponentialInterval(rate, held),
    );
    // What the limits allow is not contradicted; of an aged fit a tenth of the interval is taken for them.
    const isWithin = aged
      ? Math.abs(presentDays - days) <= days / 10
      : presentDays >= low && presentDays <= high;
    const limits = aged
      ? `by a rate that grows with age (Weibull, shape ${aged.beta.toFixed(2)})`
      : `95 %: ${months(low)} to ${months(high)}`;
    return {
      rule: 'group model',
      days: isWithin ? presentDays : days,
      counts: true,
      words: `${seen}. ${isAlone ? `${percent(held)} at the end of the interval is` : `For ${percent(target)} of the whole a rule is held to ${percent(held)} at the end of the interval:`} met at ${months(days)} (${limits})${aged ? '' : `, ${percent(averageShare(held))} on average`}.`,
    };
  }
  const test = intervalTest({ inside, tested, interval: group.interval }, target);
  const enough = outside === 0 ? noneOutsideWords(tested, target) : '';
  return {
    rule: 'group test',
    days: test.answer === 'keep' ? presentDays : test.scaled,
    counts: true,
    words: `${seen} at about ${months(group.interval)}: ${test.answer === 'keep' ? 'that does not contradict the target, keep' : test.answer} (limits ${percent(test.shorten.low)} to ${percent(test.shorten.high)} at 80 %).${enough}`,
  };
}

/** RP-1 calls both weak, because they answer single results; they are told, and do not count. */
function reactive({ results, presentDays }: Evidence, { target }: IntervalPolicy): RuleAnswer[] {
  const known = results.flatMap(({ isOutside }) => (isOutside === null ? [] : [!isOutside]));
  if (known.length < 2) return [];
  const one = simpleResponse(presentDays, known.slice(-1), { extension: 0.1, target })[0];
  const other = incrementalResponse(presentDays, known, target).at(-1) ?? presentDays;
  return [
    {
      rule: 'simple response',
      days: one,
      counts: false,
      words: `Simple response (A1) would say ${months(one)}.`,
    },
    {
      rule: 'incremental response',
      days: other,
      counts: false,
      words: `Incremental response (A2) over its ${known.length} results would say ${months(other)}.`,
    },
  ];
}

function foundWords(recent: { tested: number; inside: number }, found: number, fitted: number): string {
  return found < fitted
    ? ` In the last two years ${recent.inside} of ${recent.tested} were in tolerance: that alone would say ${months(found)}.`
    : '';
}

/**
 * What a class's results say of its default, one step at a time: by the fit, held to the target itself, and by what was
 * found lately. Days null
 * where they are too few.
 */
export function classRule(
  group: GroupEvidence,
  presentDays: number,
  policy: IntervalPolicy,
): { days: number | null; words: string } {
  const { tested, inside, reliability } = group;
  const seen = `${inside} of ${tested} results in tolerance`;
  if (reliability.kind !== 'fitted' || tested < GROUP_NEEDS.tested || tested - inside < GROUP_NEEDS.outside)
    return {
      days: null,
      words: `${seen}: a class is fitted from ${GROUP_NEEDS.tested} results and ${GROUP_NEEDS.outside} outside on`,
    };
  const answer = groupRule({ group, presentDays }, policy, true);
  // Fast and slow points in one class make a fit see too much: what the last two years found at the present interval counts too.
  const { recent } = group;
  const found =
    recent.tested < RECENT_FROM
      ? Infinity
      : scaledInterval({ ...recent, interval: presentDays }, policy.target);
  const wanted = Math.min(answer?.days ?? presentDays, found);
  const stepped = Math.min(wanted, presentDays * STAIRCASE.extend);
  const days = onGrid(Math.min(policy.mostDays, Math.max(policy.leastDays, stepped)));
  const held = wanted > stepped && stepped < policy.mostDays ? ' One step at a time.' : '';
  return {
    days: wanted === presentDays ? presentDays : days,
    words: `${answer?.words ?? seen}${foundWords(recent, found, answer?.days ?? presentDays)}${held}`,
  };
}

/** The recommendation for one test point. */
export function recommendInterval(evidence: Evidence, policy: IntervalPolicy): Recommendation {
  const { presentDays, results } = evidence;
  const known = results.filter(({ isOutside }) => isOutside !== null).length;
  const dated = known >= 5 ? forecast(evidence, policy) : null;
  const own: RuleAnswer[] = dated
    ? [dated]
    : known >= 2 || evidence.statistics.leaving.kind === 'outside now'
      ? [staircase(evidence, policy)]
      : [
          {
            rule: 'policy',
            days: presentDays,
            counts: true,
            words: `Too few results (${known}): the policy’s ${months(presentDays)} stand.`,
          },
        ];
  // Its own record, where it dates the crossing, says more of it than the others do.
  const ofGroup = groupRule(evidence, policy);
  const group = ofGroup && { ...ofGroup, counts: dated === null };
  const rules = [...own, ...(group ? [group] : []), ...reactive(evidence, policy)];
  const counting = rules.filter(({ counts, days }) => counts && days !== null);
  const shortest = counting.reduce((best, one) => ((one.days ?? 0) < (best.days ?? 0) ? one : best));
  const wanted = shortest.days ?? presentDays;
  // Its own dated record may double an interval; everything else extends it by a quarter.
  const stepUp = evidence.isAnswered
    ? presentDays
    : dated
      ? 2 * presentDays + 1
      : presentDays * STAIRCASE.extend;
  // What is to be shortened is not lengthened by the least that the policy allows.
  const least = wanted <= presentDays ? Math.min(policy.leastDays, presentDays) : policy.leastDays;
  const within = Math.min(policy.mostDays, Math.max(least, Math.min(wanted, stepUp)));
  const gridded = onGrid(within);
  // An interval that is to be kept is not shortened by the grid.
  const days = within >= presentDays && gridded < presentDays ? presentDays : gridded;
  const heldBy =
    wanted < least
      ? 'least'
      : wanted > within + 1e-9
        ? stepUp < policy.mostDays
          ? 'one step'
          : 'most'
        : null;
  const change =
    days === presentDays
      ? `Keep ${months(days)}`
      : `${days < presentDays ? 'Shorten' : 'Extend'} ${months(presentDays)} to ${months(days)}`;
  const held = {
    least: ' (the least that the policy allows)',
    most: ' (the most that the policy allows)',
    'one step': ' (one step at a time)',
  };
  return {
    days,
    presentDays,
    limitedBy: shortest.rule,
    heldBy,
    rules,
    words: `${change}${heldBy === null ? '' : held[heldBy]}: ${shortest.words}`,
  };
}
