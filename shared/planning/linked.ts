/** Items together that share a key, however indirectly; what has no key is alone. Groups, and items in them, in the order given. */
export function linked<T, K>(items: readonly T[], keysOf: (item: T) => Iterable<K>): T[][] {
  const group = new Map<T, T[]>();
  const ownerOf = new Map<K, T>();
  for (const item of items) {
    group.set(item, [item]);
    for (const key of keysOf(item)) {
      const owner = ownerOf.get(key);
      if (owner === undefined) ownerOf.set(key, item);
      else join(group, owner, item);
    }
  }
  const groupOf = Map.groupBy(items, (item) => group.get(item) as T[]);
  return [...groupOf.values()];
}

function join<T>(group: Map<T, T[]>, one: T, other: T): void {
  const to = group.get(one) as T[];
  const from = group.get(other) as T[];
  if (to === from) return;
  to.push(...from);
  for (const item of from) group.set(item, to);
}
