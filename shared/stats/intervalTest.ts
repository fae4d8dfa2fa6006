/** The interval test (method A3 of NCSLI RP-1): does the share found in tolerance contradict the target? */
import { clopperPearson } from './binomial.ts';
import type { Span } from './leastSquares.ts';
import { rescaledInterval } from './reliability.ts';

export type IntervalTest = {
  answer: 'keep' | 'shorten' | 'extend';
  /** Limits of the share at the confidence that shortening asks for, and extending. */
  shorten: Span;
  extend: Span;
  /** The interval that would meet the target if reliability fell exponentially, within half and twice the present one. */
  scaled: number;
};

/** Our policy: an 80 % limit is enough to shorten, 95 % is asked for to extend. */
export const SHORTEN_AT = 0.8;
export const EXTEND_AT = 0.95;

/** `inside` of `tested` in tolerance at about `interval`, target a share; any unit of time. */
export function intervalTest(
  { inside, tested, interval }: { inside: number; tested: number; interval: number },
  target: number,
): IntervalTest {
  const shorten = clopperPearson(inside, tested, SHORTEN_AT);
  const extend = clopperPearson(inside, tested, EXTEND_AT);
  const answer = shorten.high < target ? 'shorten' : extend.low > target ? 'extend' : 'keep';
  return { answer, shorten, extend, scaled: scaledInterval({ inside, tested, interval }, target) };
}

/** Exponential scaling I ln R* / ln(g/n), within half and twice; all found in tolerance gives twice, none of them half. */
export function scaledInterval(
  { inside, tested, interval }: { inside: number; tested: number; interval: number },
  target: number,
): number {
  if (inside === tested) return 2 * interval;
  if (inside === 0) return interval / 2;
  const scaled = rescaledInterval(interval, inside / tested, target);
  return Math.min(2 * interval, Math.max(interval / 2, scaled));
}
