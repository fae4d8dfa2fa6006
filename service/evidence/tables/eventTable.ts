/** events.csv: what shifts a baseline. */
import { sql } from 'kysely';
import type { BookDb } from '../../../db/book.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';
import { isWithin, once, roleOf, text } from './cells.ts';
import type { Cells } from './cells.ts';

export const eventColumns = ['date', 'kind', 'asset', 'count', 'what', 'from', 'to', 'why', 'person'];

/** events.csv: what shifts a baseline, by day. */
export async function eventTable(db: BookDb, resolved: Resolved): Promise<CsvRows> {
  const { deviceIds, pointIds } = resolved;
  const rows: Cells[] = [];
  const add = (row: Partial<Cells> & { date: string; kind: string }): void =>
    void (isWithin(row.date, resolved) && rows.push(row as Cells));
  const adjusted = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['c.done_on', 'tp.kind', 'tp.id as pointId', sql<number>`count(*)`.as('n')])
    .select((eb) => eb.fn.coalesce('m.tag', 'd.tag').as('at'))
    .where('c.outcome', '=', 'adjusted')
    .where('c.id', 'not in', db.selectFrom('correction').select('replaced_id'))
    .groupBy(['c.done_on', 'at', 'tp.kind', ...(pointIds === null ? [] : (['tp.id'] as const))])
    .execute();
  const recalibrated = new Map<string, number>();
  for (const { done_on, at, kind, pointId, n } of adjusted)
    if (pointIds === null || pointIds.has(pointId)) {
      const key = JSON.stringify([done_on, at, kind]);
      recalibrated.set(key, (recalibrated.get(key) ?? 0) + n);
    }
  for (const [key, n] of recalibrated) {
    const [date, at, kind] = JSON.parse(key) as [string, string, string];
    add({ date, kind: 'recalibrated', asset: at, count: String(n), what: kind });
  }
  const isIn = (id: number | null): boolean => deviceIds === null || (id !== null && deviceIds.has(id));
  for (const row of await db
    .selectFrom('replacement as r')
    .innerJoin('device as d', 'd.id', 'r.device_id')
    .leftJoin('device as n', 'n.id', 'r.new_device_id')
    .select(['r.device_id', 'r.on_date', 'd.tag', 'n.tag as next', 'r.reason'])
    .execute())
    if (isIn(row.device_id))
      add({ date: row.on_date, kind: 'replaced', asset: row.tag, to: text(row.next), why: row.reason });
  for (const row of await db
    .selectFrom('setting_change as s')
    .leftJoin('device as d', 'd.id', 's.device_id')
    .leftJoin('person as p', 'p.id', 's.person_id')
    .select([
      's.device_id',
      's.what',
      's.subject',
      's.from_value',
      's.to_value',
      's.at',
      's.why',
      'p.initials',
      'd.tag',
    ])
    .execute())
    if (deviceIds === null || isIn(row.device_id))
      add({
        date: row.at.slice(0, 10),
        kind: 'setting changed',
        asset: row.tag ?? row.subject,
        what: [roleOf(row.subject), row.what].filter((one) => one !== '').join(' '),
        from: text(row.from_value),
        to: text(row.to_value),
        why: row.why,
        person: text(row.initials),
      });
  for (const row of await db
    .selectFrom('leak_mended as m')
    .innerJoin('leak as k', 'k.id', 'm.leak_id')
    .innerJoin('device as d', 'd.id', 'k.device_id')
    .innerJoin('person as p', 'p.id', 'm.person_id')
    .select(['m.mended_on', 'k.device_id', 'd.tag', 'k.place', 'm.note', 'p.initials'])
    .execute())
    if (isIn(row.device_id))
      add({
        date: row.mended_on,
        kind: 'leak mended',
        asset: row.tag,
        what: row.place,
        why: row.note,
        person: row.initials,
      });
  // A switchover that fails keeps its wing at one setpoint until it is mended.
  for (const row of await db
    .selectFrom('follow_up as f')
    .innerJoin('device as d', 'd.id', 'f.device_id')
    .select(['f.device_id', 'd.tag', 'f.cause', 'f.opened_at', 'f.closed_at', 'f.closing_note'])
    .where('d.class', 'in', ['switchover_relay', 'time_switch'])
    .execute()) {
    if (!isIn(row.device_id)) continue;
    const what = row.cause;
    add({ date: row.opened_at.slice(0, 10), kind: 'switchover failed', asset: row.tag, what });
    if (row.closed_at !== null)
      add({
        date: row.closed_at.slice(0, 10),
        kind: 'switchover mended',
        asset: row.tag,
        what,
        why: text(row.closing_note),
      });
  }
  // What was there before the first record shifts nothing.
  const first = await db
    .selectFrom('calibration')
    .select((eb) => eb.fn.min('done_on').as('on'))
    .executeTakeFirstOrThrow();
  for (const row of await db
    .selectFrom('device')
    .select(['id', 'tag', 'class', 'in_service_on', 'retired_on'])
    .execute()) {
    if (!isIn(row.id)) continue;
    const what = row.class.replaceAll('_', ' ');
    if (row.in_service_on !== null && first.on !== null && row.in_service_on > first.on)
      add({ date: row.in_service_on, kind: 'put into service', asset: row.tag, what });
    if (row.retired_on !== null)
      add({ date: row.retired_on, kind: 'taken out of service', asset: row.tag, what });
  }
  rows.sort(
    (a, b) =>
      a.date.localeCompare(b.date) ||
      a.kind.localeCompare(b.kind) ||
      (a.asset ?? '').localeCompare(b.asset ?? '') ||
      (a.what ?? '').localeCompare(b.what ?? ''),
  );
  return once(rows);
}
