/**
 * Closed tours through a few stops: the best one by Held-Karp's recurrence up to 12 stops, above that nearest
 * neighbour, 2-opt and Or-opt with kicks; and the Held-Karp bound by 1-trees under node prices. Distances are
 * whole numbers in a full matrix, row by row; stop 0 is where the tour begins and ends.
 */
import type { Random } from '../random.ts';

export const MOST_EXACT = 12;

/** Length of a closed tour. */
export function tourLength(distance: ArrayLike<number>, count: number, tour: ArrayLike<number>): number {
  let length = 0;
  for (let at = 0; at < tour.length; at += 1)
    length += distance[tour[at] * count + tour[(at + 1) % tour.length]];
  return length;
}

/** The best closed tour by Held and Karp's recurrence, O(n^2 2^n): for up to 12 stops. */
export function exactTour(distance: ArrayLike<number>, count: number): number[] {
  if (count <= 3) return Array.from({ length: count }, (_, stop) => stop);
  const others = count - 1;
  const sets = 1 << others;
  const best = new Float64Array(sets * others).fill(Infinity);
  const from = new Int8Array(sets * others).fill(-1);
  for (let end = 0; end < others; end += 1) best[(1 << end) * others + end] = distance[end + 1];
  for (let set = 1; set < sets; set += 1)
    for (let end = 0; end < others; end += 1) {
      const here = best[set * others + end];
      if (here === Infinity) continue;
      for (let next = 0; next < others; next += 1) {
        if (set & (1 << next)) continue;
        const at = (set | (1 << next)) * others + next;
        const length = here + distance[(end + 1) * count + next + 1];
        if (length < best[at]) {
          best[at] = length;
          from[at] = end;
        }
      }
    }
  let set = sets - 1;
  let end = 0;
  for (let last = 1; last < others; last += 1)
    if (
      best[set * others + last] + distance[(last + 1) * count] <
      best[set * others + end] + distance[(end + 1) * count]
    )
      end = last;
  const tour: number[] = [];
  while (end >= 0) {
    tour.push(end + 1);
    const before = from[set * others + end];
    set &= ~(1 << end);
    end = before;
  }
  return [0, ...tour.toReversed()];
}

function nearestNeighbour(distance: ArrayLike<number>, count: number): number[] {
  const tour = [0];
  const isIn = new Uint8Array(count);
  isIn[0] = 1;
  while (tour.length < count) {
    const here = tour[tour.length - 1];
    let next = -1;
    for (let stop = 0; stop < count; stop += 1)
      if (isIn[stop] === 0 && (next < 0 || distance[here * count + stop] < distance[here * count + next]))
        next = stop;
    isIn[next] = 1;
    tour.push(next);
  }
  return tour;
}

function reverse(tour: number[], from: number, to: number): void {
  for (let a = from, b = to; a < b; a += 1, b -= 1) [tour[a], tour[b]] = [tour[b], tour[a]];
}

/** One pass of 2-opt; true when the tour became shorter. Stop 0 stays first. */
function twoOpt(distance: ArrayLike<number>, count: number, tour: number[]): boolean {
  let isShorter = false;
  for (let a = 0; a < count - 1; a += 1)
    for (let b = a + 1; b < count; b += 1) {
      const after = tour[(b + 1) % count];
      const now = distance[tour[a] * count + tour[a + 1]] + distance[tour[b] * count + after];
      const then = distance[tour[a] * count + tour[b]] + distance[tour[a + 1] * count + after];
      if (then < now) {
        reverse(tour, a + 1, b);
        isShorter = true;
      }
    }
  return isShorter;
}

/** One pass of Or-opt: segments of one to three stops go elsewhere, either way round. */
function orOpt(distance: ArrayLike<number>, count: number, tour: number[]): boolean {
  const d = (a: number, b: number): number => distance[a * count + b];
  let isShorter = false;
  for (let size = 1; size <= 3; size += 1)
    for (let from = 1; from + size <= count; from += 1) {
      const first = tour[from];
      const last = tour[from + size - 1];
      const before = tour[from - 1];
      const after = tour[(from + size) % count];
      const saved = d(before, first) + d(last, after) - d(before, after);
      if (saved <= 0) continue;
      let gain = 0;
      let at = -1;
      let isTurned = false;
      for (let place = 0; place < count; place += 1) {
        if (place >= from - 1 && place < from + size) continue;
        const a = tour[place];
        const b = tour[(place + 1) % count];
        const straight = saved - (d(a, first) + d(last, b) - d(a, b));
        const turned = saved - (d(a, last) + d(first, b) - d(a, b));
        if (straight > gain || turned > gain) {
          gain = Math.max(straight, turned);
          at = place;
          isTurned = turned > straight;
        }
      }
      if (at < 0) continue;
      const segment = tour.splice(from, size);
      if (isTurned) segment.reverse();
      tour.splice(at < from ? at + 1 : at - size + 1, 0, ...segment);
      isShorter = true;
    }
  return isShorter;
}

function descend(distance: ArrayLike<number>, count: number, tour: number[]): void {
  let isShorter = true;
  while (isShorter) {
    isShorter = twoOpt(distance, count, tour);
    isShorter = orOpt(distance, count, tour) || isShorter;
  }
}

/** Cuts a tour into four and joins them another way: what 2-opt and Or-opt cannot undo. */
function kicked(tour: readonly number[], random: Random): number[] {
  const count = tour.length;
  const [a, b, c] = [0, 0, 0].map(() => random.integer(1, count - 1)).sort((x, y) => x - y);
  return [...tour.slice(0, a), ...tour.slice(b, c), ...tour.slice(a, b), ...tour.slice(c)];
}

/** A short closed tour that begins at stop 0: the shortest up to 12 stops, else within about one per cent. */
export function shortTour(distance: ArrayLike<number>, count: number, random: Random, kicks = 400): number[] {
  if (count <= MOST_EXACT) return exactTour(distance, count);
  let best = nearestNeighbour(distance, count);
  descend(distance, count, best);
  let length = tourLength(distance, count, best);
  for (let kick = 0; kick < kicks; kick += 1) {
    const tour = kicked(best, random);
    descend(distance, count, tour);
    const own = tourLength(distance, count, tour);
    if (own <= length) {
      best = tour;
      length = own;
    }
  }
  return best;
}

/**
 * The Held-Karp bound: no closed tour is shorter than the cheapest 1-tree (a spanning tree of all stops but one,
 * and that one's two cheapest edges) under any node prices, less twice the prices. Subgradient steps raise it.
 */
export function oneTreeBound(distance: ArrayLike<number>, count: number, rounds: number): number {
  if (count < 3) return count === 2 ? 2 * distance[1] : 0;
  const price = new Float64Array(count);
  const cost = (a: number, b: number): number => distance[a * count + b] + price[a] + price[b];
  const near = new Float64Array(count);
  const parent = new Int32Array(count);
  const degree = new Int32Array(count);
  const last = new Int32Array(count);
  let best = -Infinity;
  let step = 0;
  for (let stop = 1; stop < count; stop += 1) step = Math.max(step, distance[stop]);
  step /= 4;
  for (let round = 0; round < rounds; round += 1) {
    degree.fill(0);
    near.fill(Infinity);
    const isIn = new Uint8Array(count);
    let total = 0;
    let here = 1;
    isIn[1] = 1;
    for (let joined = 2; joined < count; joined += 1) {
      let next = -1;
      for (let stop = 1; stop < count; stop += 1) {
        if (isIn[stop] === 1) continue;
        const own = cost(here, stop);
        if (own < near[stop]) {
          near[stop] = own;
          parent[stop] = here;
        }
        if (next < 0 || near[stop] < near[next]) next = stop;
      }
      total += near[next];
      isIn[next] = 1;
      degree[next] += 1;
      degree[parent[next]] += 1;
      here = next;
    }
    let first = -1;
    let second = -1;
    for (let stop = 1; stop < count; stop += 1)
      if (first < 0 || cost(0, stop) < cost(0, first)) {
        second = first;
        first = stop;
      } else if (second < 0 || cost(0, stop) < cost(0, second)) second = stop;
    total += cost(0, first) + cost(0, second);
    degree[0] += 2;
    degree[first] += 1;
    degree[second] += 1;
    for (let stop = 0; stop < count; stop += 1) total -= 2 * price[stop];
    best = Math.max(best, total);
    let isTour = true;
    for (let stop = 0; stop < count; stop += 1) {
      const pull = degree[stop] - 2;
      if (pull !== 0) isTour = false;
      price[stop] += step * (0.7 * pull + 0.3 * last[stop]);
      last[stop] = pull;
    }
    if (isTour) break;
    step *= 1 - 6 / rounds;
  }
  return best;
}
