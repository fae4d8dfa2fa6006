/** Pins a task to where it stands: a re-draw leaves it there. */
import { AppError } from '../../shared/contract/errors.ts';
import type { BookDb } from '../../db/book.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
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

/** Pins the fixed tasks of a round drawn again where they are fixed. */
export async function storePins(db: BookDb, roundId: number, instance: PlanInstance): Promise<void> {
  for (const { id, frozen } of instance.tasks) {
    if (!frozen) continue;
    const { personId } = instance.crews[frozen[1]];
    if (personId === undefined) continue;
    const { id: taskId } = await db
      .selectFrom('task')
      .select('id')
      .where('round_id', '=', roundId)
      .where('task_key', '=', id)
      .executeTakeFirstOrThrow();
    await db.insertInto('pin').values({ task_id: taskId, slot: frozen[0], person_id: personId }).execute();
  }
}
