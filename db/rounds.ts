/** Rounds, visits and tasks as stored. */
import type { BookDb } from './book.ts';

const headColumns = [
  'id',
  'name',
  'from_on',
  'to_on',
  'seed',
  'status',
  'drawn_at',
  'evaluations',
  'version',
] as const;

/** Heads of all rounds with their figures, newest first. */
export async function roundHeads(db: BookDb) {
  return db.selectFrom('round').select(headColumns).select('figures_json').orderBy('id', 'desc').execute();
}

/** Heads of the issued rounds that share days with one, newest first. */
export async function issuedRounds(db: BookDb, { from_on, to_on }: { from_on: string; to_on: string }) {
  return db
    .selectFrom('round')
    .select(headColumns)
    .select('figures_json')
    .where('status', '=', 'issued')
    .where('from_on', '<=', to_on)
    .where('to_on', '>=', from_on)
    .orderBy('id', 'desc')
    .execute();
}

/** One round's head; the newest one when no id is given. */
export async function roundHead(db: BookDb, id: number | undefined) {
  const query = db.selectFrom('round').select(headColumns).select('figures_json');
  return id === undefined
    ? query.orderBy('id', 'desc').limit(1).executeTakeFirst()
    : query.where('id', '=', id).executeTakeFirst();
}

/** The stored planning problem of a round, as its JSON text. */
export async function roundInstanceJson(db: BookDb, id: number): Promise<string> {
  const row = await db
    .selectFrom('round')
    .select('instance_json')
    .where('id', '=', id)
    .executeTakeFirstOrThrow();
  return row.instance_json;
}

/** What a re-draw moved, as its JSON text; null for a round drawn anew. */
export async function roundMovedJson(db: BookDb, id: number): Promise<string | null> {
  const row = await db
    .selectFrom('round')
    .select('moved_json')
    .where('id', '=', id)
    .executeTakeFirstOrThrow();
  return row.moved_json;
}

/** Visits of a round in working order, all or those of one date. */
export async function visitsOfRound(db: BookDb, roundId: number, date?: string) {
  let query = db
    .selectFrom('visit as v')
    .innerJoin('shift_pattern as s', 's.id', 'v.shift_pattern_id')
    .innerJoin('person as p', 'p.id', 'v.person_id')
    .leftJoin('building as b', 'b.id', 'v.building_id')
    .leftJoin('level as l', 'l.id', 'v.level_id')
    .leftJoin('room as r', 'r.id', 'v.room_id')
    .leftJoin('device as m', 'm.id', 'v.main_id')
    .select([
      'v.id',
      'v.slot',
      'v.on_date',
      'v.position',
      'v.person_id',
      'v.shift_pattern_id',
      'v.air_state',
      'v.no_access_reason',
      'v.main_id',
      's.name as shift',
      's.from_time',
      's.to_time',
      's.minutes as shift_minutes',
      's.overtime_minutes',
      'p.initials',
      'p.name as person_name',
      'b.code as building',
      'l.code as level',
      'r.code as room',
      'r.id as room_id',
      'r.name as room_name',
      'm.tag as main',
    ])
    .where('v.round_id', '=', roundId)
    .orderBy('v.slot')
    .orderBy('p.initials')
    .orderBy('v.position');
  if (date !== undefined) query = query.where('v.on_date', '=', date);
  return query.execute();
}

/** Tasks of a round with their device, placed ones in visit order. */
export async function tasksOfRound(db: BookDb, roundId: number, visitIds?: readonly number[]) {
  let query = db
    .selectFrom('task as t')
    .innerJoin('device as d', 'd.id', 't.device_id')
    .leftJoin('placement_reason as pr', 'pr.task_id', 't.id')
    .select([
      't.id',
      't.task_key',
      't.device_id',
      'd.tag',
      'd.class',
      't.kind',
      't.role',
      't.minutes',
      't.due_on',
      't.visit_id',
      't.position',
      'pr.code as reason',
      'pr.detail as reason_detail',
    ])
    .where('t.round_id', '=', roundId)
    .orderBy('t.visit_id')
    .orderBy('t.position')
    .orderBy('t.task_key');
  if (visitIds) query = query.where('t.visit_id', 'in', [...visitIds]);
  return query.execute();
}

/** Removes a draft with all that belongs to it. Call it inside a transaction. */
export async function removeDraft(db: BookDb, roundId: number): Promise<void> {
  const tasks = db.selectFrom('task').select('id').where('round_id', '=', roundId);
  for (const table of ['placement_reason', 'pin', 'task_test_point'] as const)
    await db.deleteFrom(table).where('task_id', 'in', tasks).execute();
  await db.deleteFrom('task').where('round_id', '=', roundId).execute();
  await db.deleteFrom('visit').where('round_id', '=', roundId).execute();
  await db.deleteFrom('round').where('id', '=', roundId).execute();
}

/** What the chain keeps of an issued round: its period, figures and every placement. Null when it is gone. */
export async function issuedRoundContent(db: BookDb, id: number): Promise<unknown> {
  const round = await db
    .selectFrom('round')
    .select(['id', 'name', 'from_on', 'to_on', 'seed', 'drawn_at', 'figures_json'])
    .where('id', '=', id)
    .executeTakeFirst();
  if (!round) return null;
  const tasks = await db
    .selectFrom('task as t')
    .leftJoin('visit as v', 'v.id', 't.visit_id')
    .select(['t.task_key', 'v.on_date', 'v.slot', 'v.person_id', 'v.position', 't.position as task_position'])
    .where('t.round_id', '=', id)
    .orderBy('t.task_key')
    .execute();
  return { round, tasks };
}

/** The tasks of a round, by key, that are kept where they stand when it is drawn again. */
export async function pinnedTasks(db: BookDb, roundId: number): Promise<string[]> {
  const rows = await db
    .selectFrom('pin as p')
    .innerJoin('task as t', 't.id', 'p.task_id')
    .select('t.task_key')
    .where('t.round_id', '=', roundId)
    .execute();
  return rows.map((row) => row.task_key);
}
