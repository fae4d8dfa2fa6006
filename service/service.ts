/**
 * The service over one book: every call of the contract, parsed, run with the right handle, answered. Shells
 * and commands use nothing else.
 */
import { randomUUID } from 'node:crypto';
import type { z } from 'zod';
import type { Book, BookDb } from '../db/book.ts';
import { readBook, writeBook } from '../db/book.ts';
import { toAppError } from '../db/errors.ts';
import { calls } from '../shared/contract/index.ts';
import type { CallName, InputOf, JobName, OutputOf } from '../shared/contract/index.ts';
import { AppError } from '../shared/contract/errors.ts';
import type { InputProblem } from '../shared/contract/errors.ts';
import { benchHandlers } from './bench/handlers.ts';
import type { Clock } from './clock.ts';
import type { CallContext, JobHandler, JobHooks } from './context.ts';
import { airHandlers } from './air/handlers.ts';
import { driftHandlers } from './drift/handlers.ts';
import { evidenceHandlers } from './evidence/handlers.ts';
import { findingsHandlers } from './findings/handlers.ts';
import { intervalHandlers } from './intervals/handlers.ts';
import { energyHandlers } from './energy/handlers.ts';
import { dueHandlers } from './due/handlers.ts';
import { createJobs } from './jobs/jobs.ts';
import type { Jobs } from './jobs/jobs.ts';
import { jobHandlers } from './jobs/registry.ts';
import { followUpHandlers } from './followUps/handlers.ts';
import { gaugeHandlers } from './gauges/handlers.ts';
import { paperHandlers } from './paper/handlers.ts';
import { recordsHandlers } from './records/handlers.ts';
import { registerHandlers } from './register/handlers.ts';
import { roundsHandlers } from './rounds/handlers.ts';
import { settingsHandlers } from './settings/handlers.ts';
import { stationHandlers } from './stations/handlers.ts';

export type Service = {
  book: Book;
  /** Runs a call. Jobs answer `{ jobId }`. */
  call: <Name extends CallName>(
    name: Name,
    input: InputOf<Name>,
    personId?: number | null,
  ) => Promise<CallAnswer<Name>>;
  /** Runs a job to its end in this thread, for commands and tests. */
  runJob: <Name extends JobName>(
    name: Name,
    input: InputOf<Name>,
    hooks?: Partial<JobHooks>,
  ) => Promise<OutputOf<Name>>;
  /** Records an unexpected failure and answers its incident number. */
  report: (detail: string) => string;
  close: () => Promise<void>;
};

export type CallAnswer<Name extends CallName> = Name extends JobName ? { jobId: string } : OutputOf<Name>;

type AnyHandler = (context: CallContext, input: unknown) => Promise<unknown>;

export type ServiceSetup = {
  book: Book;
  clock: Clock;
  log?: (line: string) => void;
  /** Parse answers by their schema too; on in tests and development. */
  checkAnswers?: boolean;
  workerUrl?: URL;
};

/** A refused value for people; what is nested too deeply to write down is only named. */
function shownValue(value: unknown): string {
  if (typeof value === 'string') return value;
  try {
    return JSON.stringify(value) ?? '';
  } catch (error) {
    if (error instanceof RangeError) return Array.isArray(value) ? '[…]' : '{…}';
    throw error;
  }
}

/** Zod's issues as problems by field. */
export function toProblems(error: z.ZodError, input: unknown): InputProblem[] {
  return error.issues.map((issue) => {
    const value = issue.path.reduce<unknown>(
      (held, key) =>
        typeof held === 'object' && held !== null ? (held as Record<PropertyKey, unknown>)[key] : undefined,
      input,
    );
    return {
      column: issue.path.join('.'),
      value: shownValue(value).slice(0, 200),
      reason: issue.message,
    };
  });
}

/** Text that no file could hold: zero characters, and halves of a surrogate pair. SQLite would not keep it whole. */
function brokenText(value: unknown, path: string[] = []): InputProblem | null {
  if (typeof value === 'string')
    return value.isWellFormed() && !value.includes('\u0000')
      ? null
      : {
          column: path.join('.'),
          value: JSON.stringify(value).slice(0, 80),
          reason: 'holds a character that cannot be stored',
        };
  if (typeof value !== 'object' || value === null) return null;
  for (const [key, member] of Object.entries(value)) {
    const problem = brokenText(key, [...path, key]) ?? brokenText(member, [...path, key]);
    if (problem) return problem;
  }
  return null;
}

/** Creates the service over an open book; closing the service closes the book. */
export function createService(setup: ServiceSetup): Service {
  const { book, clock } = setup;
  const log = setup.log ?? (() => {});
  const report = (detail: string): string => {
    const incident = randomUUID().slice(0, 8);
    log(`${clock.now()} incident ${incident} ${detail}`);
    return incident;
  };
  const jobs: Jobs = createJobs({
    file: book.file,
    clock,
    workerUrl: setup.workerUrl ?? new URL('./jobs/worker.ts', import.meta.url),
    report,
  });
  const groups: Record<string, Record<string, unknown>> = {
    air: airHandlers,
    bench: benchHandlers,
    drift: driftHandlers,
    intervals: intervalHandlers,
    due: dueHandlers,
    energy: energyHandlers,
    evidence: evidenceHandlers,
    findings: findingsHandlers,
    followUps: followUpHandlers,
    gauges: gaugeHandlers,
    paper: paperHandlers,
    records: recordsHandlers,
    register: registerHandlers,
    rounds: roundsHandlers,
    settings: settingsHandlers,
    stations: stationHandlers,
    jobs: {
      status: async (_: CallContext, input: { jobId: string }) => jobs.status(input.jobId),
      cancel: async (_: CallContext, input: { jobId: string }) => jobs.cancel(input.jobId),
    },
  };

  function parse(name: CallName, input: unknown): unknown {
    const parsed = calls[name].input.safeParse(input);
    if (!parsed.success)
      throw new AppError('invalid_input', 'Some fields need another value.', {
        problems: toProblems(parsed.error, input),
      });
    const broken = brokenText(parsed.data);
    if (broken)
      throw new AppError('invalid_input', 'Some fields need another value.', { problems: [broken] });
    return parsed.data;
  }

  /** The person a request names; a page may still hold one of another book. */
  async function requirePerson(db: BookDb, personId: number | null): Promise<void> {
    if (personId === null) return;
    const held = await db.selectFrom('person').select('id').where('id', '=', personId).executeTakeFirst();
    if (!held)
      throw new AppError('invalid_input', 'Choose who works here: this book does not know the person.', {
        problems: [{ column: 'person', value: String(personId), reason: 'nobody of this book' }],
      });
  }

  function check(name: CallName, answer: unknown): unknown {
    return setup.checkAnswers ? calls[name].output.parse(answer) : answer;
  }

  async function call(name: CallName, rawInput: unknown, personId: number | null = null): Promise<unknown> {
    const input = parse(name, rawInput);
    const { kind } = calls[name];
    if (kind === 'command' || kind === 'job') await requirePerson(book.reader, personId);
    if (kind === 'job') return { jobId: jobs.start(name as JobName, input, personId) };
    const [group, member] = name.split('.');
    const handler = groups[group][member] as AnyHandler;
    const context = { book, clock, personId };
    try {
      const answer =
        kind === 'command' && group !== 'jobs'
          ? await writeBook(book, (db) => handler({ ...context, db }, input))
          : await readBook(book, (db) => handler({ ...context, db }, input));
      return check(name, answer);
    } catch (error) {
      throw toAppError(error) ?? error;
    }
  }

  return {
    book,
    call: call as Service['call'],
    runJob: async (name, rawInput, hooks = {}) => {
      const input = parse(name, rawInput);
      const handler = (await jobHandlers[name]()) as JobHandler<JobName>;
      try {
        const answer = await handler({ book, clock, personId: null }, input as never, {
          progress: () => {},
          cancelled: () => false,
          ...hooks,
        });
        return check(name, answer) as never;
      } catch (error) {
        throw toAppError(error) ?? error;
      }
    },
    report,
    close: async () => {
      await jobs.close();
      await book.close();
    },
  };
}
