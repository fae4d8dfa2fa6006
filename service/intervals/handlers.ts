/** The interval policy, and the intervals that the manager accepts: kept as setting changes, and due dates with them. */
import { sql } from 'kysely';
import { driftPointsQuery, everywhere } from '../../db/driftPoints.ts';
import { refreshDue, refreshDueOfClass } from '../../db/due.ts';
import { appendSettingChange, appendSettingChanges } from '../../db/records.ts';
import { writeSetting } from '../../db/settings.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import { intervalOf } from '../../shared/trade/due.ts';
import type { CallContext, GroupHandlers } from '../context.ts';
import { requireVersion } from '../register/requireVersion.ts';
import { intervalPolicyOf } from './policy.ts';

const CHUNK = 500;

type Change = { from: number; to: number };

function requireSame(name: string, present: number, { from }: Change): void {
  if (present !== from)
    throw new AppError(
      'conflict',
      `${name} has an interval of ${present} days now, not ${from}: recommend anew.`,
    );
}

async function acceptPoints(
  { db, clock, personId }: CallContext,
  changes: readonly (Change & { testPointId: number })[],
  why: string,
): Promise<number[]> {
  const wanted = new Map(changes.map((one) => [one.testPointId, one]));
  const changed: number[] = [];
  const ids = [...wanted.keys()];
  for (let start = 0; start < ids.length; start += CHUNK) {
    const rows = await driftPointsQuery(db, everywhere)
      .where('tp.id', 'in', ids.slice(start, start + CHUNK))
      .where('tp.active', '=', 1)
      .where('d.retired_on', 'is', null)
      .execute();
    for (const row of rows) {
      const change = wanted.get(row.id);
      if (!change) continue;
      wanted.delete(row.id);
      const what = row.role || row.kind;
      const present = intervalOf(row);
      requireSame(`${row.tag} ${what}`, present, change);
      if (change.to === present) continue;
      await db
        .updateTable('test_point')
        .set({ interval_days: change.to, version: sql<number>`version + 1` })
        .where('id', '=', row.id)
        .execute();
      await appendSettingChange(db, {
        what: `interval of ${what}`,
        subject: row.tag,
        device_id: row.deviceId,
        from_value: String(present),
        to_value: String(change.to),
        at: clock.now(),
        person_id: personId,
        why,
      });
      changed.push(row.id);
    }
  }
  if (wanted.size > 0)
    throw new AppError('not_found', `There is no test point ${[...wanted.keys()][0]} in use.`);
  await refreshDue(db, changed);
  return changed;
}

async function acceptClasses(
  { db, clock, personId }: CallContext,
  changes: readonly (Change & { id: number })[],
  why: string,
): Promise<number> {
  let changed = 0;
  for (const change of changes) {
    const row = await db
      .selectFrom('class_default')
      .select(['id', 'kind', 'unit', 'interval_days'])
      .where('id', '=', change.id)
      .executeTakeFirst();
    if (!row) throw new AppError('not_found', 'There is no such class in the book.');
    requireSame(`class ${row.kind} ${row.unit}`, row.interval_days, change);
    if (change.to === row.interval_days) continue;
    await db
      .updateTable('class_default')
      .set({ interval_days: change.to, version: sql<number>`version + 1` })
      .where('id', '=', row.id)
      .execute();
    await appendSettingChanges(
      db,
      { before: { interval_days: row.interval_days }, after: { interval_days: change.to } },
      { subject: `class ${row.kind} ${row.unit}`, at: clock.now(), person_id: personId, why },
    );
    await refreshDueOfClass(db, row);
    changed += 1;
  }
  return changed;
}

export const intervalHandlers: GroupHandlers<'intervals'> = {
  policy: async ({ db }) => {
    const { value, version } = await intervalPolicyOf(db);
    return { policy: value, version };
  },

  savePolicy: async ({ db, clock, personId }, { policy, version, why }) => {
    if (personId === null) refuseField('person', '', 'choose who sets it');
    const held = await intervalPolicyOf(db);
    requireVersion(version, { version: held.version, values: held.value });
    await writeSetting(db, 'intervals', policy, held.version);
    await appendSettingChanges(
      db,
      { before: held.value, after: policy },
      { subject: 'intervals', at: clock.now(), person_id: personId, why },
    );
    return {};
  },

  accept: async (context, { points, classes, why }) => {
    if (context.personId === null) refuseField('person', '', 'choose who accepts them');
    const changed = await acceptPoints(context, points, why);
    return { changed: changed.length + (await acceptClasses(context, classes, why)) };
  },
};
