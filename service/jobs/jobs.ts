/** Starts, watches and cancels the long work that runs in worker threads. */
import { randomUUID } from 'node:crypto';
import { Worker } from 'node:worker_threads';
import { AppError } from '../../shared/contract/errors.ts';
import type { JobStatus } from '../../shared/contract/jobs.ts';
import type { JobName } from '../../shared/contract/index.ts';
import type { Clock } from '../clock.ts';
import type { WorkerInput, WorkerMessage } from './worker.ts';

export type Jobs = {
  start: (name: JobName, input: unknown, personId: number | null) => string;
  status: (jobId: string) => JobStatus;
  cancel: (jobId: string) => JobStatus;
  /** Cancels everything that runs and waits for the workers to end. */
  close: () => Promise<void>;
};

type Entry = { status: JobStatus; flag: Int32Array; ended: Promise<void> };

const FINISHED_KEPT = 50;
/** What lets millions of rows go by: with a small nursery they are tidied away at once. */
const streaming: ReadonlySet<JobName> = new Set<JobName>(['evidence.write']);

/** Jobs over one book. `workerUrl` is the worker's file; shells that bundle name their own. */
export function createJobs(setup: {
  file: string;
  clock: Clock;
  workerUrl: URL;
  report: (detail: string) => string;
}): Jobs {
  const entries = new Map<string, Entry>();

  function requireEntry(jobId: string): Entry {
    const entry = entries.get(jobId);
    if (!entry) throw new AppError('not_found', 'There is no such job; it may have ended long ago.');
    return entry;
  }

  function start(name: JobName, input: unknown, personId: number | null): string {
    const jobId = randomUUID();
    const cancelFlag = new SharedArrayBuffer(4);
    const data: WorkerInput = {
      file: setup.file,
      name,
      input,
      now: setup.clock.now(),
      today: setup.clock.today(),
      personId,
      cancelFlag,
    };
    const status: JobStatus = { jobId, call: name, state: 'running', done: 0, total: 1, step: 'starting' };
    const worker = new Worker(setup.workerUrl, {
      workerData: data,
      ...(streaming.has(name) ? { resourceLimits: { maxYoungGenerationSizeMb: 24 } } : {}),
    });
    const fail = (error: NonNullable<JobStatus['error']>): void => {
      if (status.state !== 'running') return;
      status.state = error.code === 'cancelled' ? 'cancelled' : 'failed';
      status.error = error;
    };
    worker.on('message', (message: WorkerMessage) => {
      if (message.type === 'progress')
        Object.assign(status, { done: message.done, total: message.total, step: message.step });
      else if (message.type === 'done')
        Object.assign(status, { state: 'done', done: status.total, result: message.result });
      else if (message.type === 'failed')
        fail({ code: message.code, message: message.message, problems: message.problems });
      else fail(internal(message.stack));
    });
    const internal = (detail: string): NonNullable<JobStatus['error']> => {
      const incident = setup.report(detail);
      return {
        code: 'internal',
        message: `Something went wrong in the program; nothing was changed. Incident ${incident}.`,
        incident,
      };
    };
    worker.on('error', (error) =>
      fail(internal(error instanceof Error ? (error.stack ?? error.message) : String(error))),
    );
    const ended = new Promise<void>((resolve) => {
      worker.on('exit', (code) => {
        if (status.state === 'running') fail(internal(`the worker ended with code ${code}`));
        resolve();
      });
    });
    entries.set(jobId, { status, flag: new Int32Array(cancelFlag), ended });
    forgetOld();
    return jobId;
  }

  function forgetOld(): void {
    const finished = [...entries].filter(([, entry]) => entry.status.state !== 'running');
    for (const [jobId] of finished.slice(0, Math.max(0, finished.length - FINISHED_KEPT)))
      entries.delete(jobId);
  }

  return {
    start,
    status: (jobId) => ({ ...requireEntry(jobId).status }),
    cancel: (jobId) => {
      const entry = requireEntry(jobId);
      Atomics.store(entry.flag, 0, 1);
      return { ...entry.status };
    },
    close: async () => {
      for (const entry of entries.values()) Atomics.store(entry.flag, 0, 1);
      await Promise.all([...entries.values()].map((entry) => entry.ended));
    },
  };
}
