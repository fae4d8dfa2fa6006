/** What a plan asks of the mains that are held for days: in which state each shift finds one, and leaves it. */
import { NEEDS_HIGH, NEEDS_LOW, heldChanges } from './hold.ts';
import type { HeldStep } from './hold.ts';
import { placeIn, priceOf } from './instance.ts';
import type { Assignment, PlanInstance, PlanState } from './instance.ts';

export type HeldState = { main: string; slot: number; found: PlanState; left: PlanState };

const stateOf = (state: number): PlanState => (state === 1 ? 'H' : 'L');

/** The states of one main along the steps to the last. */
export function statesOf(main: string, last: HeldStep | null): HeldState[] {
  const states: HeldState[] = [];
  for (let step = last; step !== null; step = step.before)
    states.push({ main, slot: step.slot, found: stateOf(step.found), left: stateOf(step.left) });
  return states;
}

/** By main and slot with work on it, as the evaluation counts the changes. */
export function heldStates(instance: PlanInstance, assignment: Assignment): HeldState[] {
  const cost = priceOf(instance);
  const states: HeldState[] = [];
  for (const main of instance.mains ?? []) {
    if (main.policy !== 'hold') continue;
    const needs = new Uint8Array(instance.slots.length);
    for (const task of instance.tasks) {
      const place = placeIn(assignment, task.id);
      if (place && !place.portable && task.main === main.id && task.state !== undefined)
        needs[place.slot] |= task.state === 'H' ? NEEDS_HIGH : NEEDS_LOW;
    }
    const start = main.natural?.[0] === 'H' ? 1 : 0;
    const price = (slot: number): number =>
      cost.switchover + (instance.slots[slot].occupied ? cost.switchoverOccupied : 0);
    states.push(...statesOf(main.id, heldChanges(needs, start, price).last));
  }
  return states;
}
