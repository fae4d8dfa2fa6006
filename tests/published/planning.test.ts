/**
 * The evaluator and the checker on instances with proven optima, written for this project and solved outside
 * it (HiGHS 1.15, gap 0; the small ones by full enumeration too). The planner reaches the optima
 * within the budgets named; no bound is above them.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { checkAssignment, checkVisits } from '../../shared/planning/check.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import type { Assignment, CostParts, PlanInstance } from '../../shared/planning/instance.ts';

type Known = PlanInstance & {
  about?: string;
  expected: {
    optimum: number;
    cheapLowerBound: { total?: number };
    oneOptimalAssignment: Assignment;
    breakdown: CostParts;
  };
};

const read = (name: string): unknown =>
  JSON.parse(readFileSync(new URL(`data/${name}`, import.meta.url), 'utf8'));
const small = Object.entries(read('planning_small.json') as Record<string, Known>);
const large = ['40a', '50a', '60a', '100a'].map(
  (name) => [`synth-${name}`, read(`planning_synth_${name}.json`)] as [string, Known],
);

describe.each([...small, ...large])('%s', (_name, instance) => {
  const { expected } = instance;
  it('costs the proven optimum, part by part', () => {
    const result = evaluate(instance, expected.oneOptimalAssignment);
    // The stored instances know no hand-overs.
    expect(result).toEqual({ total: expected.optimum, parts: { ...expected.breakdown, handOvers: 0 } });
  });
  it('the optimal plan passes the checker', () =>
    expect(checkAssignment(instance, expected.oneOptimalAssignment)).toEqual([]));
  it('is drawn at the optimum or within the budget’s reach of it, feasible, and no bound is above it', () => {
    const size = instance.tasks.length;
    const evaluations = size < 40 ? 60_000 : size < 100 ? 1_000_000 : 20_000_000;
    const drawn = drawRound(instance, { seed: 1, evaluations });
    expect(checkAssignment(instance, drawn.assignment)).toEqual([]);
    expect(checkVisits(instance, drawn.assignment, drawn.visits)).toEqual([]);
    expect(drawn.evaluation.total).toBeGreaterThanOrEqual(expected.optimum);
    expect(drawn.evaluation.total).toBeLessThanOrEqual(size < 100 ? expected.optimum : 242);
    expect(drawn.bounds.parts).toBeLessThanOrEqual(expected.optimum);
    expect(drawn.bounds.prices).toBeLessThanOrEqual(expected.optimum);
    expect(drawn.bounds.total).toBeGreaterThanOrEqual(expected.cheapLowerBound.total ?? 0);
  });
});
