/**
 * Weighted lateness under capacity (B2, the late-set bound). A task that is still open after a workday pays until
 * the next one. After workday t those are open for certain that cannot be done so early; and of the others at
 * least as many minutes as the work due by then exceeds the capacity of some days up to t, the cheapest such set
 * being bounded by the fractional knapsack, rounded up because costs are whole. O(days^2 + days x tasks).
 */
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';
import { leastMinutes, leastVisit } from './counted.ts';

type Late = { minutes: number; weight: number; due: number; from: number; to: number };

/** Distinct days with slots, and the minutes that can be worked on each, less one visit for each person and slot. */
function workdays(
  c: Compiled,
  counted: Uint8Array,
): { days: number[]; minutes: number[]; ofSlot: Int32Array } {
  const days: number[] = [];
  const minutes: number[] = [];
  const ofSlot = new Int32Array(c.slots);
  const visit = leastVisit(c, counted);
  for (let slot = 0; slot < c.slots; slot += 1) {
    if (days.at(-1) !== c.day[slot]) {
      days.push(c.day[slot]);
      minutes.push(0);
    }
    ofSlot[slot] = days.length - 1;
    for (let crew = 0; crew < c.crews; crew += 1)
      minutes[days.length - 1] += Math.max(0, c.capacity[slot * c.crews + crew] - visit);
  }
  return { days, minutes, ofSlot };
}

/** Cheapest points for covering some minutes by tasks that pay `days` each; the late-due ones pay less. */
function knapsack(full: readonly Late[], t: number, days: readonly number[], minutes: number): number {
  const next = days[t + 1] ?? days[t] + 1;
  const open: { cost: number; minutes: number }[] = [];
  for (const late of full)
    if (late.to <= t && late.from <= t)
      open.push({ cost: late.weight * (next - Math.max(days[t], late.due)), minutes: late.minutes });
  open.sort((a, b) => a.cost * b.minutes - b.cost * a.minutes);
  let rest = minutes;
  let sum = 0;
  for (const one of open) {
    if (one.minutes >= rest) return Math.ceil(sum + (one.cost * rest) / one.minutes - 1e-9);
    sum += one.cost;
    rest -= one.minutes;
  }
  return sum;
}

export function lateSetBound(c: Compiled, heads: Heads, counted: Uint8Array): number {
  const { days, minutes, ofSlot } = workdays(c, counted);
  if (days.length === 0) return 0;
  const lates: Late[] = [];
  let bound = 0;
  let at = 0;
  for (let task = 0; task < c.tasks; task += 1) {
    if (counted[task] === 0) continue;
    const due = c.due[task];
    const from = ofSlot[heads.earliest[task]];
    bound += c.weight[task] * Math.max(0, days[from] - due);
    const own = leastMinutes(c, task);
    if (own > 0) lates.push({ minutes: own, weight: c.weight[task], due, from, to: 0 });
  }
  lates.sort((a, b) => a.due - b.due);
  for (const late of lates) {
    while (at < days.length && days[at] <= late.due) at += 1;
    late.to = at - 1;
  }
  const released = new Float64Array(days.length);
  let next = 0;
  for (let t = 0; t < days.length; t += 1) {
    while (next < lates.length && lates[next].to <= t) {
      released[lates[next].from] += lates[next].minutes;
      next += 1;
    }
    let inside = 0;
    let capacity = 0;
    let open = 0;
    for (let from = t; from >= 0; from -= 1) {
      inside += released[from];
      capacity += minutes[from];
      open = Math.max(open, inside - capacity);
    }
    if (open > 0) bound += knapsack(lates.slice(0, next), t, days, open);
  }
  return bound;
}
