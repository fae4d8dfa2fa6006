import type { Book, BookDb } from '../db/book.ts';
import type { CallName, Contract, JobName, OutputOf, ParsedInputOf } from '../shared/contract/index.ts';
import type { Clock } from './clock.ts';

/** What a handler is given. In a query `db` cannot write; in a command it is the transaction. */
export type CallContext = {
  db: BookDb;
  book: Book;
  clock: Clock;
  /** The person that the program works for at the moment; kept with every change. */
  personId: number | null;
};

export type Handler<Name extends CallName> = (
  context: CallContext,
  input: ParsedInputOf<Name>,
) => Promise<OutputOf<Name>>;

export type JobHooks = {
  progress: (done: number, total: number, step: string) => void;
  cancelled: () => boolean;
};

/** A job has the whole book: it reads by `book.reader` and writes by `writeBook`. */
export type JobContext = Omit<CallContext, 'db'>;
export type JobHandler<Name extends JobName> = (
  context: JobContext,
  input: ParsedInputOf<Name>,
  hooks: JobHooks,
) => Promise<OutputOf<Name>>;

type CallsOf<G extends keyof Contract & string> = {
  [N in keyof Contract[G] & string]: Contract[G][N] extends { kind: 'job' } ? never : N;
}[keyof Contract[G] & string];

/** The handlers of one topic: one for every call that is not a job. */
export type GroupHandlers<G extends keyof Contract & string> = {
  [N in CallsOf<G>]: `${G}.${N}` extends CallName ? Handler<`${G}.${N}`> : never;
};
