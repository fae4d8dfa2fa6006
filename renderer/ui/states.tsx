/** What a screen shows while it waits, when it failed, and when there is nothing yet. */
import type { ReactNode } from 'react';
import type { ApiError } from '../api/transport.ts';
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

/** Problems of an input, each with where and why. */
export function ProblemList({ problems }: { problems: readonly InputProblem[] }) {
  return (
    <div className="table-frame" role="region" aria-label="Problems" tabIndex={0}>
      <table className="plain-table">
        <thead>
          <tr>
            <th scope="col">Where</th>
            <th scope="col">Column</th>
            <th scope="col">Value</th>
            <th scope="col">Reason</th>
          </tr>
        </thead>
        <tbody>
          {problems.map((problem, index) => (
            <tr key={index}>
              <td>
                {[problem.file, problem.line === undefined ? '' : `line ${problem.line}`]
                  .filter((part) => part)
                  .join(', ')}
              </td>
              <td>{problem.column}</td>
              <td>
                <code>{problem.value}</code>
              </td>
              <td>{problem.reason}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
