import { sql } from 'kysely';
import type { Kysely } from 'kysely';

/** What a re-draw moved, with its reasons: the list is read long after the draw. Null for a round drawn anew. */
export async function up(db: Kysely<unknown>): Promise<void> {
  await sql`alter table round add column moved_json text check (json_valid(moved_json))`.execute(db);
}
