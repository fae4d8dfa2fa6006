/** Maps the driver's error codes to ours, once. */
import { AppError } from '../shared/contract/errors.ts';
import { isSqliteError } from './driver.ts';

/** An AppError for a SQLite failure that the world can cause; null for anything else. */
export function toAppError(error: unknown, what = 'the book'): AppError | null {
  if (error instanceof AppError) return error;
  if (!isSqliteError(error)) return null;
  const { code } = error;
  if (code === 'SQLITE_NOTADB')
    return new AppError(
      'book_not_a_book',
      `${what} is not a book: it is not a SQLite file. The file was not touched.`,
    );
  if (code.startsWith('SQLITE_CORRUPT'))
    return new AppError(
      'book_damaged',
      `${what} is damaged (${error.message}). Nothing was written. Keep the file, and open the newest backup from the folder “backups” beside it.`,
    );
  if (code.startsWith('SQLITE_READONLY'))
    return new AppError(
      'book_read_only',
      `${what} cannot be written. Check the file’s permissions, or copy it elsewhere.`,
    );
  if (code.startsWith('SQLITE_BUSY') || code.startsWith('SQLITE_LOCKED'))
    return new AppError('book_busy', `${what} is in use by another program. Try again in a moment.`);
  if (code.startsWith('SQLITE_CANTOPEN'))
    return new AppError(
      'file_unreadable',
      `${what} cannot be opened. Check that the file exists and may be read.`,
    );
  if (code.startsWith('SQLITE_FULL') || code.startsWith('SQLITE_IOERR'))
    return new AppError(
      'file_unreadable',
      `${what} could not be written: the disk is full or failing (${code}).`,
    );
  if (code.startsWith('SQLITE_CONSTRAINT_FOREIGNKEY'))
    return new AppError('in_use', 'Something else in the book still refers to this.');
  if (code.startsWith('SQLITE_CONSTRAINT_UNIQUE') || code.startsWith('SQLITE_CONSTRAINT_PRIMARYKEY'))
    return new AppError('conflict', `This exists already (${error.message.replace(/^.*: /, '')}).`);
  return null;
}
