/**
 * Even share of minutes by period, in proportion to capacity: whole minutes by largest remainder, ties to the
 * earlier period. Without any capacity every share is 0.
 */
export function evenShares(minutes: number, capacities: readonly number[]): number[] {
  const capacity = capacities.reduce((sum, one) => sum + one, 0);
  if (capacity === 0) return capacities.map(() => 0);
  const shares = capacities.map((one) => Math.floor((minutes * one) / capacity));
  const rest = minutes - shares.reduce((sum, one) => sum + one, 0);
  const order = capacities
    .map((one, index) => ({ index, remainder: (minutes * one) % capacity }))
    .sort((a, b) => b.remainder - a.remainder || a.index - b.index);
  for (const { index } of order.slice(0, rest)) shares[index] += 1;
  return shares;
}
