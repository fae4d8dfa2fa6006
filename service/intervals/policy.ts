/** The policy that intervals are recommended by, as the book keeps it. */
import type { BookDb } from '../../db/book.ts';
import { readSetting } from '../../db/settings.ts';
import { defaultIntervalPolicy } from '../../shared/contract/intervals.ts';
import type { IntervalPolicy } from '../../shared/stats/recommend.ts';

export async function intervalPolicyOf(db: BookDb): Promise<{ value: IntervalPolicy; version: number }> {
  return readSetting<IntervalPolicy>(db, 'intervals', defaultIntervalPolicy);
}
