/**
 * Kysely's SQLite adapter says that DDL is not transactional, so its migrator runs outside a transaction and a
 * failed migration leaves tables behind. SQLite's DDL is transactional; this adapter says so.
 */
import { SqliteAdapter, SqliteDialect } from 'kysely';
import type { DialectAdapter } from 'kysely';

class AtomicSqliteAdapter extends SqliteAdapter {
  override get supportsTransactionalDdl(): boolean {
    return true;
  }
}

export class AtomicSqliteDialect extends SqliteDialect {
  override createAdapter(): DialectAdapter {
    return new AtomicSqliteAdapter();
  }
}
