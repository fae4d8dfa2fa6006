/** Who may be chosen for a record. */
import type { BookDb } from './book.ts';

/** People who are active, by their initials, and one more who may have left. */
export async function activePeople(db: BookDb, besides: number = 0) {
  return db
    .selectFrom('person')
    .select(['id', 'name', 'initials'])
    .where((eb) => eb.or([eb('active', '=', 1), eb('id', '=', besides)]))
    .orderBy('initials')
    .execute();
}

/** Initials of some people, by id. */
export async function initialsOf(db: BookDb, ids: readonly number[]): Promise<Map<number, string>> {
  if (ids.length === 0) return new Map();
  const rows = await db
    .selectFrom('person')
    .select(['id', 'initials'])
    .where('id', 'in', [...new Set(ids)])
    .execute();
  return new Map(rows.map((row) => [row.id, row.initials]));
}
