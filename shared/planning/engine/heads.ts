/**
 * Heads and tails: the earliest slot in which each task can be done in any plan, the latest that leaves what
 * waits for it a chance, and the tasks that no plan can place, each with the constraint that forbids it.
 */
import { PUT_OFF } from '../instance.ts';
import type { PlanTask, UnplacedReason } from '../instance.ts';
import { CLOSED, NO_STATE, PORTABLE_ONLY, opennessOf } from './compile.ts';
import type { Compiled } from './compile.ts';
import { onCycles } from './cycles.ts';
import { IMPOSSIBLE } from './plan.ts';

export type ForcedOut = { reason: UnplacedReason; detail: string };

export type Heads = {
  /** Tasks so that everything stands behind what it waits for; tasks of a cycle are missing. */
  order: Int32Array;
  /** Longest chain of tasks before each one. */
  level: Int32Array;
  /** Earliest slot, by the task's own window and by everything before it. Slots count where forced out. */
  earliest: Int32Array;
  /** Latest slot that leaves every placeable successor one; guidance, since a successor may be left out. */
  latest: Int32Array;
  /** Points for leaving a task out together with all that waits for it; guidance, what waits for two is counted twice. */
  worth: Float64Array;
  /** By task: why no plan can place it, or null. */
  forcedOut: (ForcedOut | null)[];
};

/** Topological order by level, ids within a level; a fixed task waits for nothing, its place is given. Tasks of a cycle are left out. */
function orderOf(c: Compiled): { order: Int32Array; level: Int32Array } {
  const level = new Int32Array(c.tasks);
  const open = new Int32Array(c.tasks);
  for (let task = 0; task < c.tasks; task += 1)
    open[task] = c.frozen[task] >= 0 ? 0 : c.predStart[task + 1] - c.predStart[task];
  const order: number[] = [];
  for (let task = 0; task < c.tasks; task += 1) if (open[task] === 0) order.push(task);
  for (let at = 0; at < order.length; at += 1) {
    const task = order[at];
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1) {
      const next = c.succs[edge];
      if (c.frozen[next] >= 0) continue;
      level[next] = Math.max(level[next], level[task] + 1);
      open[next] -= 1;
      if (open[next] === 0) order.push(next);
    }
  }
  order.sort((a, b) => level[a] - level[b] || a - b);
  return { order: Int32Array.from(order), level };
}

/** Most minutes any able person has in a slot, by skill * slots + slot; -1 = none is at work. */
function longestShifts(c: Compiled): Int32Array {
  const skills = c.able.length / Math.max(1, c.crews);
  const most = new Int32Array(skills * c.slots).fill(-1);
  for (let skill = 0; skill < skills; skill += 1)
    for (let place = 0; place < c.crewSlots; place += 1) {
      const slot = Math.floor(place / c.crews);
      if (c.able[skill * c.crews + (place % c.crews)] === 1 && c.capacity[place] > 0)
        most[skill * c.slots + slot] = Math.max(most[skill * c.slots + slot], c.capacity[place]);
    }
  return most;
}

function standing(c: Compiled, task: number): number {
  return (c.building[task] >= 0 ? c.walkBuilding : 0) + (c.floor[task] >= 0 ? c.walkFloor : 0);
}

/**
 * Least minutes that a task takes up in an otherwise empty slot: its own, one building, one floor, and the two
 * changes when its main would have to be changed there. -1 when it may not be done in that slot.
 */
export function minutesNeeded(c: Compiled, task: number, slot: number): number {
  const mask = opennessOf(c, task, slot);
  if (mask === CLOSED) return -1;
  const walk = standing(c, task);
  const byPortable = c.portable[task] >= 0 ? c.portable[task] + walk : -1;
  if (mask === PORTABLE_ONLY) return byPortable;
  const main = c.main[task];
  let own = c.minutes[task] + walk;
  if (main >= 0 && c.state[task] !== NO_STATE) {
    if (c.holds[main] === 1) own += c.switchMinutes[main];
    else if (c.natural[main * c.slots + slot] !== c.state[task]) own += 2 * c.switchMinutes[main];
  }
  return byPortable >= 0 ? Math.min(own, byPortable) : own;
}

/** Why a task has no slot even alone: the first constraint, in a fixed order, that closes the last one. */
function whyNone(c: Compiled, task: number, most: Int32Array): ForcedOut {
  const one = c.taskList[task];
  const shiftsOf = (slot: number): number => most[c.skill[task] * c.slots + slot];
  if (c.first[task] > c.last[task]) {
    const isOutside =
      c.slots === 0 ||
      (one.earliest ?? -Infinity) > c.day[c.slots - 1] ||
      (one.latest ?? Infinity) < c.day[0];
    return isOutside
      ? { reason: 'window outside the period', detail: `due on ${dayName(c, one.due)}` }
      : {
          reason: 'no open shift in the window',
          detail: `there is no shift from ${dayName(c, one.earliest ?? c.day[0])} to ${dayName(c, one.latest ?? c.day[c.slots - 1])}`,
        };
  }
  const mask = c.mask[task] < 0 ? null : c.masks[c.mask[task]];
  const isOpen = (slot: number): boolean =>
    one.open === undefined || one.open.some(([from, to]) => slot >= from && slot <= to);
  const window = Array.from({ length: c.last[task] - c.first[task] + 1 }, (_, at) => c.first[task] + at);
  const open = window.filter(isOpen);
  if (open.length === 0) return { reason: 'no open shift in the window', detail: one.closedBy ?? '' };
  const isAble = (crew: number): boolean => c.able[c.skill[task] * c.crews + crew] === 1;
  if (c.crews > 0 && !Array.from({ length: c.crews }, (_, crew) => crew).some(isAble))
    return { reason: 'no person with the skill', detail: one.skill ?? '' };
  const staffed = open.filter((slot) => shiftsOf(slot) >= 0);
  if (staffed.length === 0)
    return {
      reason: 'nobody at work in the window',
      detail:
        (one.skill ?? '*') === '*'
          ? 'no person has minutes in its open shifts'
          : `no person with the skill ${one.skill} has minutes in its open shifts`,
    };
  const allowed = staffed.filter((slot) => mask === null || mask[slot] !== CLOSED);
  if (allowed.length === 0)
    return {
      reason: 'main may not be switched',
      detail: `no open shift of its window has ${one.main} ${one.state === 'H' ? 'high' : 'low'}, nor may it be held there${closedToo(one, window.length - open.length)}`,
    };
  const needed = allowed.reduce((least, slot) => Math.min(least, minutesNeeded(c, task, slot)), Infinity);
  const longest = allowed.reduce((most, slot) => Math.max(most, shiftsOf(slot)), 0);
  return {
    reason: 'longer than any shift',
    detail: `it takes ${needed} minutes with walking and switching; the longest shift open to it has ${longest}`,
  };
}

/** What closes shifts of a task's window besides: one of those might be the way out. */
function closedToo({ closedBy }: PlanTask, closed: number): string {
  if (closed === 0 || closedBy === undefined) return '';
  return `; ${closed} ${closed === 1 ? 'shift is' : 'shifts are'} closed to it by ${closedBy}`;
}

function inCycle(c: Compiled, task: number): ForcedOut {
  return { reason: 'precedence cycle', detail: (c.taskList[task].preds ?? []).join(', ') };
}

/** A day for people: its date where the instance has dates, whose day numbers count from 1970-01-01. */
export function dayName(c: Compiled, day: number): string {
  const dated = c.instance.slots.find((slot) => slot.date !== undefined);
  return dated === undefined ? `day ${day}` : new Date(day * 86_400_000).toISOString().slice(0, 10);
}

/** Sweeps forward and back once each: O(tasks x window + arcs). */
export function findHeads(c: Compiled): Heads {
  const { order, level } = orderOf(c);
  const most = longestShifts(c);
  const earliest = new Int32Array(c.tasks).fill(c.slots);
  const latest = new Int32Array(c.tasks).fill(-1);
  const forcedOut = Array.from({ length: c.tasks }, (): ForcedOut | null => null);
  const fits = (task: number, slot: number): boolean => {
    const needed = minutesNeeded(c, task, slot);
    return needed >= 0 && needed <= most[c.skill[task] * c.slots + slot];
  };
  const reached = new Uint8Array(c.tasks);
  const cyclic = onCycles(c);
  for (const task of order) {
    reached[task] = 1;
    if (c.frozen[task] >= 0) {
      earliest[task] = Math.floor(c.frozen[task] / c.crews);
      latest[task] = earliest[task];
      continue;
    }
    if (c.taskList[task].putOff) {
      forcedOut[task] = { reason: PUT_OFF, detail: '' };
      continue;
    }
    if (cyclic[task] === 1) {
      forcedOut[task] = inCycle(c, task);
      continue;
    }
    let from = c.first[task];
    let waitsFor = -1;
    for (let edge = c.predStart[task]; edge < c.predStart[task + 1]; edge += 1) {
      const before = c.preds[edge];
      if (forcedOut[before]) {
        forcedOut[task] = { reason: 'waits for an unplaced task', detail: c.taskList[before].id };
        break;
      }
      if (earliest[before] > from) {
        from = earliest[before];
        waitsFor = before;
      }
    }
    if (forcedOut[task]) continue;
    let slot = from;
    while (slot <= c.last[task] && !fits(task, slot)) slot += 1;
    if (slot > c.last[task]) {
      let alone = c.first[task];
      while (alone <= c.last[task] && !fits(task, alone)) alone += 1;
      forcedOut[task] =
        alone > c.last[task]
          ? whyNone(c, task, most)
          : {
              reason: 'no open shift after what it waits for',
              detail: `${c.taskList[waitsFor].id} cannot be done before ${slotName(c, earliest[waitsFor])}`,
            };
      continue;
    }
    earliest[task] = slot;
    let end = c.last[task];
    while (end > slot && !fits(task, end)) end -= 1;
    latest[task] = end;
  }
  for (let task = 0; task < c.tasks; task += 1) {
    if (reached[task] === 1) continue;
    const { preds = [] } = c.taskList[task];
    const isStuck = (id: string): boolean => reached[c.indexOf.get(id) as number] === 0;
    forcedOut[task] =
      cyclic[task] === 1
        ? inCycle(c, task)
        : { reason: 'waits for an unplaced task', detail: preds.find(isStuck) ?? '' };
  }
  for (const task of order.toReversed())
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1) {
      const next = c.succs[edge];
      if (
        !forcedOut[next] &&
        c.frozen[task] < 0 &&
        latest[next] < latest[task] &&
        latest[next] >= earliest[task]
      )
        latest[task] = latest[next];
    }
  return { order, level, earliest, latest, forcedOut, worth: worthOf(c, order, forcedOut) };
}

function worthOf(c: Compiled, order: Int32Array, forcedOut: readonly (ForcedOut | null)[]): Float64Array {
  const worth = Float64Array.from(c.leaveOut);
  for (const task of order.toReversed())
    for (let edge = c.succStart[task]; edge < c.succStart[task + 1]; edge += 1) {
      const next = c.succs[edge];
      if (!forcedOut[next]) worth[task] = Math.min(IMPOSSIBLE - 1, worth[task] + worth[next]);
    }
  return worth;
}

/** A slot for people: date and shift where the instance has them, else day and index. */
export function slotName(c: Compiled, slot: number): string {
  const { date, shift, day } = c.instance.slots[slot];
  return date === undefined ? `slot ${slot} (day ${day})` : `${date}${shift ? ` ${shift}` : ''}`;
}
