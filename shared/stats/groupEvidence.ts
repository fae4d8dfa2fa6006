/** What the results of a group of like points say of its interval. */
import { JULIAN_YEAR, addDays } from '../dates/plainDate.ts';
import { fitReliability } from './reliability.ts';
import type { Reliability, Tested } from './reliability.ts';
import type { RenewalResult } from './renewals.ts';

export type GroupEvidence = {
  name: string;
  tested: number;
  inside: number;
  /** Those of the two years up to the newest result: how the intervals in force do. */
  recent: { tested: number; inside: number };
  /** Median days between two looks. */
  interval: number;
  reliability: Reliability;
};

/** Results are pooled by month: a fit over single days would say the same, and take a thousand times as long. */
const MONTH = JULIAN_YEAR / 12;
const RECENT_DAYS = 730;

function byMonth(results: readonly RenewalResult[]): Tested[] {
  const months = new Map<string, Tested>();
  for (const { since, days, isInside } of results) {
    const from = Math.round(since / MONTH);
    const to = Math.max(from + 1, Math.round(days / MONTH));
    const key = `${from} ${to}`;
    const held = months.get(key) ?? { interval: to * MONTH, since: from * MONTH, tested: 0, inside: 0 };
    held.tested += 1;
    if (isInside) held.inside += 1;
    months.set(key, held);
  }
  return [...months.values()].toSorted((a, b) => a.interval - b.interval);
}

/** The evidence of a group from the results of its members, days; a year where nothing was looked at twice. */
export function groupEvidence(name: string, results: readonly RenewalResult[]): GroupEvidence {
  const newest = results.reduce((latest, { on }) => (on > latest ? on : latest), '');
  const since = newest === '' ? '' : addDays(newest, -RECENT_DAYS);
  const recent = results.filter(({ on }) => on > since);
  const days = results.map((one) => one.days - one.since).toSorted((a, b) => a - b);
  return {
    name,
    tested: results.length,
    inside: results.filter(({ isInside }) => isInside).length,
    recent: { tested: recent.length, inside: recent.filter(({ isInside }) => isInside).length },
    interval: days[Math.floor(days.length / 2)] ?? 365,
    reliability: fitReliability(byMonth(results)),
  };
}
