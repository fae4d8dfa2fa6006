/**
 * Walking (B5): a building needs at least as many visits as its minutes fill of the longest shift less one visit,
 * and so does a floor. O(tasks).
 */
import type { Compiled } from '../engine/compile.ts';
import { leastMinutes } from './counted.ts';

export function walkBound(c: Compiled, counted: Uint8Array): number {
  const longest = c.capacity.reduce((most, one) => Math.max(most, one), 0);
  const visits = (place: Int32Array, count: number, per: number): number => {
    const minutes = new Float64Array(count);
    for (let task = 0; task < c.tasks; task += 1)
      if (counted[task] === 1 && place[task] >= 0) minutes[place[task]] += leastMinutes(c, task);
    return minutes.reduce((sum, one) => sum + (one > 0 ? Math.ceil(one / per) : 0), 0);
  };
  // A visit to a building need not be one to a floor, so each is measured with its own minutes only.
  const inBuilding = visits(c.building, c.buildings, Math.max(1, longest - c.walkBuilding));
  const onFloor = visits(c.floor, c.floors, Math.max(1, longest - c.walkFloor));
  return c.prices.walk * (c.walkBuilding * inBuilding + c.walkFloor * onFloor);
}
