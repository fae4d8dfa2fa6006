/** Figures of merit of a round, as kept with it. */
import type { RoundFigures } from '../../shared/contract/rounds.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import type { Assignment, DrawnRound, Evaluation, PlanInstance } from '../../shared/planning/instance.ts';
import { workedShifts } from '../../shared/planning/shifts.ts';

/** Figures as kept; a round drawn before bounds or the walk were kept has none. */
export function readFigures(json: string): RoundFigures {
  return {
    bounds: null,
    walkedMetres: null,
    overruns: null,
    furtherChanges: null,
    moves: 0,
    handOvers: 0,
    ...(JSON.parse(json) as Partial<RoundFigures>),
  } as RoundFigures;
}

function merit(
  instance: PlanInstance,
  assignment: Assignment,
  { parts, total }: Evaluation,
): Omit<RoundFigures, 'bounds' | 'walkedMetres' | 'overruns' | 'furtherChanges'> {
  const placed = instance.tasks.filter((task) => assignment[task.id]);
  return {
    placed: placed.length,
    unplaced: instance.tasks.length - placed.length,
    total,
    weightedDaysLate: parts.tardiness,
    switchovers: parts.switchovers,
    switchoversOccupied: parts.switchoversOccupied,
    overtimeMinutes: parts.overtimeMin,
    walkingMinutes: parts.walkMin,
    unevenMinutes: parts.unevenMin,
    moves: parts.moves,
    handOvers: parts.handOvers,
    taskMinutes: placed.reduce((sum, task) => sum + task.min, 0),
  };
}

/** Figures of a drawn round; `instance` has the chosen ways settled. */
export function figuresOf(instance: PlanInstance, drawn: DrawnRound): RoundFigures {
  const { witness: _witness, ...bounds } = drawn.bounds;
  return {
    ...merit(instance, drawn.assignment, drawn.evaluation),
    walkedMetres: drawn.metres,
    overruns: drawn.overruns.length,
    furtherChanges: drawn.furtherChanges,
    bounds,
  };
}

/** Figures after a move by hand: the bounds are those of the instance, whatever the plan. */
export function figuresOfPlan(
  instance: PlanInstance,
  assignment: Assignment,
  before: RoundFigures,
): RoundFigures {
  const { metres, overruns, furtherChanges } = workedShifts(instance, assignment);
  return {
    ...merit(instance, assignment, evaluate(instance, assignment)),
    walkedMetres: metres,
    overruns: overruns.length,
    furtherChanges,
    bounds: before.bounds,
  };
}
