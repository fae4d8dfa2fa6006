/** Tasks by a key of each, as one flat list and where every key's part of it begins. */
export type Groups = { start: Int32Array; list: Int32Array };

/** Groups the tasks that `keep` keeps, in order; a key of -1 is in no group. */
export function groupBy(keys: Int32Array, count: number, keep: (task: number) => boolean): Groups {
  const start = new Int32Array(count + 1);
  for (let task = 0; task < keys.length; task += 1)
    if (keys[task] >= 0 && keep(task)) start[keys[task] + 1] += 1;
  for (let key = 0; key < count; key += 1) start[key + 1] += start[key];
  const fill = start.slice();
  const list = new Int32Array(start[count]);
  for (let task = 0; task < keys.length; task += 1)
    if (keys[task] >= 0 && keep(task)) {
      list[fill[keys[task]]] = task;
      fill[keys[task]] += 1;
    }
  return { start, list };
}
