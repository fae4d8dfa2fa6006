/**
 * Share in tolerance over the interval, fitted to results that only say in or out at the time looked at (current-status
 * data): log L = sum g ln R(t) + (n - g) ln(1 - R(t)). Exponential R = exp(-lambda t), with its profile limits, and Weibull
 * R = exp(-(t/eta)^beta); what was inside at an earlier visit is taken from there on, R(t)/R(t0). NASA RP-1342 (1994), appendix D; checked against R glm and survreg. Any unit of time.
 */
import { normalCdf, normalQuantile } from './dist/normal.ts';
import type { Span } from './leastSquares.ts';

/**
 * So many were tested at about one interval after their renewal, and so many of them found in tolerance. `since`: how long
 * after the renewal they were known to be in tolerance still; 0 where nobody looked between.
 */
export type Tested = { interval: number; since?: number; tested: number; inside: number };

export type ExponentialFit = {
  lambda: number;
  /** Standard error by the expected information. */
  error: number;
  span: Span;
  logLikelihood: number;
};

export type WeibullFit = {
  beta: number;
  eta: number;
  logLikelihood: number;
  /** Chance of so much better a fit than the exponential by luck. */ p: number;
};

export type Reliability =
  | { kind: 'fitted'; exponential: ExponentialFit; weibull: WeibullFit | null }
  /** Nothing was found outside: only a bound on the rate, one-sided. */
  | { kind: 'none outside'; lambdaAtMost: number; confidence: number }
  | { kind: 'all outside' }
  | { kind: 'no data' };

/** A group as a fit takes it: the stretch of hazard between two looks. */
type Stretch = { stretch: number; tested: number; inside: number };

function logOf(groups: readonly Stretch[], rate: number): number {
  return groups.reduce((sum, { stretch, tested, inside }) => {
    const h = rate * stretch;
    const outside = tested - inside;
    return sum - inside * h + (outside === 0 ? 0 : outside * Math.log(-Math.expm1(-h)));
  }, 0);
}

/** Where a falling function crosses zero between two ends, by bisection. */
function crossing(low: number, high: number, of: (at: number) => number): number {
  let [a, b] = [low, high];
  for (let round = 0; round < 200 && b - a > 1e-15 * b; round += 1) {
    const middle = (a + b) / 2;
    if (of(middle) > 0) a = middle;
    else b = middle;
  }
  return (a + b) / 2;
}

function fitStretches(groups: readonly Stretch[], confidence: number): ExponentialFit {
  const score = (lambda: number): number =>
    groups.reduce((sum, { stretch, tested, inside }) => {
      const h = lambda * stretch;
      return sum + stretch * ((tested - inside) / Math.expm1(h) - inside);
    }, 0);
  const least = Math.min(...groups.map(({ stretch }) => stretch));
  let high = 1 / least;
  while (score(high) > 0) high *= 2;
  const lambda = crossing(0, high, score);
  const log = (at: number): number => logOf(groups, at);
  const top = log(lambda);
  const drop = normalQuantile((1 + confidence) / 2) ** 2 / 2;
  const above = (at: number): number => log(at) - top + drop;
  let far = lambda * 2;
  while (above(far) > 0) far *= 2;
  const information = groups.reduce(
    (sum, { stretch, tested }) => sum + (tested * stretch ** 2) / Math.expm1(lambda * stretch),
    0,
  );
  return {
    lambda,
    error: 1 / Math.sqrt(information),
    span: { low: crossing(0, lambda, (at) => -above(at)), high: crossing(lambda, far, above) },
    logLikelihood: top,
  };
}

/** For each beta the best eta is one root; beta itself by golden section over a wide range. */
function fitWeibull(groups: readonly Tested[], exponential: ExponentialFit): WeibullFit | null {
  if (new Set(groups.map(({ interval }) => interval)).size < 2) return null;
  const scale = Math.max(...groups.map(({ interval }) => interval));
  const best = (beta: number): { rate: number; log: number } => {
    const bent = groups.map(({ interval, since = 0, tested, inside }) => ({
      stretch: (interval / scale) ** beta - (since / scale) ** beta,
      tested,
      inside,
    }));
    const { lambda, logLikelihood } = fitStretches(bent, 0.5);
    return { rate: lambda, log: logLikelihood };
  };
  const ratio = (Math.sqrt(5) - 1) / 2;
  let [low, high] = [Math.log(0.05), Math.log(20)];
  let [one, other] = [high - ratio * (high - low), low + ratio * (high - low)];
  let [atOne, atOther] = [best(Math.exp(one)).log, best(Math.exp(other)).log];
  while (high - low > 1e-9) {
    if (atOne > atOther) {
      [high, other, atOther] = [other, one, atOne];
      one = high - ratio * (high - low);
      atOne = best(Math.exp(one)).log;
    } else {
      [low, one, atOne] = [one, other, atOther];
      other = low + ratio * (high - low);
      atOther = best(Math.exp(other)).log;
    }
  }
  const beta = Math.exp((low + high) / 2);
  // An end of the range is no maximum: the intervals say nothing of the shape.
  if (beta < 0.051 || beta > 19.5) return null;
  const { rate, log } = best(beta);
  const better = Math.max(0, 2 * (log - exponential.logLikelihood));
  return { beta, eta: scale * rate ** (-1 / beta), logLikelihood: log, p: 2 * normalCdf(-Math.sqrt(better)) };
}

/** Both models. Groups without a test or at no interval are left out. `confidence` is for the limits, one-sided where nothing was found outside. */
export function fitReliability(groups: readonly Tested[], confidence: number = 0.95): Reliability {
  const used = groups.filter(({ interval, since = 0, tested }) => interval > since && tested > 0);
  const tested = used.reduce((sum, one) => sum + one.tested, 0);
  const inside = used.reduce((sum, one) => sum + one.inside, 0);
  if (tested === 0) return { kind: 'no data' };
  if (inside === 0) return { kind: 'all outside' };
  if (inside === tested) {
    const time = used.reduce((sum, { tested: n, interval, since = 0 }) => sum + n * (interval - since), 0);
    return { kind: 'none outside', lambdaAtMost: -Math.log(1 - confidence) / time, confidence };
  }
  const exponential = fitStretches(
    used.map(({ interval, since = 0, ...counts }) => ({ stretch: interval - since, ...counts })),
    confidence,
  );
  return { kind: 'fitted', exponential, weibull: fitWeibull(used, exponential) };
}

/** Interval at which a share R*, 0 to 1, is still in tolerance: -ln(R*)/lambda; with a start below 1, ln(R0/R*)/lambda. */
export function exponentialInterval(lambda: number, target: number, start: number = 1): number {
  return Math.log(start / target) / lambda;
}

/** The same of a Weibull: eta (-ln R*)^(1/beta). */
export function weibullInterval({ beta, eta }: Pick<WeibullFit, 'beta' | 'eta'>, target: number): number {
  return eta * (-Math.log(target)) ** (1 / beta);
}

/** An interval moved to another target, exponential: I ln R2 / ln R1. */
export function rescaledInterval(interval: number, from: number, to: number): number {
  return (interval * Math.log(to)) / Math.log(from);
}

/** Tests without one outside that show a target share with a confidence: ln(1 - confidence)/ln R*, rounded up. */
export function testsToShow(target: number, confidence: number = 0.95): number {
  return Math.ceil(Math.log(1 - confidence) / Math.log(target));
}

/** Share in tolerance on average over an interval at whose end the target is met, exponential: (1 - R*)/(-ln R*). */
export function averageShare(target: number): number {
  return (1 - target) / -Math.log(target);
}
