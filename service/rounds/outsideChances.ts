/** The chance that each due point will be found outside about when it is due: what the price of a day late follows. */
import type { BookDb } from '../../db/book.ts';
import { everywhere } from '../../db/driftPoints.ts';
import { addDays } from '../../shared/dates/plainDate.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { outsideChance } from '../../shared/stats/urgency.ts';
import { walkHistories } from '../drift/walk.ts';

const quiet = { progress: () => undefined, cancelled: () => false };

/** The mean of the chances on the due date and at the end of the tolerated window; points whose record says nothing are left out. */
export async function outsideChances(
  db: BookDb,
  due: readonly { id: number; dueOn: string }[],
  lateDays: number,
): Promise<Map<number, number>> {
  const dueOf = new Map(due.map(({ id, dueOn }) => [id, dueOn]));
  const chances = new Map<number, number>();
  await walkHistories(db, everywhere, quiet, ({ row, points, toleranceMilli, side }) => {
    const dueOn = dueOf.get(row.id);
    if (dueOn === undefined) return;
    const statistics = driftStatistics(points, toleranceMilli, { side });
    const both = [dueOn, addDays(dueOn, lateDays)].map((on) =>
      outsideChance(statistics, toleranceMilli / 1000, on),
    );
    if (both[0] !== null && both[1] !== null) chances.set(row.id, (both[0] + both[1]) / 2);
  });
  return chances;
}
