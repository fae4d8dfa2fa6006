/** One saved book of every release still opens, with what it held. */
import { copyFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { openBook } from '../../db/book.ts';
import { fixedClock } from '../../service/clock.ts';
import { createService } from '../../service/service.ts';
import { NOW, temporaryFolder } from '../support/books.ts';

const saved = [
  {
    release: '0.1.0',
    headHash: '7052f0deae19d60643da491ae02b8cf4eb6898bc68e64447e9d31b5de10152d8',
    drift: [null, -126],
  },
];

it.each(saved)('the book of $release', async ({ release, headHash, drift }) => {
  const file = path.join(temporaryFolder(), 'old.book');
  copyFileSync(fileURLToPath(new URL(`../fixtures/books/${release}.book`, import.meta.url)), file);
  const service = createService({ book: await openBook(file), clock: fixedClock(NOW), checkAnswers: true });
  expect(await service.runJob('records.verify', {})).toMatchObject({ sound: true, problems: [], headHash });
  const { series } = await service.call('drift.ofTag', { tag: 'TR-0.2', role: 'occupied' });
  expect(series[0].points.map((point) => point.driftMilli)).toEqual(drift);
  expect((await service.call('rounds.list', {})).rounds).toMatchObject([{ status: 'issued' }]);
  expect((await service.call('rounds.overview', {})).moved).toBe(null);
  await service.close();
});
