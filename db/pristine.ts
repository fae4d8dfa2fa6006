/** What the triggers of a sound book read, out of an empty book made in memory by the same migrations. */
import { connect } from './driver.ts';
import type { Connection } from './driver.ts';
import { migrateConnection } from './migrate.ts';

function triggersOf(connection: Connection): Map<string, string> {
  const rows = connection
    .prepare("select name, sql from sqlite_schema where type = 'trigger' order by name")
    .all() as { name: string; sql: string }[];
  return new Map(rows.map(({ name, sql }) => [name, sql]));
}

let pristine: Promise<Map<string, string>> | null = null;

async function readPristine(): Promise<Map<string, string>> {
  const connection = connect(':memory:');
  try {
    await migrateConnection(connection);
    return triggersOf(connection);
  } finally {
    connection.close();
  }
}

/** Text of every trigger that a book must have, by name. */
export function pristineTriggers(): Promise<Map<string, string>> {
  pristine ??= readPristine();
  return pristine;
}
