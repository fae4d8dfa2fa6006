/**
 * `npm run bench:planner`: how long the planner takes and how good it is, on instances made by seed. Prints
 * figures; asserts nothing. `-- --sizes 1000,10000 --seeds 1 --loads 85` narrows it down.
 */
import { parseArgs } from 'node:util';
import { checkAssignment, checkVisits } from '../shared/planning/check.ts';
import { drawRound, normalBudget } from '../shared/planning/drawRound.ts';
import { planOf } from '../shared/planning/engine/assignment.ts';
import { compile } from '../shared/planning/engine/compile.ts';
import { findHeads } from '../shared/planning/engine/heads.ts';
import { explainTask, priceMove } from '../shared/planning/explain.ts';
import { assignmentHash } from '../shared/planning/hash.ts';
import type { DrawnRound, PlanInstance } from '../shared/planning/instance.ts';
import { redrawRound } from '../shared/planning/redraw.ts';
import { generateInstance, promised } from '../tests/support/generateInstance.ts';

const { values } = parseArgs({
  options: {
    sizes: { type: 'string', default: '100,1000,10000,100000' },
    seeds: { type: 'string', default: '1,2,3' },
    loads: { type: 'string', default: '85,105' },
    evaluations: { type: 'string' },
  },
});
const numbers = (text: string): number[] => text.split(',').map(Number);

function timed<T>(work: () => T): [T, number] {
  const start = performance.now();
  return [work(), Math.round(performance.now() - start)];
}

/** Explains every task of a plan; answers milliseconds. */
function explainAll(instance: PlanInstance, drawn: DrawnRound): { all: number; move: number } {
  const c = compile(instance);
  const heads = findHeads(c);
  const plan = planOf(c, drawn.assignment);
  const [, all] = timed(() => {
    for (let task = 0; task < c.tasks; task += 1)
      if (plan.place[task] >= 0) explainTask(c, heads, plan, task);
  });
  const [, move] = timed(() => priceMove(plan, c.tasks >> 1, c.crewSlots >> 1));
  return { all, move };
}

/** One of the crew away for two weeks from day 104: what a re-draw costs and moves. */
function redrawCase(instance: PlanInstance, drawn: DrawnRound): string {
  const from = instance.slots.findIndex((slot) => slot.day >= 104);
  const to = instance.slots.findIndex((slot) => slot.day >= 118);
  const next = promised(instance, drawn.assignment, (copy) => {
    copy.crews[0].regular.fill(0, from, to);
    copy.crews[0].overtime?.fill(0, from, to);
  });
  const last = next.slots.findLastIndex((slot) => slot.day < 104 + 84);
  const [again, ms] = timed(() => redrawRound(next, { seed: 1, slots: [from, last] }));
  const { moves, handOvers } = again.evaluation.parts;
  return `re-draw ${ms} ms, ${moves} moved, ${handOvers} to another person in their shift, breaches ${checkAssignment(next, again.assignment).length}`;
}

for (const tasks of numbers(values.sizes))
  for (const load of numbers(values.loads))
    for (const seed of numbers(values.seeds)) {
      const instance = generateInstance({ tasks, seed, utilisation: load });
      const evaluations = values.evaluations ? Number(values.evaluations) : normalBudget(tasks);
      const [drawn, ms] = timed(() => drawRound(instance, { seed: 1, evaluations }));
      const { total, parts } = drawn.evaluation;
      const { witness: _witness, ...bounds } = drawn.bounds;
      const breaches =
        checkAssignment(instance, drawn.assignment).length +
        checkVisits(instance, drawn.assignment, drawn.visits).length;
      const forced = findHeads(compile(instance)).forcedOut.filter((one) => one !== null).length;
      const explained = explainAll(instance, drawn);
      console.log(
        [
          `${tasks} tasks, load ${load / 100}, seed ${seed}: ${ms} ms for ${drawn.evaluations} evaluations, explaining all ${explained.all} ms, one move ${explained.move} ms`,
          `  cost ${total} ${JSON.stringify(parts)}`,
          `  bound ${bounds.total} ${JSON.stringify(bounds)}`,
          `  gap ${total === 0 ? 0 : ((100 * (total - bounds.total)) / total).toFixed(1)} %, unplaced ${drawn.unplaced.length} (forced ${forced}), breaches ${breaches}, walked ${drawn.metres} m`,
          `  hash ${assignmentHash(drawn.assignment)}, memory ${Math.round(process.memoryUsage().rss / 1e6)} MB`,
          ...(tasks === 10_000 && load === 85 ? [`  ${redrawCase(instance, drawn)}`] : []),
        ].join('\n'),
      );
    }
