/**
 * One device in the place of another. The old one keeps its records and is retired: its series are closed. The new one
 * takes over everything that the register says of the place, feeds what the old one fed, and starts series of its own;
 * it is due from the day it was put in.
 */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import { refreshDerived } from '../../db/derived.ts';
import { appendReplacement, appendSettingChange } from '../../db/records.ts';
import { deviceIdOfTag } from '../../db/registerQueries.ts';
import { deviceRow, setpointRows } from '../../db/registerRows.ts';
import { writeRegisterRows } from '../../db/registerWrite.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import type { OutputOf, ParsedInputOf } from '../../shared/contract/index.ts';
import { completingOutcomes } from '../../shared/trade/words.ts';
import { plainStyle, readRow } from '../../shared/register/row.ts';
import { requireVersion } from './requireVersion.ts';

type Input = ParsedInputOf<'register.replace'>;

/** A tag that nobody has, for the device that gives its own away. */
async function freedTag(db: BookDb, tag: string): Promise<string> {
  for (let number = 1; ; number += 1) {
    const candidate = `${tag}-OUT${number}`;
    if ((await deviceIdOfTag(db, candidate)) === null) return candidate;
  }
}

async function lastRecordOn(db: BookDb, deviceId: number): Promise<string | null> {
  const row = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .select((eb) => eb.fn.max('c.done_on').as('on'))
    .where('tp.device_id', '=', deviceId)
    .executeTakeFirst();
  return row?.on ?? null;
}

async function checked(db: BookDb, input: Input, today: string) {
  const held = await db
    .selectFrom('device')
    .select(['tag', 'class', 'version', 'retired_on', 'in_service_on'])
    .where('id', '=', input.id)
    .executeTakeFirst();
  requireVersion(input.version, held ? { version: held.version, values: held } : null);
  if (!held) throw new AppError('not_found', 'There is no such device in the book.');
  if (held.class === 'main')
    refuseField('id', held.tag, 'a main is piping: it is changed in the register, not swapped');
  if (held.retired_on !== null) refuseField('id', held.tag, `retired on ${held.retired_on} already`);
  if (input.on > today) refuseField('on', input.on, 'lies in the future');
  if (held.in_service_on !== null && input.on < held.in_service_on)
    refuseField('on', input.on, `before it went into service on ${held.in_service_on}`);
  const last = await lastRecordOn(db, input.id);
  if (last !== null && input.on < last) refuseField('on', input.on, `it has a record of ${last}`);
  const person = await db
    .selectFrom('person')
    .select('active')
    .where('id', '=', input.personId)
    .executeTakeFirst();
  if (person?.active !== 1) refuseField('personId', String(input.personId), 'choose who replaced it');
  if (input.newTag !== null && (await deviceIdOfTag(db, input.newTag)) !== null)
    refuseField('newTag', input.newTag, 'another device has this tag');
  return held;
}

/** What hangs on the old device hangs on the new one; what is retired stays as it was. */
async function handOver(db: BookDb, oldId: number, newId: number): Promise<number[]> {
  const fed = await db
    .selectFrom('supplies as s')
    .innerJoin('device as d', 'd.id', 's.to_id')
    .select(['s.id', 's.to_id'])
    .where('s.from_id', '=', oldId)
    .where('d.retired_on', 'is', null)
    .execute();
  if (fed.length > 0)
    await db
      .updateTable('supplies')
      .set({ from_id: newId })
      .where(
        'id',
        'in',
        fed.map(({ id }) => id),
      )
      .execute();
  await db
    .updateTable('switchover_relay')
    .set({ time_switch_id: newId })
    .where('time_switch_id', '=', oldId)
    .execute();
  return fed.map(({ to_id }) => to_id);
}

/** What a round that still runs has planned for the old device and is not wholly done is planned for the new one. */
async function handOverTasks(db: BookDb, oldId: number, newId: number): Promise<void> {
  const tasks = await db
    .selectFrom('task as t')
    .innerJoin('round as r', 'r.id', 't.round_id')
    .select('t.id')
    .where('t.device_id', '=', oldId)
    .where('r.status', '<>', 'closed')
    .where((eb) =>
      eb.exists(
        eb
          .selectFrom('task_test_point as tt')
          .select('tt.task_id')
          .whereRef('tt.task_id', '=', 't.id')
          .where((point) =>
            point.not(
              point.exists(
                point
                  .selectFrom('calibration as c')
                  .select('c.id')
                  .leftJoin('correction as x', 'x.replaced_id', 'c.id')
                  .whereRef('c.test_point_id', '=', 'tt.test_point_id')
                  .where('x.id', 'is', null)
                  .where('c.outcome', 'in', [...completingOutcomes])
                  .whereRef('c.done_on', '>=', 'r.from_on'),
              ),
            ),
          ),
      ),
    )
    .execute();
  if (tasks.length === 0) return;
  const ids = tasks.map(({ id }) => id);
  await db.updateTable('task').set({ device_id: newId }).where('id', 'in', ids).execute();
  const links = await db
    .selectFrom('task_test_point as tt')
    .innerJoin('test_point as o', 'o.id', 'tt.test_point_id')
    .innerJoin('test_point as n', (join) =>
      join.onRef('n.kind', '=', 'o.kind').onRef('n.role', '=', 'o.role').on('n.device_id', '=', newId),
    )
    .select(['tt.task_id', 'o.id as from', 'n.id as to'])
    .where('tt.task_id', 'in', ids)
    .execute();
  for (const link of links)
    await db
      .updateTable('task_test_point')
      .set({ test_point_id: link.to })
      .where('task_id', '=', link.task_id)
      .where('test_point_id', '=', link.from)
      .execute();
}

async function closeFollowUps(db: BookDb, input: Input, now: string, note: string): Promise<void> {
  const closing = { closed_at: now, closed_by: input.personId };
  const open = await db
    .selectFrom('follow_up')
    .select('id')
    .where('device_id', '=', input.id)
    .where('closed_at', 'is', null)
    .execute();
  if (open.length === 0) return;
  const ids = open.map(({ id }) => id);
  await db
    .updateTable('follow_up')
    .set({ ...closing, closing_note: note, version: sql<number>`version + 1` })
    .where('id', 'in', ids)
    .execute();
  // What was joined under one of them ends with it.
  await db
    .updateTable('follow_up')
    .set({ ...closing, closing_note: note, version: sql<number>`version + 1` })
    .where('part_of_id', 'in', ids)
    .where('closed_at', 'is', null)
    .execute();
}

/** Replaces a device in the transaction at hand. */
export async function replaceDevice(
  db: BookDb,
  input: Input,
  { today, now }: { today: string; now: string },
): Promise<OutputOf<'register.replace'>> {
  const held = await checked(db, input, today);
  const row = await deviceRow(db, input.id);
  if (!row) throw new AppError('not_found', 'There is no such device in the book.');
  const setpoints = await setpointRows(db, [input.id]);
  const newTag = input.newTag ?? held.tag;
  const oldTag = input.newTag === null ? await freedTag(db, held.tag) : held.tag;
  if (oldTag !== held.tag) {
    await db.updateTable('device').set({ tag: oldTag }).where('id', '=', input.id).execute();
    await appendSettingChange(db, {
      what: 'tag',
      subject: oldTag,
      device_id: input.id,
      from_value: held.tag,
      to_value: oldTag,
      at: now,
      person_id: input.personId,
      why: input.reason,
    });
  }
  // Where it changed over was measured on the old one; of the new one nothing is known yet.
  const unmeasured = Object.fromEntries(
    ['trip_falling', 'trip_rising'].flatMap((name) => (name in row.values ? [[name, '']] : [])),
  );
  const put = { ...row.values, ...unmeasured, tag: newTag, in_service_on: input.on };
  const read = readRow(row.rowClass, put, plainStyle, null);
  if (read.problems.length > 0) {
    const [{ column, value, reason }] = read.problems;
    refuseField(column === 'tag' ? 'newTag' : column, value, reason);
  }
  await writeRegisterRows(db, [
    { rowClass: row.rowClass, values: read.values },
    ...setpoints.map(({ rowClass, values }) => ({ rowClass, values: { ...values, tag: newTag } })),
  ]);
  const newId = (await deviceIdOfTag(db, newTag)) as number;
  const fed = await handOver(db, input.id, newId);
  await handOverTasks(db, input.id, newId);
  await db.deleteFrom('bench_draft').where('device_id', '=', input.id).execute();
  await db
    .updateTable('device')
    .set({ retired_on: input.on, version: sql<number>`version + 1` })
    .where('id', '=', input.id)
    .execute();
  await db.updateTable('test_point').set({ active: 0 }).where('device_id', '=', input.id).execute();
  await appendSettingChange(db, {
    what: 'retired_on',
    subject: oldTag,
    device_id: input.id,
    from_value: null,
    to_value: input.on,
    at: now,
    person_id: input.personId,
    why: input.reason,
  });
  await appendReplacement(
    db,
    {
      device_id: input.id,
      new_device_id: newId,
      on_date: input.on,
      calibration_id: null,
      reason: input.reason,
    },
    now,
  );
  if (input.closeFollowUps) await closeFollowUps(db, input, now, `replaced by ${newTag}: ${input.reason}`);
  await refreshDerived(db, [input.id, newId, ...fed]);
  return { oldId: input.id, oldTag, newId, newTag };
}

/** What a device replaced, and what replaced it. */
export async function replacementsAround(db: BookDb, deviceId: number) {
  const rows = await db
    .selectFrom('replacement as r')
    .innerJoin('device as o', 'o.id', 'r.device_id')
    .innerJoin('device as n', 'n.id', 'r.new_device_id')
    .select(['o.id as oldId', 'o.tag as oldTag', 'n.id as newId', 'n.tag as newTag', 'r.on_date as on'])
    .where((eb) => eb.or([eb('r.device_id', '=', deviceId), eb('r.new_device_id', '=', deviceId)]))
    .execute();
  const before = rows.find(({ newId }) => newId === deviceId);
  const after = rows.find(({ oldId }) => oldId === deviceId);
  return {
    replaces: before ? { id: before.oldId, tag: before.oldTag, on: before.on } : null,
    replacedBy: after ? { id: after.newId, tag: after.newTag, on: after.on } : null,
  };
}
