/** Who may be chosen for a record. */
import type { BookDb } from './book.ts';

/** People who are active, by their initials. */
export async function activePeople(db: BookDb) {
  return db
    .selectFrom('person')
    .select(['id', 'name', 'initials'])
    .where('active', '=', 1)
    .orderBy('initials')
    .execute();
}
