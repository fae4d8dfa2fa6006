/** Places of one task in a plan, over the whole window that `limit` leaves it. */
import { CLOSED, OPEN } from './compile.ts';
import { IMPOSSIBLE } from './plan.ts';
import type { Plan } from './plan.ts';

/** The cheapest place of a task in the whole window that `limit` leaves it, but for one: [price, place, way], place -1 = none. */
export function cheapestPlace(plan: Plan, task: number, but = -1): [number, number, number] {
  const { c } = plan;
  let best = IMPOSSIBLE;
  let at = -1;
  let way = 0;
  for (let place = plan.lowSlot * c.crews; place < (plan.highSlot + 1) * c.crews; place += 1) {
    if (place === but) continue;
    const price = plan.price(task, place);
    if (price >= best) continue;
    best = price;
    at = place;
    way = plan.way;
  }
  return [best, at, way];
}

/** Minutes that each place lacks where nothing else forbids the task, fewest first. After `limit(task)`. */
export function lackingPlaces(plan: Plan, task: number): { place: number; lacks: number }[] {
  const { c } = plan;
  const places: { place: number; lacks: number }[] = [];
  for (let place = plan.lowSlot * c.crews; place < (plan.highSlot + 1) * c.crews; place += 1) {
    const open = plan.openness(task, place);
    if (open === CLOSED) continue;
    const free = c.capacity[place] - plan.load[place];
    const own = open === OPEN ? plan.minutesAdded(task, place, 0) : Infinity;
    const portable = c.portable[task] < 0 ? Infinity : plan.minutesAdded(task, place, 1);
    places.push({ place, lacks: Math.min(own, portable) - free });
  }
  return places.sort((a, b) => a.lacks - b.lacks || a.place - b.place);
}
