/** Each hot list is answered by an index: what EXPLAIN QUERY PLAN says, asserted. */
import type { Compilable } from 'kysely';
import { expect, it } from 'vitest';
import type { BookDb } from '../../db/book.ts';
import { dueLedgerQuery } from '../../db/due.ts';
import { registerPageQuery } from '../../db/registerQueries.ts';
import { sampleService } from '../support/books.ts';

const anything = { find: '', class: null, mainId: null, levelId: null, state: 'all' as const };

async function planOf(queryOf: (db: BookDb) => Compilable): Promise<string> {
  const { book } = await sampleService();
  const compiled = queryOf(book.reader).compile();
  const rows = book.writerConnection
    .prepare(`explain query plan ${compiled.sql}`)
    .all(...(compiled.parameters as unknown[])) as { detail: string }[];
  return rows.map((row) => row.detail).join('\n');
}

it('the due ledger walks the index of due dates', async () => {
  const plan = await planOf((db) => dueLedgerQuery(db, { until: '2027-02-01', limit: 100 }));
  expect(plan).toContain('test_point_by_due');
  expect(plan).not.toContain('TEMP B-TREE');
});
it('the register walks the tags', async () =>
  expect(await planOf((db) => registerPageQuery(db, anything, { offset: 0, limit: 100 }))).not.toContain(
    'TEMP B-TREE',
  ));
it('a class, a main and a level each have their index', async () => {
  expect(
    await planOf((db) =>
      registerPageQuery(db, { ...anything, class: 'controller' }, { offset: 0, limit: 100 }),
    ),
  ).toContain('device_by_class');
  expect(
    await planOf((db) => registerPageQuery(db, { ...anything, mainId: 3 }, { offset: 0, limit: 100 })),
  ).toContain('device_by_main');
  expect(
    await planOf((db) => registerPageQuery(db, { ...anything, levelId: 2 }, { offset: 0, limit: 100 })),
  ).toContain('device_by_level');
});
it('words are found by the full-text index', async () =>
  expect(
    await planOf((db) => registerPageQuery(db, { ...anything, find: 'TC-N1' }, { offset: 0, limit: 100 })),
  ).toContain('VIRTUAL TABLE INDEX'));
it('one history is read by the index of its test point', async () =>
  expect(
    await planOf((db) =>
      db
        .selectFrom('calibration')
        .select('id')
        .where('test_point_id', '=', 7)
        .orderBy('done_on')
        .orderBy('id'),
    ),
  ).toContain('calibration_by_test_point'));
