/** Who and what the records name, as of their day, against the register of today and the changes that the chain holds. */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import type { RecordedNames } from '../../db/records.ts';

type Report = (check: string, detail: string) => void;

/** The tag of device `d` is what its newest change in the chain made it. */
const tagInChain = sql`exists (
          select 1 from setting_change as s where s.what = 'tag' and s.device_id = d.id and s.to_value = d.tag
            and s.id = (select max(id) from setting_change where what = 'tag' and device_id = d.id))`;
/** Name and initials of person `p` are what their newest change in the chain made them. */
const nameInChain = sql`exists (
          select 1 from setting_change as s where s.what = 'name' and s.subject = 'person ' || p.id
            and s.to_value = p.name || ' (' || p.initials || ')'
            and s.id = (select max(id) from setting_change where what = 'name' and subject = 'person ' || p.id))`;

/** Whether people and devices are still called as the newest record of each says, but for changes that the chain holds. */
export async function namesProblems(db: BookDb, report: Report): Promise<void> {
  const rows = await sql<{
    id: number;
    names: string;
    deviceId: number;
    tag: string;
    kind: string;
    role: string;
    personId: number;
    person: string;
    initials: string;
  }>`select c.id, json_extract(c.snapshot_json, '$.names') as names, d.id as deviceId, d.tag, tp.kind, tp.role,
      p.id as personId, p.name as person, p.initials
    from calibration as c
    join test_point as tp on tp.id = c.test_point_id
    join device as d on d.id = tp.device_id
    join person as p on p.id = c.person_id
    where json_extract(c.snapshot_json, '$.names') is not null
      and (json_extract(c.snapshot_json, '$.names.deviceId') <> d.id
        or json_extract(c.snapshot_json, '$.names.kind') <> tp.kind
        or json_extract(c.snapshot_json, '$.names.role') <> tp.role
        or (json_extract(c.snapshot_json, '$.names.tag') <> d.tag and not ${tagInChain})
        or ((json_extract(c.snapshot_json, '$.names.person') <> p.name
          or json_extract(c.snapshot_json, '$.names.initials') <> p.initials) and not ${nameInChain}))
    order by c.id limit 20`.execute(db);
  for (const row of rows.rows) {
    const said = JSON.parse(row.names) as RecordedNames;
    const words = (one: Omit<RecordedNames, 'deviceId'>): string =>
      `${[one.tag, one.role, one.kind].filter((word) => word !== '').join(' ')} by ${one.person} (${one.initials})`;
    report(
      'names',
      `calibration ${row.id} was made of ${words(said)}; the register now says ${words(row)}, and no change of it is in the chain`,
    );
  }
}

/** The same of tests and leaks: who and what they name, as of their day. */
export async function airNamesProblems(db: BookDb, report: Report): Promise<void> {
  for (const [kind, table] of [
    ['air test', 'air_test'],
    ['leak', 'leak'],
  ] as const) {
    const { rows } = await sql<{ id: number; said: string; now: string }>`select t.id,
        json_extract(t.snapshot_json, '$.names.tag') || ' by ' || json_extract(t.snapshot_json, '$.names.person') as said,
        d.tag || ' by ' || p.name as now
      from ${sql.table(table)} as t
      join device as d on d.id = t.device_id
      join person as p on p.id = t.person_id
      where (json_extract(t.snapshot_json, '$.names.tag') <> d.tag and not ${tagInChain})
        or (json_extract(t.snapshot_json, '$.names.person') <> p.name and not ${nameInChain})
      order by t.id limit 20`.execute(db);
    for (const { id, said, now } of rows)
      report(
        'names',
        `${kind} ${id} was made of ${said}; the register now says ${now}, and no change of it is in the chain`,
      );
  }
}
