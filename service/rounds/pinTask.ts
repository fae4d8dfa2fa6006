/** Pins a task to where it stands: a re-draw leaves it there. */
import { AppError } from '../../shared/contract/errors.ts';
import type { CallContext } from '../context.ts';

export async function pinTask(
  { db }: CallContext,
  { id, task, pinned }: { id: number; task: string; pinned: boolean },
): Promise<{ task: string; pinned: boolean }> {
  const row = await db
    .selectFrom('task as t')
    .leftJoin('visit as v', 'v.id', 't.visit_id')
    .select(['t.id', 'v.slot', 'v.person_id'])
    .where('t.round_id', '=', id)
    .where('t.task_key', '=', task)
    .executeTakeFirst();
  if (!row) throw new AppError('not_found', 'There is no such task in the round.');
  if (row.slot === null || row.person_id === null)
    throw new AppError('conflict', 'What has no place cannot be pinned.');
  await db.deleteFrom('pin').where('task_id', '=', row.id).execute();
  if (pinned)
    await db
      .insertInto('pin')
      .values({ task_id: row.id, slot: row.slot, person_id: row.person_id })
      .execute();
  return { task, pinned };
}
