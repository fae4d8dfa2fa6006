/** Writes checked rows, keeps what each change was, and refreshes what follows from them. One transaction. */
import type { BookDb } from '../../db/book.ts';
import { refreshDerived } from '../../db/derived.ts';
import { appendSettingChange } from '../../db/records.ts';
import { writeRegisterRows } from '../../db/registerWrite.ts';
import { columnsOf } from '../../shared/register/columns.ts';
import { rowKey } from '../../shared/register/row.ts';
import type { RegisterRow, RowValues } from '../../shared/register/row.ts';

export type RowChange = RegisterRow & { before: RowValues | null };

/** True when two rows say the same, column by column. */
export function isSameRow(rowClass: RegisterRow['rowClass'], a: RowValues, b: RowValues): boolean {
  return columnsOf(rowClass).every(({ name }) => (a[name] ?? '') === (b[name] ?? ''));
}

/** Devices standing in places whose row changed: their words for full-text find follow. */
async function devicesInPlaces(db: BookDb, rows: readonly RegisterRow[]): Promise<number[]> {
  const ids: number[] = [];
  for (const { rowClass, values } of rows) {
    if (rowClass !== 'building' && rowClass !== 'level' && rowClass !== 'room') continue;
    let query = db
      .selectFrom('device as d')
      .innerJoin('building as b', 'b.id', 'd.building_id')
      .leftJoin('level as l', 'l.id', 'd.level_id')
      .leftJoin('room as r', 'r.id', 'd.room_id')
      .select('d.id')
      .where('b.code', '=', values.building);
    if (rowClass === 'level') query = query.where('l.code', '=', values.level);
    if (rowClass === 'room') query = query.where('r.code', '=', values.room);
    ids.push(...(await query.execute()).map((row) => row.id));
  }
  return ids;
}

/** Applies changes inside the caller's transaction. `by.tick` is called as it goes, and may throw to give up. */
export async function applyRows(
  db: BookDb,
  changes: readonly RowChange[],
  by: { at: string; personId: number | null; why: string; tick?: () => void },
): Promise<void> {
  const touched = await writeRegisterRows(db, changes, by.tick);
  const updated = changes.filter((change) => change.before !== null);
  const moved = await devicesInPlaces(db, updated);
  for (const change of updated) {
    const { before, rowClass, values } = change;
    const tag = values.tag;
    const device =
      tag === undefined
        ? undefined
        : await db.selectFrom('device').select('id').where('tag', '=', tag).executeTakeFirst();
    for (const { name } of columnsOf(rowClass)) {
      const from = before?.[name] ?? null;
      const to = values[name] ?? null;
      if (from === to) continue;
      await appendSettingChange(db, {
        what: name,
        subject: rowKey(rowClass, values),
        device_id: device?.id ?? null,
        from_value: from,
        to_value: to,
        at: by.at,
        person_id: by.personId,
        why: by.why,
      });
    }
  }
  await refreshDerived(db, [...new Set([...touched, ...moved])], by.tick);
}
