/**
 * mulberry32, a 32-bit generator that is the same on every engine: only integer operations. Used for tie
 * breaking by seed and for invented data, never for anything that must be hard to guess.
 */
export type Random = {
  /** Next value as an unsigned 32-bit integer. */
  next: () => number;
  /** Integer from `low` to `high`, both included; exact for ranges under 2^21. */
  integer: (low: number, high: number) => number;
};

/** A generator from a 32-bit seed; equal seeds give equal streams. */
export function createRandom(seed: number): Random {
  let state = seed >>> 0;
  function next(): number {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return (t ^ (t >>> 14)) >>> 0;
  }
  return {
    next,
    integer: (low, high) => low + Math.floor((next() * (high - low + 1)) / 4294967296),
  };
}
