/**
 * Fewest bins that items of whole sizes need at least: Martello and Toth's L2. For every threshold k, items above
 * capacity - k have a bin of their own, those above half of it one each, and what the latter leave free is filled
 * by the items from k up; the rest needs more. Never below the plain sum over capacity. O(n log n + n k).
 */
export function packingBound(items: readonly number[], capacity: number): number {
  const sizes = items.filter((size) => size > 0).sort((a, b) => b - a);
  if (sizes.length === 0) return 0;
  if (capacity <= 0) return sizes.length;
  let best = Math.ceil(sizes.reduce((sum, size) => sum + size, 0) / capacity);
  for (const k of new Set([0, ...sizes.filter((size) => size * 2 <= capacity)])) {
    let alone = 0;
    let halves = 0;
    let free = 0;
    let small = 0;
    for (const size of sizes)
      if (size > capacity - k) alone += 1;
      else if (size * 2 > capacity) {
        halves += 1;
        free += capacity - size;
      } else if (size >= k) small += size;
    best = Math.max(best, alone + halves + Math.max(0, Math.ceil((small - free) / capacity)));
  }
  return best;
}
