/** Settings kept as small JSON values with a version each. */
import type { BookDb } from './book.ts';

export type Setting<T> = { value: T; version: number };

/** A setting, or its starting value at version 0 when the book has none yet. */
export async function readSetting<T>(db: BookDb, key: string, start: T): Promise<Setting<T>> {
  const row = await db
    .selectFrom('setting')
    .select(['value_json', 'version'])
    .where('key', '=', key)
    .executeTakeFirst();
  return row
    ? { value: JSON.parse(row.value_json) as T, version: row.version }
    : { value: start, version: 0 };
}

/** Stores a setting and counts its version up. */
export async function writeSetting(db: BookDb, key: string, value: unknown, version: number): Promise<void> {
  const value_json = JSON.stringify(value);
  await db
    .insertInto('setting')
    .values({ key, value_json, version: version + 1 })
    .onConflict((oc) => oc.column('key').doUpdateSet({ value_json, version: version + 1 }))
    .execute();
}
