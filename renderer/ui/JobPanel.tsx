/** Runs a job from a screen: progress, cancel, and what came of it. */
import { useEffect, useRef, useState } from 'react';
import type { ReactNode } from 'react';
import { runJob } from '../api/client.ts';
import { ApiError } from '../api/transport.ts';
import type { InputOf, JobName, OutputOf } from '../../shared/contract/index.ts';
import type { JobStatus } from '../../shared/contract/jobs.ts';
import { Button } from './Button.tsx';
import { useFocusKept } from './focus.ts';
import { Failure } from './states.tsx';

export type JobRun<Name extends JobName> = {
  start: (input: InputOf<Name>) => Promise<OutputOf<Name> | null>;
  cancel: () => void;
  status: JobStatus | null;
  isRunning: boolean;
  error: ApiError | null;
};

/**
 * State of one job at a time. `start` answers null when the job failed or was cancelled, and `error` says why; and
 * when the person has gone to another screen meanwhile, who is not called back.
 */
export function useJob<Name extends JobName>(name: Name): JobRun<Name> {
  const [status, setStatus] = useState<JobStatus | null>(null);
  const [error, setError] = useState<ApiError | null>(null);
  const [isRunning, setRunning] = useState(false);
  const abort = useRef<AbortController | null>(null);
  const isHere = useRef(true);
  useEffect(() => {
    isHere.current = true;
    return () => {
      isHere.current = false;
    };
  }, []);
  return {
    status,
    isRunning,
    error,
    cancel: () => abort.current?.abort(),
    start: async (input) => {
      abort.current = new AbortController();
      setError(null);
      setStatus(null);
      setRunning(true);
      try {
        const result = await runJob(name, input, { onProgress: setStatus, signal: abort.current.signal });
        return isHere.current ? result : null;
      } catch (problem) {
        setError(problem instanceof ApiError ? problem : new ApiError('internal', String(problem)));
        return null;
      } finally {
        setRunning(false);
      }
    },
  };
}

/** A job that asks for nothing and is run when the screen is opened, and again when `run` is called. */
export function useJobAtOpening<Name extends 'air.network' | 'findings.list'>(
  name: Name,
): { job: JobRun<Name>; answer: OutputOf<Name> | null; run: () => void } {
  const job = useJob(name);
  const [answer, setAnswer] = useState<OutputOf<Name> | null>(null);
  const { start } = job;
  const run = (): void => {
    void start({} as InputOf<Name>).then((result) => {
      if (result) setAnswer(result);
    });
  };
  // Once, when the screen is opened; who has left meanwhile is not called back.
  // oxlint-disable-next-line react-hooks/exhaustive-deps
  useEffect(run, []);
  return { job, answer, run };
}

export function JobProgress({
  job,
}: {
  job: { status: JobStatus | null; isRunning: boolean; cancel: () => void };
}) {
  useFocusKept(job.isRunning);
  if (!job.isRunning) return null;
  const { done = 0, total = 1, step = 'starting' } = job.status ?? {};
  return (
    <div className="job" role="status">
      <progress max={total || 1} value={done} aria-label={step} />
      <span>
        {step} {total > 1 ? `${done} of ${total}` : ''}
      </span>
      <Button onPress={job.cancel}>Cancel</Button>
    </div>
  );
}

/** Progress of a job that a person starts, why it failed, and its answer; before there is one, what to do. */
export function JobOutcome({
  job,
  empty,
  children,
}: {
  job: { status: JobStatus | null; isRunning: boolean; error: ApiError | null; cancel: () => void };
  empty: ReactNode;
  /** The answer; null while there is none. */
  children: ReactNode;
}) {
  return (
    <>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
      {children ?? (job.isRunning ? null : empty)}
    </>
  );
}
