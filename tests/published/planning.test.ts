/**
 * The evaluator and the checker on instances with proven optima, written for this project and solved outside
 * it (HiGHS 1.15, gap 0; the small ones by full enumeration too). The greedy planner is not held to the optima
 * here, only to being feasible and never better than the optimum.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { checkAssignment, checkVisits } from '../../shared/planning/check.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import type { Assignment, CostParts, PlanInstance } from '../../shared/planning/instance.ts';

type Known = PlanInstance & {
  about?: string;
  expected: { optimum: number; oneOptimalAssignment: Assignment; breakdown: CostParts };
};

const read = (name: string): unknown =>
  JSON.parse(readFileSync(new URL(`data/${name}`, import.meta.url), 'utf8'));
const small = Object.entries(read('planning_small.json') as Record<string, Known>);
const large = ['40a', '50a', '60a'].map(
  (name) => [`synth-${name}`, read(`planning_synth_${name}.json`)] as [string, Known],
);

describe.each([...small, ...large])('%s', (_name, instance) => {
  const { expected } = instance;
  it('costs the proven optimum, part by part', () => {
    const result = evaluate(instance, expected.oneOptimalAssignment);
    expect(result).toEqual({ total: expected.optimum, parts: expected.breakdown });
  });
  it('the optimal plan passes the checker', () =>
    expect(checkAssignment(instance, expected.oneOptimalAssignment)).toEqual([]));
  it('the drawn plan passes the checker and is never better than the optimum', () => {
    const drawn = drawRound(instance, { seed: 1 });
    expect(checkAssignment(instance, drawn.assignment)).toEqual([]);
    expect(checkVisits(instance, drawn.assignment, drawn.visits)).toEqual([]);
    expect(drawn.evaluation.total).toBeGreaterThanOrEqual(expected.optimum);
  });
});
