import { AppError } from '../../shared/contract/errors.ts';

/** Refuses a write that was made on an older state of the row, and shows the newer one. */
export function requireVersion(
  expected: number | null,
  held: { version: number | null; values: unknown } | null,
): void {
  if (held === null && expected === null) return;
  if (held === null) throw new AppError('not_found', 'This is no longer in the book.');
  if (expected === null)
    throw new AppError('conflict', 'The book has this already. Open it to change it.', {
      current: held.values,
    });
  if (held.version !== expected)
    throw new AppError(
      'stale_version',
      'Somebody changed this while it was open here. Look at the newer state, then decide.',
      { current: held.values },
    );
}
