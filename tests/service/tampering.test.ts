/** Somebody goes at a book with another program: every edit of a record is refused, or found and named. */
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import { afterAll } from 'vitest';
import { connect } from '../../db/driver.ts';
import type { Connection } from '../../db/driver.ts';
import { GENESIS_HASH, canonicalJson, chainHash } from '../../db/ledger.ts';
import { openBook } from '../../db/book.ts';
import { fixedClock } from '../../service/clock.ts';
import { createService } from '../../service/service.ts';
import { createRandom } from '../../shared/planning/random.ts';
import type { Random } from '../../shared/planning/random.ts';
import { makeSmallBook, verifyFile } from '../support/smallBook.ts';

const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-tamper-'));
const sound = path.join(folder, 'sound.book');
let copies = 0;

beforeAll(async () => {
  await makeSmallBook(sound);
  const connection = connect(sound);
  connection.pragma('wal_checkpoint(TRUNCATE)');
  connection.pragma('journal_mode = DELETE');
  connection.close();
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function copyOfBook(): string {
  copies += 1;
  const file = path.join(folder, `copy${copies}.book`);
  copyFileSync(sound, file);
  return file;
}

const recordTables = [
  'calibration',
  'reading',
  'correction',
  'replacement',
  'setting_change',
  'gauge_certificate',
  'instrument_fault',
  'air_test',
  'air_test_reading',
  'leak',
  'leak_mended',
  'ledger',
] as const;
const kindOf: Partial<Record<(typeof recordTables)[number], string>> = {
  calibration: 'calibration',
  correction: 'correction',
  replacement: 'replacement',
  setting_change: 'setting change',
  gauge_certificate: 'certificate',
  instrument_fault: 'instrument fault',
  air_test: 'air test',
  leak: 'leak',
  leak_mended: 'leak mended',
};

type Trigger = { name: string; sql: string };

/** Works on a book as an attacker would: no triggers, no checks, no foreign keys; the triggers are put back after. */
function attack<T>(connection: Connection, work: () => T): T {
  const triggers = connection
    .prepare("select name, sql from sqlite_schema where type = 'trigger'")
    .all() as Trigger[];
  connection.pragma('foreign_keys = OFF');
  connection.pragma('ignore_check_constraints = ON');
  for (const { name } of triggers) connection.exec(`drop trigger ${name}`);
  const answer = work();
  for (const { sql } of triggers) connection.exec(sql);
  return answer;
}

async function verdictAfter(
  work: (connection: Connection) => void,
  anchor: { entries: number; headHash: string } | null = null,
) {
  const file = copyOfBook();
  const connection = connect(file);
  attack(connection, () => work(connection));
  connection.close();
  const report = await verifyFile(file, anchor);
  return {
    sound: report.sound,
    entry: report.firstBadEntry,
    checks: report.problems.map(({ check }) => check),
  };
}

function headOf(file: string): { entries: number; headHash: string } {
  const connection = connect(file);
  const head = connection
    .prepare('select seq as entries, hash as headHash from ledger order by seq desc limit 1')
    .get();
  connection.close();
  return head as { entries: number; headHash: string };
}

function seqOf(connection: Connection, kind: string, id: number): number {
  return (
    connection.prepare('select seq from ledger where kind = ? and record_id = ?').get(kind, id) as {
      seq: number;
    }
  ).seq;
}

describe('through SQL, as the program opens it', () => {
  it.each(recordTables)('%s: update, delete, replace and upsert are refused', (table) => {
    const connection = connect(copyOfBook());
    const key = table === 'ledger' ? 'seq' : 'id';
    for (const statement of [
      `update ${table} set ${key} = ${key} where ${key} = 1`,
      `delete from ${table} where ${key} = 1`,
      `insert or replace into ${table} select * from ${table} where ${key} = 1`,
      `insert into ${table} select * from ${table} where ${key} = 1 on conflict (${key}) do update set ${key} = ${key}`,
    ])
      expect(() => connection.exec(statement), statement).toThrow('append-only');
    connection.close();
  });
});

describe('with the triggers out of the way', () => {
  it('the book is sound before, and holds every kind of entry', async () => {
    expect(await verifyFile(sound)).toMatchObject({ sound: true, problems: [] });
    const connection = connect(sound);
    const kinds = connection.prepare('select distinct kind from ledger order by kind').pluck().all();
    connection.close();
    expect(kinds).toEqual([
      'air test',
      'calibration',
      'certificate',
      'correction',
      'instrument fault',
      'issued round',
      'leak',
      'leak mended',
      'replacement',
      'setting change',
    ]);
  });

  it('a trigger that is gone, changed, or added is named', async () => {
    const edited = async (statement: string): Promise<string[]> => {
      const file = copyOfBook();
      const connection = connect(file);
      connection.exec(statement);
      connection.close();
      return (await verifyFile(file)).problems.map(({ detail }) => detail);
    };
    expect(await edited('drop trigger reading_never_updated')).toEqual([
      expect.stringContaining('reading_never_updated is missing'),
    ]);
    expect(
      await edited(
        "drop trigger reading_never_updated; create trigger reading_never_updated before update on reading when 0 begin select raise(abort, 'x'); end",
      ),
    ).toEqual([expect.stringContaining('reading_never_updated was changed')]);
    expect(
      await edited(
        'create trigger helpful after insert on calibration begin update test_point set due_on = null; end',
      ),
    ).toEqual([expect.stringContaining('helpful is not one of the program’s')]);
  });

  it('an edited record, with its trigger dropped and put back, is named by its entry', async () => {
    const connection = connect(sound);
    const seq = seqOf(connection, 'calibration', 2);
    connection.close();
    expect(
      await verdictAfter((c) => c.exec("update calibration set note = 'nothing to see' where id = 2")),
    ).toMatchObject({ sound: false, entry: seq });
    expect(await verdictAfter((c) => c.exec('delete from calibration where id = 2'))).toMatchObject({
      sound: false,
      entry: seq,
    });
    expect(await verdictAfter((c) => c.exec('delete from reading where calibration_id = 2'))).toMatchObject({
      sound: false,
      entry: seq,
    });
    expect(await verdictAfter((c) => c.exec('delete from ledger where seq = 5'))).toMatchObject({
      sound: false,
      entry: 6,
    });
  });

  it('a record slipped in beside the chain is found', async () => {
    const slipped = await verdictAfter((c) =>
      c.exec(
        "insert into calibration select 900, test_point_id, '2026-11-22', started_at, ended_at, person_id, outcome, source, unit, method, method_version, decision_rule, error_found_milli, found_relation, verdict_found, error_left_milli, left_relation, verdict_left, doubt_milli, doubt_left_milli, conformance_found_ppm, conformance_left_ppm, pressure_gauge_id, temperature_gauge_id, supply_right, snapshot_json, note, null from calibration where id = 1",
      ),
    );
    expect([slipped.sound, slipped.checks.includes('record')]).toEqual([false, true]);
  });

  it('an entry put in before the first one is found', async () => {
    const { checks } = await verdictAfter((connection) => {
      connection.exec(
        `insert into ledger select -1, kind, record_id, at, entry_json, prev_hash, lower(hex(randomblob(32))) from ledger where seq = 2`,
      );
    });
    expect(checks).toContain('chain');
  });

  it('another person, tag or test point behind a record is found', async () => {
    for (const edit of [
      "update person set name = 'Somebody Else'",
      "update person set initials = 'ZZ' where id = (select person_id from calibration limit 1)",
      'update device set tag = tag || 9',
      "update test_point set role = role || 'x'",
    ]) {
      const { checks } = await verdictAfter((connection) => connection.exec(edit));
      expect([edit, checks]).toEqual([edit, expect.arrayContaining(['names'])]);
    }
  });

  it('a rename that the chain holds covers no other', async () => {
    const rename = (to: string) => (connection: Connection) => {
      connection.exec(`update person set name = '${to}' where id = 1`);
    };
    const file = copyOfBook();
    const service = createService({ book: await openBook(file), clock: fixedClock('2026-11-25T09:00:00Z') });
    const { people } = await service.call('settings.all', {});
    const [{ version, ...person }] = people.filter(({ id }) => id === 1);
    await service.call('settings.savePerson', { ...person, version, name: 'Una Larch' });
    await service.close();
    expect((await verifyFile(file, null)).sound).toBe(true);
    const connection = connect(file);
    attack(connection, () => rename('Somebody Else')(connection));
    connection.close();
    expect((await verifyFile(file, null)).problems.map(({ check }) => check)).toContain('names');
  });

  it('a table that is gone is found, and the check goes on', async () => {
    for (const table of ['ledger', 'reading']) {
      const file = copyOfBook();
      const connection = connect(file);
      connection.pragma('foreign_keys = OFF');
      connection.exec(`drop table ${table}`);
      connection.close();
      const { sound, problems } = await verifyFile(file, null);
      expect([table, sound, problems.length > 0]).toEqual([table, false, true]);
    }
  });

  it('two swapped entries are named', async () => {
    const swapped = await verdictAfter((c) => {
      c.exec(
        'update ledger set seq = -7 where seq = 7; update ledger set seq = 7 where seq = 8; update ledger set seq = 8 where seq = -7',
      );
    });
    expect(swapped).toMatchObject({ sound: false, entry: 7 });
    const contents = await verdictAfter((c) => {
      const rows = c
        .prepare('select seq, kind, record_id, at, entry_json from ledger where seq in (7, 8) order by seq')
        .all() as Record<string, unknown>[];
      const set = c.prepare(
        'update ledger set kind = @kind, record_id = @record_id, at = @at, entry_json = @entry_json where seq = @seq',
      );
      set.run({ ...rows[0], seq: 8 });
      set.run({ ...rows[1], seq: 7 });
    });
    expect(contents).toMatchObject({ sound: false, entry: 7 });
  });

  it('a removed tail is found against an anchor, which names where the book ends', async () => {
    const anchor = headOf(sound);
    const cut = await verdictAfter((c) => {
      const last = c.prepare('select seq, kind from ledger order by seq desc limit 1').get() as {
        seq: number;
        kind: string;
      };
      expect(last.kind).toBe('issued round');
      c.exec(`delete from ledger where seq = ${last.seq}`);
    }, anchor);
    expect(cut).toMatchObject({
      sound: false,
      entry: anchor.entries,
      checks: expect.arrayContaining(['anchor']),
    });
    expect(await verifyFile(sound, anchor)).toMatchObject({ sound: true });
  });

  it('a whole chain made anew over a changed record passes alone, and fails against an anchor', async () => {
    const anchor = headOf(sound);
    const rewrite = (c: Connection): void => {
      c.exec("update calibration set note = 'never happened' where id = 2");
      const rows = c.prepare('select seq, kind, record_id, entry_json from ledger order by seq').all() as {
        seq: number;
        kind: string;
        record_id: number;
        entry_json: string;
      }[];
      let prev = GENESIS_HASH;
      for (const row of rows) {
        let text = row.entry_json;
        if (row.kind === 'calibration' && row.record_id === 2) {
          const entry = JSON.parse(text) as { content: { row: { note: string } } };
          entry.content.row.note = 'never happened';
          text = canonicalJson(entry);
        }
        const hash = chainHash(prev, text);
        c.prepare('update ledger set entry_json = ?, prev_hash = ?, hash = ? where seq = ?').run(
          text,
          prev,
          hash,
          row.seq,
        );
        prev = hash;
      }
    };
    expect(await verdictAfter(rewrite)).toMatchObject({ sound: true });
    expect(await verdictAfter(rewrite, anchor)).toMatchObject({
      sound: false,
      entry: anchor.entries,
      checks: ['anchor'],
    });
    // An older anchor, from before the changed record, still holds: it proves what lies before it.
    const connection = connect(sound);
    const early = connection
      .prepare('select seq as entries, hash as headHash from ledger where seq = 1')
      .get() as typeof anchor;
    connection.close();
    expect(await verdictAfter(rewrite, early)).toMatchObject({ sound: true });
  });
});

type Edit = {
  table: (typeof recordTables)[number];
  key: number;
  column: string;
  before: unknown;
  after: unknown;
  seq: number | null;
};

/** Another value for a field: a figure off by a little, a text with one character changed, something for nothing. */
function otherValue(value: unknown, random: Random): unknown {
  if (value === null) return random.integer(0, 1) === 0 ? 7 : 'x';
  if (typeof value === 'number') return value + (random.integer(0, 1) === 0 ? 1 : -1);
  const text = String(value);
  if (text === '') return 'x';
  const at = random.integer(0, text.length - 1);
  const code = text.codePointAt(at) ?? 65;
  return text.slice(0, at) + String.fromCodePoint(code === 90 ? 65 : code + 1) + text.slice(at + 1);
}

function randomEdit(connection: Connection, random: Random): Edit {
  const table = recordTables[random.integer(0, recordTables.length - 1)];
  const key = table === 'ledger' ? 'seq' : 'id';
  const count = connection.prepare(`select count(*) from ${table}`).pluck().get() as number;
  const row = connection
    .prepare(`select * from ${table} order by ${key} limit 1 offset ?`)
    .get(random.integer(0, count - 1)) as Record<string, unknown>;
  const columns = Object.keys(row);
  const column = columns[random.integer(0, columns.length - 1)];
  const id = row[key] as number;
  const owner =
    table === 'reading'
      ? seqOf(connection, 'calibration', row.calibration_id as number)
      : table === 'air_test_reading'
        ? seqOf(connection, 'air test', row.air_test_id as number)
        : null;
  const kind = kindOf[table];
  const seq = table === 'ledger' ? id : kind ? seqOf(connection, kind, id) : owner;
  return { table, key: id, column, before: row[column], after: otherValue(row[column], random), seq };
}

it('of 1,000 random edits of single fields none goes unseen, and the entry is named', async () => {
  const random = createRandom(4);
  const file = copyOfBook();
  const missed: Edit[] = [];
  const misnamed: (Edit & { named: number | null })[] = [];
  let refused = 0;
  for (let count = 0; count < 1_000; count += 1) {
    const connection = connect(file);
    const edit = randomEdit(connection, random);
    const key = edit.table === 'ledger' ? 'seq' : 'id';
    const now = edit.column === key ? edit.after : edit.key;
    let isRefused = false;
    attack(connection, () => {
      try {
        connection
          .prepare(`update ${edit.table} set ${edit.column} = ? where ${key} = ?`)
          .run(edit.after, edit.key);
      } catch {
        isRefused = true;
      }
    });
    connection.close();
    if (isRefused) refused += 1;
    else {
      const report = await verifyFile(file);
      if (report.sound) missed.push(edit);
      else if (report.firstBadEntry !== edit.seq && !isElsewhere(edit))
        misnamed.push({ ...edit, named: report.firstBadEntry });
      const again = connect(file);
      attack(again, () =>
        again.prepare(`update ${edit.table} set ${edit.column} = ? where ${key} = ?`).run(edit.before, now),
      );
      again.close();
    }
  }
  expect(missed).toEqual([]);
  expect(misnamed).toEqual([]);
  expect(refused).toBeLessThan(200);
  expect(await verifyFile(file)).toMatchObject({ sound: true });
}, 300_000);

/** Edits whose place is told by another entry, or in words: a moved row, a number of its own, a link to another record. */
function isElsewhere({ table, column }: Edit): boolean {
  if (column === 'id' || column === 'seq') return true;
  if (table === 'ledger') return column === 'hash' || column === 'record_id' || column === 'kind';
  return column === 'calibration_id' || column === 'card_id' || column === 'air_test_id';
}

/** Everything that the record tables hold, as the driver reads it; null when it cannot be read. */
function contentsOf(file: string): string | null {
  const connection = connect(file);
  try {
    return JSON.stringify(
      recordTables.map((table) => connection.prepare(`select * from ${table} order by 1`).all()),
    );
  } catch {
    return null;
  } finally {
    connection.close();
  }
}

it('of 300 random bytes changed in the records within the file none goes unseen', async () => {
  const random = createRandom(5);
  const bytes = readFileSync(sound);
  const before = contentsOf(sound);
  const connection = connect(sound);
  const texts = connection
    .prepare('select entry_json from ledger union all select snapshot_json from calibration')
    .pluck()
    .all() as string[];
  connection.close();
  // Long texts lie partly on pages of their own; the first part stands whole in the file.
  const starts = new Set(
    texts.flatMap((text) => {
      const needle = Buffer.from(text, 'utf8').subarray(0, 160);
      const found: number[] = [];
      for (let at = bytes.indexOf(needle); at >= 0; at = bytes.indexOf(needle, at + 1)) found.push(at);
      return found;
    }),
  );
  const spans = [...starts];
  let missed = 0;
  let counted = 0;
  for (let count = 0; counted < 300; count += 1) {
    const at = spans[random.integer(0, spans.length - 1)] + random.integer(0, 159);
    // A name of its own each time: a log of the book before must not lie beside it.
    const file = path.join(folder, `bytes${count}.book`);
    const changed = Buffer.from(bytes);
    changed[at] = (changed[at] + random.integer(1, 255)) % 256;
    writeFileSync(file, changed);
    // Pages keep old copies of what they held, out of use: a byte there changes no record.
    if (contentsOf(file) !== before) {
      counted += 1;
      try {
        if ((await verifyFile(file)).sound) missed += 1;
      } catch {
        // A book that does not open any more is found, too.
      }
    }
    rmSync(file, { force: true });
  }
  expect(missed).toBe(0);
}, 300_000);
