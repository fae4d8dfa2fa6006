/** The closed list of error codes. Expected failures carry a message for people; all else is `internal`. */

export const errorStatus = {
  invalid_input: 400,
  not_found: 404,
  conflict: 409,
  stale_version: 409,
  in_use: 409,
  forbidden: 403,
  too_large: 413,
  file_unreadable: 422,
  book_not_a_book: 422,
  book_damaged: 422,
  book_from_future: 422,
  book_read_only: 423,
  book_busy: 503,
  cancelled: 409,
  internal: 500,
} as const;

export type ErrorCode = keyof typeof errorStatus;

/** One thing that is wrong with an input: where, what stood there, why it was refused. */
export type InputProblem = {
  file?: string;
  line?: number;
  column: string;
  value: string;
  reason: string;
};

export type ErrorDetails = { problems?: InputProblem[]; current?: unknown };

/** A failure that a user or the world can cause. Bugs are never AppErrors. */
export class AppError extends Error {
  readonly code: ErrorCode;
  readonly details: ErrorDetails;

  constructor(code: ErrorCode, message: string, details: ErrorDetails = {}) {
    super(message);
    this.name = 'AppError';
    this.code = code;
    this.details = details;
  }
}

/** Refuses one value of an input. Always throws. */
export function refuseField(column: string, value: string, reason: string): never {
  throw new AppError('invalid_input', 'Some fields need another value.', {
    problems: [{ column, value, reason }],
  });
}

export type Envelope<T> =
  | { ok: true; data: T }
  | { ok: false; error: { code: ErrorCode; message: string; details?: ErrorDetails; incident?: string } };
