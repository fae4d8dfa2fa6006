/** `round solve`: the planner on a bare instance file; needs no book. */
import { readFileSync } from 'node:fs';
import { toProblems } from '../../service/service.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { planInstance } from '../../shared/contract/planInstance.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { assignmentHash } from '../../shared/planning/hash.ts';
import { InstanceError } from '../../shared/planning/instance.ts';
import type { DrawnRound, PlanInstance } from '../../shared/planning/instance.ts';
import type { Parsed } from '../arguments.ts';
import type { Command } from './command.ts';

const MOST_PROBLEMS = 50;

function refuse(file: string, column: string, reason: string): never {
  throw new AppError('invalid_input', 'The instance cannot be solved.', {
    problems: [{ file, column, value: '', reason }],
  });
}

function readInstance(file: string): PlanInstance {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch {
    return refuse(file, '', 'the file cannot be read');
  }
  let json: unknown;
  try {
    // Some programs begin a file with a byte order mark.
    json = JSON.parse(text.replace(/^\uFEFF/u, ''));
  } catch (error) {
    return refuse(file, '', `not JSON: ${error instanceof Error ? error.message : String(error)}`);
  }
  const parsed = planInstance.safeParse(json);
  if (parsed.success) return parsed.data;
  const problems = toProblems(parsed.error, json).slice(0, MOST_PROBLEMS);
  throw new AppError('invalid_input', 'The instance cannot be solved.', {
    problems: problems.map((problem) => ({ file, ...problem })),
  });
}

function solve(file: string, args: Parsed, progress: (text: string) => void): DrawnRound {
  const instance = readInstance(file);
  let shown = -1;
  try {
    return drawRound(
      instance,
      { seed: args.integer('seed') ?? 1, evaluations: args.integer('evaluations') },
      {
        progress: (done, total) => {
          const percent = total === 0 ? 100 : Math.floor((100 * done) / total);
          if (percent === shown) return;
          shown = percent;
          progress(`placing tasks: ${percent} %`);
        },
      },
    );
  } catch (error) {
    if (error instanceof InstanceError) return refuse(file, 'instance', error.message);
    throw error;
  }
}

export const solveCommand: Command = {
  words: 'round solve',
  takes: 'FILE.json [--evaluations N] [--seed N]',
  does: 'plan a bare instance in the exchange format of docs/planning-format.md; needs no book',
  options: { evaluations: 'integer', seed: 'integer' },
  positionals: { least: 1, most: 1 },
  run: async (context, args) => {
    const drawn = solve(args.positional[0], args, context.progress);
    const { total, parts } = drawn.evaluation;
    const hash = assignmentHash(drawn.assignment);
    const { bounds } = drawn;
    return {
      json: {
        assignment: drawn.assignment,
        total,
        parts,
        bound: bounds.total,
        bounds,
        unplaced: drawn.unplaced,
        outOfOrder: drawn.outOfOrder,
        evaluations: drawn.evaluations,
        seed: drawn.seed,
        hash,
      },
      text: [
        `total ${total}, bound ${bounds.total}: at most ${total - bounds.total} can still be won`,
        `${Object.values(drawn.assignment).filter(Boolean).length} placed, ${drawn.unplaced.length} not; ${drawn.evaluations} evaluations, seed ${drawn.seed}, hash ${hash}`,
        ...drawn.unplaced.map(
          ({ task, reason, detail }) => `not placed: ${task}: ${reason}${detail ? ` (${detail})` : ''}`,
        ),
        ...drawn.outOfOrder.map(
          ({ task, waitsFor }) => `out of order: ${task} is fixed before ${waitsFor}, which has no place`,
        ),
      ].join('\n'),
    };
  },
};
