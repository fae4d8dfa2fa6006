import { readFileSync } from 'node:fs';
import { format } from 'prettier';
import { expect, it } from 'vitest';
import { connect } from '../../db/driver.ts';
import { migrateConnection } from '../../db/migrate.ts';
import { schemaTypes } from '../../scripts/schemaTypes.ts';

it('the committed table types are those of the migrated schema', async () => {
  const connection = connect(':memory:');
  await migrateConnection(connection);
  const made = await format(schemaTypes(connection), {
    parser: 'typescript',
    singleQuote: true,
    printWidth: 110,
    trailingComma: 'all',
  });
  connection.close();
  expect(readFileSync(new URL('../../db/schema.ts', import.meta.url), 'utf8')).toBe(made);
});
