import { describe, expect, it } from 'vitest';
import { connect } from '../../db/driver.ts';
import type { Connection } from '../../db/driver.ts';
import { sampleFile } from '../support/books.ts';

function withConnection(work: (connection: Connection) => void): void {
  const connection = connect(sampleFile());
  work(connection);
  connection.close();
}

const tables = ['calibration', 'reading', 'ledger', 'replacement'];

describe.each(tables)('%s rows', (table) => {
  const key = table === 'ledger' ? 'seq' : 'id';
  it('are never changed, removed or replaced, in SQL', () =>
    withConnection((connection) => {
      expect(() => connection.prepare(`update ${table} set ${key} = ${key} where ${key} = 1`).run()).toThrow(
        'append-only',
      );
      expect(() => connection.prepare(`delete from ${table} where ${key} = 1`).run()).toThrow('append-only');
      expect(() =>
        connection.prepare(`insert or replace into ${table} select * from ${table} where ${key} = 1`).run(),
      ).toThrow('append-only');
      expect(() =>
        connection
          .prepare(
            `insert into ${table} select * from ${table} where ${key} = 1 on conflict (${key}) do update set ${key} = ${key}`,
          )
          .run(),
      ).toThrow('append-only');
    }));
});

it('a replace that hits another unique column does not slip past', () =>
  withConnection((connection) => {
    const last = connection.prepare('select * from ledger order by seq desc limit 1').get() as {
      seq: number;
      hash: string;
    };
    const first = connection.prepare('select hash from ledger where seq = 1').get() as { hash: string };
    const insert = connection.prepare(
      "insert or replace into ledger (seq, kind, record_id, at, entry_json, prev_hash, hash) values (?, 'calibration', 1, '2026-01-01T00:00:00Z', '{}', ?, ?)",
    );
    expect(() => insert.run(last.seq + 1, last.hash, first.hash)).toThrow('append-only');
    expect(() => insert.run(last.seq + 2, last.hash, 'f'.repeat(64))).toThrow('continue the chain');
    expect(() => insert.run(last.seq + 1, first.hash, 'f'.repeat(64))).toThrow('continue the chain');
  }));
