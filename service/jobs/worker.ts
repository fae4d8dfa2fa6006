/** Runs one job in a worker thread, on connections of its own, and reports to the thread that started it. */
import { parentPort, workerData } from 'node:worker_threads';
import { openBook } from '../../db/book.ts';
import { toAppError } from '../../db/errors.ts';
import type { ErrorCode, InputProblem } from '../../shared/contract/errors.ts';
import type { JobName } from '../../shared/contract/index.ts';
import { fixedClock } from '../clock.ts';
import type { JobContext, JobHandler } from '../context.ts';
import { jobHandlers } from './registry.ts';

export type WorkerInput = {
  file: string;
  name: JobName;
  input: unknown;
  now: string;
  today: string;
  personId: number | null;
  cancelFlag: SharedArrayBuffer;
};

export type WorkerMessage =
  | { type: 'progress'; done: number; total: number; step: string }
  | { type: 'done'; result: unknown }
  | { type: 'failed'; code: ErrorCode; message: string; problems?: InputProblem[] }
  | { type: 'broken'; stack: string };

const PROGRESS_EVERY_MS = 50;

async function run(data: WorkerInput, post: (message: WorkerMessage) => void): Promise<void> {
  const flag = new Int32Array(data.cancelFlag);
  let lastPost = 0;
  const book = await openBook(data.file);
  try {
    const context: JobContext = {
      book,
      clock: { ...fixedClock(data.now), today: () => data.today },
      personId: data.personId,
    };
    const handler = (await jobHandlers[data.name]()) as JobHandler<JobName>;
    const result = await handler(context, data.input as never, {
      progress: (done, total, step) => {
        const time = performance.now();
        if (time - lastPost < PROGRESS_EVERY_MS && done < total) return;
        lastPost = time;
        post({ type: 'progress', done, total, step });
      },
      cancelled: () => Atomics.load(flag, 0) === 1,
    });
    await book.close();
    post({ type: 'done', result });
  } catch (error) {
    await book.close();
    throw error;
  }
}

if (parentPort) {
  const port = parentPort;
  run(workerData as WorkerInput, (message) => port.postMessage(message)).catch((error: unknown) => {
    const known = toAppError(error);
    if (known)
      port.postMessage({
        type: 'failed',
        code: known.code,
        message: known.message,
        problems: known.details.problems,
      });
    else
      port.postMessage({
        type: 'broken',
        stack: error instanceof Error ? (error.stack ?? error.message) : String(error),
      });
  });
}
