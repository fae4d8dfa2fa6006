import type { BenchEntry } from '../../../shared/contract/bench.ts';
import { Button } from '../../ui/Button.tsx';
import { goToStep, placeOf } from './cardProblems.ts';

/** What stands in the way of closing a card; each line leads to its step. */
export function CardProblemList({
  problems,
  entries,
}: {
  problems: readonly { column: string; reason: string }[];
  entries: readonly Pick<BenchEntry, 'key' | 'facts'>[];
}) {
  return (
    <ul className="card-problem-list">
      {problems.map((problem, index) => {
        const { words, step } = placeOf(problem.column, entries);
        return (
          <li key={index}>
            <Button tone="quiet" onPress={() => goToStep(step)}>
              {words}
            </Button>{' '}
            {problem.reason}
          </li>
        );
      })}
    </ul>
  );
}
