/** What a screen shows while it waits, when it failed, and when there is nothing yet. */
import type { ReactNode } from 'react';
import type { ApiError } from '../api/transport.ts';
import { PlainTable } from '../tables/PlainTable.tsx';
import type { InputProblem } from '../../shared/contract/errors.ts';

export function Waiting({ what }: { what: string }) {
  return (
    <p className="waiting" role="status">
      {what}
    </p>
  );
}

export function Failure({ error }: { error: ApiError | Error }) {
  const problems = 'details' in error ? (error.details.problems ?? []) : [];
  // What somebody broke off did not go wrong.
  if ('code' in error && error.code === 'cancelled')
    return (
      <p className="quiet" role="status">
        {error.message}
      </p>
    );
  return (
    <div className="failure" role="alert">
      <p>{error.message}</p>
      {problems.length > 0 ? <ProblemList problems={problems} /> : null}
    </div>
  );
}

export function Empty({ title, children }: { title: string; children: ReactNode }) {
  return (
    <section className="empty">
      <h2>{title}</h2>
      {children}
    </section>
  );
}

/** A page of tens of thousands of problems would be of no use, and very slow. */
const SHOWN_PROBLEMS = 200;

/** Problems of an input, each with where and why. */
export function ProblemList({ problems }: { problems: readonly InputProblem[] }) {
  const table = (
    <PlainTable
      label="Problems"
      titles={['Where', 'Column', 'Value', 'Reason']}
      rows={problems.slice(0, SHOWN_PROBLEMS).map((problem, index) => ({
        key: index,
        cells: [
          [problem.file, problem.line === undefined ? '' : `line ${problem.line}`]
            .filter((part) => part)
            .join(', '),
          problem.column,
          <code key="value">{problem.value}</code>,
          problem.reason,
        ],
      }))}
    />
  );
  if (problems.length <= SHOWN_PROBLEMS) return table;
  return (
    <>
      <p>
        The first {SHOWN_PROBLEMS} of {problems.length} problems. The command line lists them all.
      </p>
      {table}
    </>
  );
}
