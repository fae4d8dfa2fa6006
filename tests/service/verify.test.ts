import { describe, expect, it } from 'vitest';
import { connect } from '../../db/driver.ts';
import { openBook } from '../../db/book.ts';
import { createService } from '../../service/service.ts';
import { fixedClock } from '../../service/clock.ts';
import { NOW, sampleFile, sampleService } from '../support/books.ts';

/** What `verify` says of the sample book after somebody went at it with another program. */
async function verifyAfter(statements: string[]) {
  const file = sampleFile();
  const connection = connect(file);
  for (const statement of statements) connection.exec(statement);
  connection.close();
  const service = createService({ book: await openBook(file), clock: fixedClock(NOW) });
  const report = await service.runJob('records.verify', {});
  await service.close();
  return report;
}

const dropAll = ['calibration', 'reading', 'ledger'].flatMap((table) => [
  `drop trigger ${table}_never_updated`,
  `drop trigger ${table}_never_deleted`,
]);

// The drawer's four certificates stand in the chain before the first record.
describe('verify', () => {
  it('finds nothing in a book that nobody touched', async () =>
    expect(await verifyAfter([])).toMatchObject({ sound: true, problems: [], firstBadEntry: null }));
  it('nor after the register was searched and edited while it was open', async () => {
    const service = await sampleService();
    const search = () => service.call('register.list', { find: 'hall' });
    await search();
    const { id } = await service.call('register.find', { tag: 'HM-N' });
    const page = await service.call('register.device', { id: id ?? 0 });
    await service.call('register.save', {
      rowClass: 'main',
      cells: { ...page.values, name: 'Hall of the north' },
      version: page.version,
    });
    expect(await service.runJob('records.verify', {})).toMatchObject({ sound: true, problems: [] });
    await search();
    expect(await service.runJob('records.verify', {})).toMatchObject({ sound: true, problems: [] });
  });
  it.each([
    [
      'a changed reading',
      ['update reading set value_milli = value_milli + 100 where calibration_id = 40'],
      44,
    ],
    ['a changed error', ['update calibration set error_found_milli = 0 where id = 55'], 59],
    ['a removed reading', ['delete from reading where calibration_id = 12 and position = 1'], 16],
    [
      'a changed entry',
      ["update ledger set entry_json = replace(entry_json, 'held', 'adjusted') where seq = 70"],
      70,
    ],
    [
      'two entries with their hashes swapped',
      ["update ledger set hash = 'x' || substr(hash, 2) where seq = 80"],
      80,
    ],
  ])('names the first bad entry: %s', async (_words, statements, seq) => {
    const report = await verifyAfter([...dropAll, ...statements]);
    expect([report.sound, report.firstBadEntry]).toEqual([false, seq]);
  });
  it('misses no trigger', async () =>
    expect((await verifyAfter(['drop trigger reading_never_updated'])).problems).toMatchObject([
      { check: 'append-only', detail: expect.stringContaining('reading_never_updated') },
    ]));
  it('recomputes due dates', async () =>
    expect(
      (await verifyAfter(["update test_point set due_on = '2030-01-01' where id = 9"])).problems,
    ).toMatchObject([{ check: 'due date' }]));
  it('finds a record that was slipped in beside the chain', async () => {
    const report = await verifyAfter([
      "insert into setting_change (what, subject, at) values ('dial', 'x', '2026-01-01T00:00:00Z')",
    ]);
    expect(report.problems).toMatchObject([{ check: 'record', detail: expect.stringContaining('no entry') }]);
  });
});
