/** Tasks that wait for themselves: the strongly connected sets of the precedence graph, by Tarjan's algorithm. */
import type { Compiled } from './compile.ts';

/** 1 for each task on a cycle. Iterative; O(tasks + arcs). */
export function onCycles(c: Compiled): Uint8Array {
  const isOn = new Uint8Array(c.tasks);
  const index = new Int32Array(c.tasks).fill(-1);
  const low = new Int32Array(c.tasks);
  const edge = new Int32Array(c.tasks);
  const isStacked = new Uint8Array(c.tasks);
  const stack: number[] = [];
  let count = 0;
  for (let root = 0; root < c.tasks; root += 1) {
    if (index[root] >= 0) continue;
    const path = [root];
    while (path.length > 0) {
      const task = path[path.length - 1];
      if (index[task] < 0) {
        index[task] = count;
        low[task] = count;
        count += 1;
        edge[task] = c.succStart[task];
        stack.push(task);
        isStacked[task] = 1;
      }
      if (edge[task] < c.succStart[task + 1]) {
        const next = c.succs[edge[task]];
        edge[task] += 1;
        if (next === task) isOn[task] = 1;
        else if (index[next] < 0) path.push(next);
        else if (isStacked[next] === 1) low[task] = Math.min(low[task], index[next]);
        continue;
      }
      path.pop();
      const parent = path.at(-1);
      if (parent !== undefined) low[parent] = Math.min(low[parent], low[task]);
      if (low[task] !== index[task]) continue;
      const members = stack.splice(stack.lastIndexOf(task));
      for (const member of members) {
        isStacked[member] = 0;
        if (members.length > 1) isOn[member] = 1;
      }
    }
  }
  return isOn;
}
