/** Brings a connection to the newest schema: all pending migrations in one transaction, checked afterwards. */
import { Kysely } from 'kysely';
import { Migrator } from 'kysely/migration';
import type { Migration } from 'kysely/migration';
import { migrations as allMigrations } from '../migrations/index.ts';
import { AppError } from '../shared/contract/errors.ts';
import { AtomicSqliteDialect } from './atomicDialect.ts';
import { APPLICATION_ID } from './driver.ts';
import type { Connection } from './driver.ts';

export type MigrationSet = Record<string, Migration>;

/** Names of the migrations that a file has run, oldest first; empty for a file without any. */
export function executedMigrations(connection: Connection): string[] {
  const table = connection.prepare("select 1 from sqlite_schema where name = 'kysely_migration'").get();
  if (!table) return [];
  const rows = connection.prepare('select name from kysely_migration order by name').all() as {
    name: string;
  }[];
  return rows.map((row) => row.name);
}

/** Names of the known migrations that a file has not run yet. */
export function pendingMigrations(connection: Connection, set: MigrationSet = allMigrations): string[] {
  const executed = new Set(executedMigrations(connection));
  return Object.keys(set)
    .sort()
    .filter((name) => !executed.has(name));
}

/** Throws `book_from_future` when a file has run a migration that this program does not know. */
export function refuseFutureBook(
  connection: Connection,
  what: string,
  set: MigrationSet = allMigrations,
): void {
  const unknown = executedMigrations(connection).find((name) => !(name in set));
  if (unknown !== undefined)
    throw new AppError(
      'book_from_future',
      `${what} was made by a newer version of this program (${unknown}). Update the program to open it; the file was not touched.`,
    );
}

/** Runs every pending migration. On failure the file's schema and rows are as they were. */
export async function migrateConnection(
  connection: Connection,
  set: MigrationSet = allMigrations,
): Promise<void> {
  connection.pragma('foreign_keys = OFF');
  try {
    const db = new Kysely<unknown>({ dialect: new AtomicSqliteDialect({ database: connection }) });
    const migrator = new Migrator({ db, provider: { getMigrations: async () => set } });
    const { error } = await migrator.migrateToLatest();
    if (error) throw error;
    const broken = connection.pragma('foreign_key_check') as unknown[];
    if (broken.length > 0)
      throw new AppError('book_damaged', `${broken.length} rows refer to rows that do not exist`);
    connection.pragma(`application_id = ${APPLICATION_ID}`);
  } finally {
    connection.pragma('foreign_keys = ON');
  }
}
