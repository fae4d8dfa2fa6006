/**
 * Evenness against lateness (B3): a task placed after its last cheap day pays in lateness, per minute, at least
 * what unevenness would cost; so the minutes that must lie inside some periods, less their even shares, cost
 * `uneven` each one way or the other. Windows of periods that do not overlap add up. O(tasks + periods^2).
 */
import { firstSlotFrom } from '../engine/compile.ts';
import type { Compiled } from '../engine/compile.ts';
import type { Heads } from '../engine/heads.ts';
import { leastMinutes } from './counted.ts';

export function evennessBound(c: Compiled, heads: Heads, counted: Uint8Array): number {
  const periods = c.target.length;
  const { uneven } = c.prices;
  for (let slot = 1; slot < c.slots; slot += 1) if (c.period[slot] < c.period[slot - 1]) return 0;
  if (uneven === 0 || periods === 0 || c.period[0] < 0) return 0;
  const minutes = Array.from({ length: periods }, () => new Float64Array(periods));
  for (let task = 0; task < c.tasks; task += 1) {
    if (counted[task] === 0) continue;
    const own = leastMinutes(c, task);
    const weight = c.weight[task];
    // With two ways of different length the longer one could be the late one: its price per minute still holds for `own`.
    const cheap = weight > 0 ? c.due[task] + Math.ceil((uneven * own) / weight) - 1 : Infinity;
    const to = Math.max(
      heads.earliest[task],
      Math.min(c.last[task], cheap === Infinity ? c.slots : firstSlotFrom(c.day, cheap + 1) - 1),
    );
    // What cannot be done before its last cheap day pays lateness for certain: no window for it.
    if (weight > 0 && cheap < c.day[heads.earliest[task]]) continue;
    minutes[c.period[heads.earliest[task]]][c.period[to]] += own;
  }
  const best = new Float64Array(periods + 1);
  for (let to = 0; to < periods; to += 1) {
    best[to + 1] = best[to];
    let inside = 0;
    let share = 0;
    for (let from = to; from >= 0 && c.target[from] >= 0; from -= 1) {
      share += c.target[from];
      for (let end = from; end <= to; end += 1) inside += minutes[from][end];
      best[to + 1] = Math.max(best[to + 1], best[from] + uneven * Math.max(0, inside - share));
    }
  }
  return best[periods];
}
