/** The only importer of the SQLite driver. */
import Database from 'better-sqlite3';

export type Connection = Database.Database;

/** ASCII "SPA1" as a 32-bit number: marks a SQLite file as one of our books. */
export const APPLICATION_ID = 0x53504131;

/** Opens a SQLite file with the pragmas that every connection to a book carries; writes nothing. */
export function connect(file: string, options: { mustExist?: boolean } = {}): Connection {
  const connection = new Database(file, { fileMustExist: options.mustExist ?? false, timeout: 5000 });
  try {
    connection.pragma('foreign_keys = ON');
    connection.pragma('recursive_triggers = ON');
    connection.pragma('trusted_schema = OFF');
    connection.pragma('cache_size = -65536');
  } catch (error) {
    connection.close();
    throw error;
  }
  return connection;
}

/** Makes a connection durable for writing: write-ahead log, and every commit on disk before it returns. */
export function makeDurable(connection: Connection): void {
  connection.pragma('journal_mode = WAL');
  connection.pragma('synchronous = FULL');
}

/** True for an error that the driver raised for SQLite. */
export function isSqliteError(error: unknown): error is Error & { code: string } {
  return error instanceof Database.SqliteError;
}
