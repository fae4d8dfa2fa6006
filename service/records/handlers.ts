/** Use cases of the record: follow-ups. Loading and verifying are jobs. */
import { AppError } from '../../shared/contract/errors.ts';
import type { GroupHandlers } from '../context.ts';
import { requireVersion } from '../register/handlers.ts';

export const recordsHandlers: GroupHandlers<'records'> = {
  followUps: async ({ db }, { openOnly }) => {
    let query = db
      .selectFrom('follow_up as f')
      .innerJoin('device as d', 'd.id', 'f.device_id')
      .innerJoin('person as p', 'p.id', 'f.opened_by')
      .select([
        'f.id',
        'd.id as deviceId',
        'd.tag',
        'f.cause',
        'f.opened_at as openedAt',
        'p.initials as openedBy',
        'f.closed_at as closedAt',
        'f.version',
      ])
      .orderBy('f.id', 'desc');
    if (openOnly) query = query.where('f.closed_at', 'is', null);
    return { rows: await query.execute() };
  },

  closeFollowUp: async ({ db, clock }, { id, version, personId, note }) => {
    const held = await db
      .selectFrom('follow_up')
      .select(['version', 'closed_at'])
      .where('id', '=', id)
      .executeTakeFirst();
    requireVersion(version, held ? { version: held.version, values: held } : null);
    if (held?.closed_at) throw new AppError('conflict', 'This follow-up is closed already.');
    await db
      .updateTable('follow_up')
      .set({ closed_at: clock.now(), closed_by: personId, closing_note: note, version: version + 1 })
      .where('id', '=', id)
      .execute();
    return { id };
  },
};
