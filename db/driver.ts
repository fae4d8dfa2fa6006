/** The only importer of the SQLite driver. */
import Database from 'better-sqlite3';

export type Connection = Database.Database;

/** ASCII "SPA1" as a 32-bit number: marks a SQLite file as one of our books. */
export const APPLICATION_ID = 0x53504131;

/** What a connection keeps of its file in memory. */
export const CACHE_KB = 65_536;

/** Opens a SQLite file with the pragmas that every connection to a book carries; writes nothing. */
export function connect(file: string, options: { mustExist?: boolean } = {}): Connection {
  const connection = new Database(file, { fileMustExist: options.mustExist ?? false, timeout: 5000 });
  try {
    connection.pragma('foreign_keys = ON');
    connection.pragma('recursive_triggers = ON');
    connection.pragma('trusted_schema = OFF');
    connection.pragma(`cache_size = -${CACHE_KB}`);
  } catch (error) {
    connection.close();
    throw error;
  }
  return connection;
}

/** Statements kept ready: more than the program has, but for those whose length follows a list. */
const STATEMENTS_KEPT = 300;

/** A connection as the query builder uses it: a statement that was prepared before is taken up again, the least used goes. */
export function preparing(connection: Connection): Pick<Connection, 'prepare' | 'close'> {
  const kept = new Map<string, Database.Statement>();
  return {
    prepare: ((sql: string) => {
      const statement = kept.get(sql) ?? connection.prepare(sql);
      kept.delete(sql);
      kept.set(sql, statement);
      if (kept.size > STATEMENTS_KEPT) kept.delete(kept.keys().next().value ?? '');
      return statement;
    }) as Connection['prepare'],
    close: () => connection.close(),
  };
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
