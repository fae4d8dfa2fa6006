/**
 * The whole search of level 1: build, then improve, several times from different starts where the instance is
 * small. Some starts first plan as if switching a main were dearer than it is: closing a session pays only when
 * its last task has gone, and a search that sees the true price alone never gets there.
 */
import type { Random } from '../random.ts';
import { insertByGroups } from './build.ts';
import type { Compiled } from './compile.ts';
import { planOfFixed } from './fixed.ts';
import { findHeads } from './heads.ts';
import type { Heads } from './heads.ts';
import { improve, restore } from './improve.ts';
import { Plan } from './plan.ts';
import { settle } from './settle.ts';

export type SearchOptions = {
  budget: number;
  random: Random;
  onTick?: (spent: number) => boolean;
};

export type SearchResult = { plan: Plan; evaluations: number; isStopped: boolean };

/** A start with fewer places than this to price is not worth its build. */
const SHORTEST_START = 20_000;

/** Up to so many tasks a search starts several times over. */
const SMALL = 150;
/** So few that opening a session may be the only way to anything better. */
const FEWEST = 12;
const STARTS = 4;
const DEAR = 3;
/** Puts what was promised where it was promised, in order, as far as it may stand there: a start that is never thrown away. */
function keepPromised(plan: Plan, heads: Heads): void {
  const { c } = plan;
  for (const task of heads.order) {
    const place = c.published[task];
    if (place < 0 || plan.place[task] >= 0 || heads.forcedOut[task] || !plan.limit(task)) continue;
    const price = plan.price(task, place);
    if (price < heads.worth[task]) plan.addPriced(task, place, plan.way, price);
  }
}

function started(c: Compiled, heads: Heads): Plan {
  const plan = planOfFixed(c);
  keepPromised(plan, heads);
  insertByGroups(plan, heads, c.tasks > 30_000 ? 40 : 200);
  return plan;
}

/** The same instance with another price of a session. */
function withSessions(c: Compiled, factor: number): Compiled {
  return { ...c, sessionPrice: c.sessionPrice.map((price) => price * factor) };
}

/** So many points more for leaving out what a fixed task waits for: the plan would not stand without it. */
const MISSED = 1_000_000;

/** The same instance with what fixed tasks wait for, however indirectly, dearer to leave out; itself when there is none. */
function withNeeded(c: Compiled, heads: Heads): Compiled {
  const isNeeded = new Uint8Array(c.tasks);
  for (const task of heads.order.toReversed())
    if (c.frozen[task] >= 0 || isNeeded[task] === 1)
      for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1)
        if (c.frozen[c.preds[edge]] < 0) isNeeded[c.preds[edge]] = 1;
  if (!isNeeded.includes(1)) return c;
  return { ...c, leaveOut: c.leaveOut.map((price, task) => price + isNeeded[task] * MISSED) };
}

/** Most points a step may make the plan dearer at the start: more where there is budget to cool down from it. */
function startThreshold(c: Compiled, budget: number): number {
  if (c.tasks <= FEWEST) return Math.max(20, ...c.sessionPrice);
  return c.tasks <= SMALL ? 20 : Math.min(12, Math.floor(budget / (300 * c.tasks)));
}

/** The best plan found within a budget of places priced. */
export function search(c: Compiled, heads: Heads, options: SearchOptions): SearchResult {
  const dearer = withNeeded(c, heads);
  if (dearer === c) return searchOf(c, heads, options);
  const found = searchOf(dearer, findHeads(dearer), options);
  const plan = new Plan(c);
  restore(plan, found.plan.place, found.plan.portable);
  if (!found.isStopped) settle(plan, heads);
  return { ...found, plan };
}

function searchOf(c: Compiled, heads: Heads, { budget, random, onTick }: SearchOptions): SearchResult {
  const starts = c.tasks <= SMALL ? Math.max(1, Math.min(STARTS, Math.floor(budget / SHORTEST_START))) : 1;
  const share = Math.floor(budget / starts);
  const threshold = startThreshold(c, budget);
  let spent = 0;
  let best: Plan | null = null;
  let isStopped = false;
  const tick = (within: number): boolean => onTick?.(spent + within) === true;
  for (let start = 0; start < starts && !isStopped; start += 1) {
    let plan: Plan;
    let used = 0;
    if (start % 2 === 1) {
      const dear = started(withSessions(c, DEAR), heads);
      isStopped = improve(dear, heads, {
        budget: (share >> 1) - dear.evaluations,
        random,
        threshold,
        onTick: tick,
      });
      used = dear.evaluations;
      plan = new Plan(c);
      restore(plan, dear.place, dear.portable);
    } else plan = started(c, heads);
    spent += used;
    if (!isStopped)
      isStopped = improve(plan, heads, {
        budget: share - used - plan.evaluations,
        random,
        threshold: start % 2 === 1 ? threshold >> 1 : threshold,
        onTick: tick,
      });
    spent += plan.evaluations;
    if (best === null || plan.total < best.total) best = plan;
  }
  if (!isStopped) settle(best as Plan, heads);
  return { plan: best as Plan, evaluations: spent, isStopped };
}
