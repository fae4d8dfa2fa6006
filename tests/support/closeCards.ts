/** Closes bench cards one after another and prints each record's id once it is acknowledged; meant to be killed. */
import { openBook } from '../../db/book.ts';
import { fixedClock } from '../../service/clock.ts';
import { createService } from '../../service/service.ts';
import { cardOf, closing, heldEntry } from './bench.ts';

const [, , file, start, floor] = process.argv;
const service = createService({ book: await openBook(file), clock: fixedClock('2026-11-25T09:00:00Z') });
for (let index = Number(start) * 40; ; index += 1) {
  // Several programs at once keep to a floor each: two on one card would be a conflict, and rightly so.
  const level = floor ?? String((index % 4) + 1);
  const tag = `TC-N${level}-${String((Math.floor(index / 4) % 11) + 1).padStart(2, '0')}`;
  const card = await cardOf(service, tag);
  const closed = await service.call('bench.close', closing(card, [heldEntry(card, 'occupied')]));
  process.stdout.write(`${closed.records[0].calibrationId}\n`);
}
