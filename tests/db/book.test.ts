import {
  chmodSync,
  copyFileSync,
  existsSync,
  readFileSync,
  readdirSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import path from 'node:path';
import Database from 'better-sqlite3';
import { sql } from 'kysely';
import { describe, expect, it } from 'vitest';
import { backUpBook, createBook, openBook, restoreBook, writeBook } from '../../db/book.ts';
import { connect } from '../../db/driver.ts';
import { migrateConnection } from '../../db/migrate.ts';
import { migrations } from '../../migrations/index.ts';
import { sampleFile, temporaryFolder } from '../support/books.ts';

async function emptyFile(): Promise<string> {
  const file = path.join(temporaryFolder(), 'a.book');
  await (await createBook(file)).close();
  return file;
}

describe('a file that is not a sound book is refused and stays as it was', () => {
  async function expectRefusal(file: string, code: string): Promise<void> {
    const before = readFileSync(file);
    await expect(openBook(file)).rejects.toMatchObject({ code });
    expect(readFileSync(file).equals(before)).toBe(true);
  }
  it('a text file', async () => {
    const file = path.join(temporaryFolder(), 'a.book');
    writeFileSync(file, 'not a database, however long '.repeat(50));
    await expectRefusal(file, 'book_not_a_book');
  });
  it('an empty file', async () => {
    const file = path.join(temporaryFolder(), 'a.book');
    writeFileSync(file, '');
    await expectRefusal(file, 'book_not_a_book');
  });
  it('another program’s database', async () => {
    const file = path.join(temporaryFolder(), 'a.book');
    const other = new Database(file);
    other.exec('create table t (x)');
    other.close();
    await expectRefusal(file, 'book_not_a_book');
  });
  it('a truncated book', async () => {
    const file = sampleFile();
    truncateSync(file, 40_000);
    await expectRefusal(file, 'book_damaged');
  });
  it('a book whose schema page is scrambled', async () => {
    const file = await emptyFile();
    const bytes = readFileSync(file);
    bytes.fill(0x5a, 100, 4000);
    writeFileSync(file, bytes);
    await expectRefusal(file, 'book_damaged');
  });
  it('a book of a newer program', async () => {
    const file = await emptyFile();
    const future = new Database(file);
    future
      .prepare('insert into kysely_migration (name, timestamp) values (?, ?)')
      .run('209901010000_beyond', '2099-01-01');
    future.pragma('wal_checkpoint(TRUNCATE)');
    future.close();
    await expectRefusal(file, 'book_from_future');
  });
  it('a read-only book', async () => {
    const file = await emptyFile();
    chmodSync(file, 0o444);
    await expectRefusal(file, 'book_read_only');
  });
  it('a folder, and a file that is not there', async () => {
    const folder = temporaryFolder();
    await expect(openBook(folder)).rejects.toMatchObject({ code: 'book_not_a_book' });
    await expect(openBook(path.join(folder, 'none.book'))).rejects.toMatchObject({ code: 'not_found' });
    expect(existsSync(path.join(folder, 'none.book'))).toBe(false);
  });
  it('a new book is never made over something that exists', async () => {
    const file = path.join(temporaryFolder(), 'a.book');
    writeFileSync(file, 'precious');
    await expect(createBook(file)).rejects.toMatchObject({ code: 'conflict' });
    expect(readFileSync(file, 'utf8')).toBe('precious');
  });
});

describe('handles', () => {
  it('the reader cannot write', async () => {
    const book = await openBook(await emptyFile());
    await expect(
      sql`insert into day_off (on_date) values ('2027-01-01')`.execute(book.reader),
    ).rejects.toThrow('readonly');
    await book.close();
  });
  it('a unit of work that throws leaves nothing', async () => {
    const book = await openBook(await emptyFile());
    await expect(
      writeBook(book, async (db) => {
        await db.insertInto('day_off').values({ on_date: '2027-01-01' }).execute();
        throw new Error('half way');
      }),
    ).rejects.toThrow('half way');
    expect(await book.reader.selectFrom('day_off').select('id').execute()).toEqual([]);
    await book.close();
  });
  it('commits are durable: write-ahead log, synchronous full, keys and triggers on', async () => {
    const book = await openBook(await emptyFile());
    const pragma = (name: string): unknown => book.writerConnection.pragma(name, { simple: true });
    expect([
      pragma('journal_mode'),
      pragma('synchronous'),
      pragma('foreign_keys'),
      pragma('recursive_triggers'),
      pragma('trusted_schema'),
    ]).toEqual(['wal', 2, 1, 1, 0]);
    await book.close();
  });
});

describe('migrations', () => {
  const broken = {
    ...migrations,
    '209901010000_breaks': {
      up: async (db: never) =>
        void (
          await sql`create table half (x integer) strict`.execute(db),
          await sql`select * from nowhere`.execute(db)
        ),
    },
  };
  it('one that fails leaves schema and rows as they were, and a backup beside the book', async () => {
    const file = sampleFile();
    const before = connect(file);
    const schema = before.prepare('select sql from sqlite_schema order by name').all();
    before.close();
    await expect(openBook(file, broken)).rejects.toThrow('nowhere');
    const after = connect(file);
    expect(after.prepare('select sql from sqlite_schema order by name').all()).toEqual(schema);
    expect(after.prepare('select count(*) as n from calibration').get()).toEqual({ n: expect.any(Number) });
    after.close();
    const backups = readdirSync(path.join(path.dirname(file), 'backups'));
    expect(backups).toHaveLength(1);
    const backup = await openBook(path.join(path.dirname(file), 'backups', backups[0]));
    expect((await backup.reader.selectFrom('calibration').select('id').limit(1).execute()).length).toBe(1);
    await backup.close();
  });
  it('a pending one runs after a backup, and the book opens', async () => {
    const file = sampleFile();
    const more = {
      ...migrations,
      '209901010000_adds': {
        up: async (db: never) => void (await sql`create table more (x integer) strict`.execute(db)),
      },
    };
    const book = await openBook(file, more);
    expect(await sql<{ n: number }>`select count(*) as n from more`.execute(book.reader)).toMatchObject({
      rows: [{ n: 0 }],
    });
    await book.close();
    expect(readdirSync(path.join(path.dirname(file), 'backups'))).toHaveLength(1);
  });
  it('the list holds every file of the folder, in order', () => {
    const files = readdirSync(new URL('../../migrations', import.meta.url))
      .filter((name) => /^\d/.test(name))
      .map((name) => name.replace('.ts', ''));
    expect(Object.keys(migrations)).toEqual(files.sort());
    for (const name of files) expect(name).toMatch(/^\d{12}_[a-z0-9_]+$/);
  });
  it('the whole chain on an empty file equals the committed schema', async () => {
    const connection = connect(':memory:');
    await migrateConnection(connection);
    const rows = connection
      .prepare(
        "select sql from sqlite_schema where sql is not null and name not like 'kysely%' and name not like 'device_search_%' order by type, name",
      )
      .all() as { sql: string }[];
    connection.close();
    await expect(`${rows.map((row) => row.sql).join(';\n\n')};\n`).toMatchFileSnapshot(
      '../fixtures/schema.sql',
    );
  });
  it('every table is STRICT', async () => {
    const connection = connect(':memory:');
    await migrateConnection(connection);
    const loose = connection
      .prepare(
        "select name from pragma_table_list where schema = 'main' and type = 'table' and strict = 0 and name not like 'sqlite_%' and name not like 'kysely_%' and name not like 'device_search%'",
      )
      .all();
    connection.close();
    expect(loose).toEqual([]);
  });
});

describe('backup and restore', () => {
  it('a restored backup holds what the book held, and nothing is written over', async () => {
    const file = sampleFile();
    const folder = path.dirname(file);
    const book = await openBook(file);
    const copy = path.join(folder, 'copy.book');
    await backUpBook(book, copy);
    await expect(backUpBook(book, copy)).rejects.toMatchObject({ code: 'conflict' });
    await book.close();
    const restored = path.join(folder, 'restored.book');
    await restoreBook(copy, restored);
    await expect(restoreBook(copy, restored)).rejects.toMatchObject({ code: 'conflict' });
    const again = await openBook(restored);
    expect(
      (
        await again.reader
          .selectFrom('device')
          .select((eb) => eb.fn.countAll<number>().as('n'))
          .executeTakeFirstOrThrow()
      ).n,
    ).toBeGreaterThan(400);
    await again.close();
  });
  it('a damaged backup is refused and leaves nothing behind', async () => {
    const file = sampleFile();
    const bad = path.join(path.dirname(file), 'bad.book');
    copyFileSync(file, bad);
    truncateSync(bad, 50_000);
    const target = path.join(path.dirname(file), 'target.book');
    await expect(restoreBook(bad, target)).rejects.toMatchObject({ code: 'book_damaged' });
    expect(existsSync(target)).toBe(false);
  });
});
