/**
 * Writes db/schema.ts from the migrated schema: `node scripts/schemaTypes.ts`. A test holds the committed file
 * against what this makes, so types and tables cannot part.
 */
import { writeFileSync } from 'node:fs';
import { connect } from '../db/driver.ts';
import type { Connection } from '../db/driver.ts';
import { migrateConnection } from '../db/migrate.ts';

type TableInfo = { name: string; type: string; notnull: number; dflt_value: string | null; pk: number };

function pascal(name: string): string {
  return name.replace(/(^|_)([a-z])/g, (_, __, letter: string) => letter.toUpperCase());
}

function enumOf(tableSql: string, column: string): string[] | null {
  const match = new RegExp(`check\\s*\\(\\s*${column} in \\(([^)]*)\\)`).exec(tableSql);
  return match ? [...match[1].matchAll(/'([^']*)'|(\d+)/g)].map((m) => m[2] ?? `'${m[1]}'`) : null;
}

function columnType(tableSql: string, info: TableInfo, soleKey: boolean): string {
  const choices = enumOf(tableSql, info.name);
  const base = choices ? choices.join(' | ') : info.type === 'INTEGER' ? 'number' : 'string';
  const rowId = info.pk === 1 && info.type === 'INTEGER' && soleKey;
  const type = info.notnull || info.pk ? base : `${base} | null`;
  const isForeignKey = info.name.endsWith('_id') || info.name === 'seq';
  if (rowId && !isForeignKey) return `Generated<${type}>`;
  return info.dflt_value !== null ? `Generated<${type}>` : type;
}

/** The text of db/schema.ts for a migrated connection. */
export function schemaTypes(connection: Connection): string {
  const tables = connection
    .prepare(
      `select name, sql from sqlite_schema where type = 'table' and name not like 'sqlite_%'
       and name not like 'kysely_%' and name not like 'device_search%' order by name`,
    )
    .all() as { name: string; sql: string }[];
  const lines = [
    '/** Table types, generated from the migrated schema by scripts/schemaTypes.ts. Do not edit. */',
    "import type { Generated } from 'kysely';",
    '',
  ];
  for (const { name, sql } of tables) {
    const infos = connection.pragma(`table_info(${name})`) as TableInfo[];
    const soleKey = infos.filter((info) => info.pk > 0).length === 1;
    lines.push(`export type ${pascal(name)}Table = {`);
    for (const info of infos) lines.push(`  ${info.name}: ${columnType(sql, info, soleKey)};`);
    lines.push('};', '');
  }
  lines.push('export type BookTables = {');
  for (const { name } of tables) lines.push(`  ${name}: ${pascal(name)}Table;`);
  lines.push('};', '');
  return lines.join('\n');
}

if (
  process.argv[1] &&
  import.meta.url.endsWith(process.argv[1].replaceAll('\\', '/').split('/').pop() ?? '')
) {
  const connection = connect(':memory:');
  await migrateConnection(connection);
  writeFileSync(new URL('../db/schema.ts', import.meta.url), schemaTypes(connection));
  connection.close();
}
