import { sql } from 'kysely';
import type { Kysely } from 'kysely';

/** Two more ways to work on a main: from a portable supply, and held where it was left in a shut building. */
export async function up(db: Kysely<unknown>): Promise<void> {
  await sql`alter table main add column portable_minutes integer check (portable_minutes between 1 and 240)`.execute(
    db,
  );
  await sql`alter table main add column held text check (held in ('yes', 'no'))`.execute(db);
}
