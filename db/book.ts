/**
 * A book is one SQLite file. Opening it refuses what is not a book, is damaged or comes from the future,
 * without touching the file; migrates after a backup; and gives two handles: one that writes, one that cannot.
 */
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  rmSync,
  statSync,
  openSync,
  readSync,
  closeSync,
} from 'node:fs';
import path from 'node:path';
import { Kysely, sql } from 'kysely';
import { AppError } from '../shared/contract/errors.ts';
import { AtomicSqliteDialect } from './atomicDialect.ts';
import { APPLICATION_ID, CACHE_KB, connect, makeDurable, preparing } from './driver.ts';
import type { Connection } from './driver.ts';
import { toAppError } from './errors.ts';
import { executedMigrations, migrateConnection, pendingMigrations, refuseFutureBook } from './migrate.ts';
import type { MigrationSet } from './migrate.ts';
import type { BookTables } from './schema.ts';

export type BookDb = Kysely<BookTables>;

export type Book = {
  file: string;
  /** Reads only: its connection refuses to write. */
  reader: BookDb;
  /** Used inside `writeBook` alone. */
  writer: BookDb;
  writerConnection: Connection;
  close: () => Promise<void>;
};

const BACKUPS_KEPT = 5;

function kyselyOver(connection: Connection): BookDb {
  return new Kysely<BookTables>({ dialect: new AtomicSqliteDialect({ database: preparing(connection) }) });
}

function refuseWithoutConnecting(file: string, what: string): void {
  const stats = statSync(file);
  if (!stats.isFile()) throw new AppError('book_not_a_book', `${what} is not a file.`);
  if ((stats.mode & 0o222) === 0)
    throw new AppError(
      'book_read_only',
      `${what} is read-only. Allow writing, or copy it elsewhere; the file was not touched.`,
    );
  const header = Buffer.alloc(100);
  const descriptor = openSync(file, 'r');
  const bytes = readSync(descriptor, header, 0, 100, 0);
  closeSync(descriptor);
  if (bytes < 100 || header.toString('latin1', 0, 16) !== 'SQLite format 3\u0000')
    throw new AppError(
      'book_not_a_book',
      `${what} is not a book: it is not a SQLite file. The file was not touched.`,
    );
  const pageSize = header.readUInt16BE(16) === 1 ? 65536 : header.readUInt16BE(16);
  const pages = header.readUInt32BE(28);
  if (stats.size < pages * pageSize)
    throw new AppError(
      'book_damaged',
      `${what} is damaged: it ends after ${stats.size} of ${pages * pageSize} bytes. Keep the file, and open the newest backup from the folder “backups” beside it.`,
    );
}

function refuseForeignFile(connection: Connection, what: string): void {
  const id = connection.pragma('application_id', { simple: true });
  if (id !== APPLICATION_ID)
    throw new AppError(
      'book_not_a_book',
      `${what} is a SQLite file, but not a book of this program. The file was not touched.`,
    );
}

async function backUpBefore(connection: Connection, file: string): Promise<void> {
  const folder = path.join(path.dirname(file), 'backups');
  mkdirSync(folder, { recursive: true });
  const base = path.basename(file);
  const newest = executedMigrations(connection).at(-1) ?? 'none';
  let number = 1;
  let target = path.join(folder, `${base}.before-${newest}.${number}`);
  while (existsSync(target)) target = path.join(folder, `${base}.before-${newest}.${(number += 1)}`);
  await connection.backup(target);
  const kept = readdirSync(folder)
    .filter((name) => name.startsWith(`${base}.before-`))
    .map((name) => ({ name, time: statSync(path.join(folder, name)).mtimeMs }))
    .sort((a, b) => b.time - a.time);
  for (const { name } of kept.slice(BACKUPS_KEPT)) rmSync(path.join(folder, name));
}

function handlesOf(file: string, connection: Connection): Book {
  const readerConnection = connect(file, { mustExist: true });
  readerConnection.pragma('query_only = ON');
  const reader = kyselyOver(readerConnection);
  const writer = kyselyOver(connection);
  return {
    file,
    reader,
    writer,
    writerConnection: connection,
    close: async () => {
      // Kysely leaves a connection open that it never used; the writer goes last, so that it empties the log.
      await reader.destroy();
      readerConnection.close();
      await writer.destroy();
      connection.close();
    },
  };
}

/** Opens an existing book. `set` stands in for the program's migrations in tests. */
export async function openBook(file: string, set?: MigrationSet): Promise<Book> {
  const what = `The file ${path.basename(file)}`;
  if (!existsSync(file)) throw new AppError('not_found', `There is no file ${file}.`);
  refuseWithoutConnecting(file, what);
  let connection: Connection | null = null;
  try {
    connection = connect(file, { mustExist: true });
    refuseForeignFile(connection, what);
    refuseFutureBook(connection, what, set);
    makeDurable(connection);
    if (pendingMigrations(connection, set).length > 0) {
      await backUpBefore(connection, file);
      await migrateConnection(connection, set);
    }
    return handlesOf(file, connection);
  } catch (error) {
    connection?.close();
    throw toAppError(error, what) ?? error;
  }
}

/** Makes a new, empty book. Refuses to write over anything that exists. */
export async function createBook(file: string, set?: MigrationSet): Promise<Book> {
  if (existsSync(file))
    throw new AppError(
      'conflict',
      `There is a file ${file} already; it was not touched. Choose another name.`,
    );
  const folder = path.dirname(path.resolve(file));
  if (!existsSync(folder)) throw new AppError('not_found', `There is no folder ${folder}.`);
  let connection: Connection | null = null;
  try {
    connection = connect(file);
    makeDurable(connection);
    await migrateConnection(connection, set);
    return handlesOf(file, connection);
  } catch (error) {
    connection?.close();
    for (const name of [file, `${file}-wal`, `${file}-shm`]) rmSync(name, { force: true });
    throw toAppError(error, `The file ${path.basename(file)}`) ?? error;
  }
}

/** An online copy of a book at a moment, to a file that must not exist yet. */
export async function backUpBook(book: Book, target: string): Promise<void> {
  if (existsSync(target))
    throw new AppError(
      'conflict',
      `There is a file ${target} already; it was not touched. Choose another name.`,
    );
  await book.writerConnection.backup(target);
}

/** Puts a checked copy of `source` at `target`, which must not exist yet. */
export async function restoreBook(source: string, target: string): Promise<void> {
  if (existsSync(target))
    throw new AppError(
      'conflict',
      `There is a file ${target} already; it was not touched. Choose another name.`,
    );
  const what = `The file ${path.basename(source)}`;
  if (!existsSync(source)) throw new AppError('not_found', `There is no file ${source}.`);
  refuseWithoutConnecting(source, what);
  copyFileSync(source, target);
  try {
    const book = await openBook(target);
    await book.close();
    const problems = integrityProblems(target);
    if (problems.length > 0) throw new AppError('book_damaged', `${what} is damaged: ${problems[0]}`);
  } catch (error) {
    for (const name of [target, `${target}-wal`, `${target}-shm`]) rmSync(name, { force: true });
    throw error;
  }
}

/**
 * What SQLite's own checks find wrong: page structure, indexes, and rows that refer to nothing. On a connection of its
 * own: one that has searched the register before an edit holds the search index as it was, and calls the edit damage.
 */
export function integrityProblems(file: string): string[] {
  const connection = connect(file, { mustExist: true });
  try {
    connection.pragma('query_only = ON');
    const integrity = connection.pragma('integrity_check') as { integrity_check: string }[];
    const foreign = connection.pragma('foreign_key_check') as {
      table: string;
      rowid: number;
      parent: string;
    }[];
    return [
      ...integrity.map((row) => row.integrity_check).filter((text) => text !== 'ok'),
      ...foreign.map((row) => `row ${row.rowid} of ${row.table} refers to nothing in ${row.parent}`),
    ];
  } finally {
    connection.close();
  }
}

/**
 * One unit of work: everything `work` writes is committed together and on disk when this answers, or nothing
 * is. Takes the write lock at once, so that a second program waits instead of failing half way.
 */
export async function writeBook<T>(book: Book, work: (db: BookDb) => Promise<T>): Promise<T> {
  try {
    return await book.writer.connection().execute(async (db) => {
      await sql`begin immediate`.execute(db);
      try {
        const result = await work(db);
        await sql`commit`.execute(db);
        return result;
      } catch (error) {
        await sql`rollback`.execute(db);
        throw error;
      }
    });
  } catch (error) {
    throw toAppError(error) ?? error;
  }
}

/** A snapshot for the length of one piece of work, on the handle that cannot write. */
export async function readBook<T>(book: Book, work: (db: BookDb) => Promise<T>): Promise<T> {
  return book.reader.connection().execute(async (db) => {
    await sql`begin`.execute(db);
    try {
      return await work(db);
    } finally {
      await sql`rollback`.execute(db);
    }
  });
}

const STREAM_CACHE_KB = 8_192;

/** The same for work that goes through a whole book once: what has gone by is not kept. */
export async function streamBook<T>(book: Book, work: (db: BookDb) => Promise<T>): Promise<T> {
  return readBook(book, async (db) => {
    await sql.raw(`pragma cache_size = -${STREAM_CACHE_KB}`).execute(db);
    try {
      return await work(db);
    } finally {
      await sql.raw(`pragma cache_size = -${CACHE_KB}`).execute(db);
    }
  });
}
