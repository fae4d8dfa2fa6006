/**
 * Changes of a main that is held where it was left (a shut building): the fewest, over the states that the work
 * of each slot needs. A slot that needs both states is entered in one and left in the other.
 */

/** Bits of what a slot needs. */
export const NEEDS_LOW = 1;
export const NEEDS_HIGH = 2;

/** A slot with work, the state in which it finds the main and that in which it leaves it (0 low, 1 high), and the step before. */
export type HeldStep = { slot: number; found: number; left: number; before: HeldStep | null };

export type HeldChanges = {
  cost: number;
  changes: number;
  changesOccupied: number;
  /** The last slot with work; null = there is none. */
  last: HeldStep | null;
};

/**
 * Cheapest changes over the slots, by a two-state shortest path in O(slots). `needs` has one entry a slot (bits
 * above, 0 = nothing); `price(slot)` is the price of one change there; `start` is 0 for low, 1 for high. A change
 * is made in a slot with work: before it, or, where that is cheaper, by the last of the slot before it. Of equal
 * prices the fewest changes, and of those the state the main would stay in.
 */
export function heldChanges(
  needs: ArrayLike<number>,
  start: number,
  price: (slot: number) => number,
  isOccupied: (slot: number) => boolean = () => false,
): HeldChanges {
  const none: HeldChanges = { cost: 0, changes: 0, changesOccupied: 0, last: null };
  let best: (HeldChanges | null)[] = start === 0 ? [none, null] : [null, none];
  for (let slot = 0; slot < needs.length; slot += 1) {
    const need = needs[slot];
    if (need === 0) continue;
    const each = price(slot);
    const occupied = isOccupied(slot) ? 1 : 0;
    const next: (HeldChanges | null)[] = [null, null];
    for (const from of [0, 1]) {
      const held = best[from];
      if (held === null) continue;
      for (const to of [from, 1 - from]) {
        const changes =
          need === (NEEDS_LOW | NEEDS_HIGH)
            ? from === to
              ? 2
              : 1
            : (from === need - 1 ? 0 : 1) + (to === need - 1 ? 0 : 1);
        const cost = held.cost + changes * each;
        const known = next[to];
        const all = held.changes + changes;
        if (known === null || cost < known.cost || (cost === known.cost && all < known.changes))
          next[to] = {
            cost,
            changes: all,
            changesOccupied: held.changesOccupied + changes * occupied,
            last: { slot, found: from, left: to, before: held.last },
          };
      }
    }
    best = next;
  }
  return best.reduce<HeldChanges>(
    (low, one) =>
      one !== null && (one.cost < low.cost || (one.cost === low.cost && one.changes < low.changes))
        ? one
        : low,
    best[0] ?? (best[1] as HeldChanges),
  );
}
