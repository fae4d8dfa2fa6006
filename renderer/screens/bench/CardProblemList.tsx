import { Button } from '../../ui/Button.tsx';
import { goToStep, placeOf } from './cardProblems.ts';

/** What stands in the way of closing a card; each line leads to its step. */
export function CardProblemList({
  problems,
  roles,
}: {
  problems: readonly { column: string; reason: string }[];
  roles: readonly string[];
}) {
  return (
    <ul className="card-problem-list">
      {problems.map((problem, index) => {
        const { words, step } = placeOf(problem.column, roles);
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
