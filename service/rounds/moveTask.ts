/** Moves one task of a draft by hand, or puts it off: priced first, refused with what it would break, then written. */
import { AppError } from '../../shared/contract/errors.ts';
import type { RoundMove, ShiftPlace } from '../../shared/contract/rounds.ts';
import { assignmentOf } from '../../shared/planning/engine/assignment.ts';
import { priceMove } from '../../shared/planning/explain.ts';
import { heldStates } from '../../shared/planning/heldStates.ts';
import type { HeldState } from '../../shared/planning/heldStates.ts';
import { PUT_OFF } from '../../shared/planning/instance.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import { settleWays } from '../../shared/planning/ways.ts';
import { drawVisits } from '../../shared/planning/visits.ts';
import { requireVersion } from '../register/requireVersion.ts';
import type { CallContext } from '../context.ts';
import { figuresOfPlan, readFigures } from './figures.ts';
import { crewSlotOf, forgetRoundPlan, roundPlanOf, taskNamed } from './roundPlan.ts';
import { storeVisits } from './storeVisits.ts';

type MoveInput = { id: number; version: number; task: string; to: ShiftPlace | null };

/** The instance of a round with one task moved: it is pinned no more, and put off only without a place. */
function movedIn(instance: PlanInstance, id: string, to: number): PlanInstance {
  const tasks = instance.tasks.map((one) => {
    if (one.id !== id) return one;
    const { frozen: _frozen, putOff: _putOff, ...task } = one;
    return to < 0 ? { ...task, putOff: true } : task;
  });
  return { ...instance, tasks };
}

/** The slots that find a held main in another state than before. */
function foundOtherwise(before: readonly HeldState[], now: readonly HeldState[]): number[] {
  const keyOf = ({ main, slot, found }: HeldState): string => `${main} ${slot} ${found}`;
  const known = new Set(before.map(keyOf));
  return now.filter((one) => !known.has(keyOf(one))).map((one) => one.slot);
}

export async function moveTask({ db, book }: CallContext, input: MoveInput): Promise<RoundMove> {
  const round = await roundPlanOf(book, db, input.id);
  const { head, c, plan } = round;
  requireVersion(input.version, { version: head.version, values: { status: head.status } });
  if (head.status !== 'draft')
    throw new AppError('conflict', `Only a draft is moved by hand; this round is ${head.status}.`);
  // The plan is changed below: whatever becomes of the transaction, the next look loads the round anew.
  forgetRoundPlan(book);
  const task = taskNamed(round, input.task);
  const to = crewSlotOf(round, input.to);
  const { breaches, difference, before, after, portable } = priceMove(plan, task, to);
  const move = { roundId: head.id, task: c.taskList[task].id, breaches, difference, before, after };
  if (difference === null)
    throw new AppError('conflict', 'The task cannot stand there.', {
      problems: breaches.map(({ constraint, detail }) => ({
        column: constraint,
        value: c.taskList[task].id,
        reason: detail,
      })),
    });
  const from = plan.place[task];
  const heldBefore = heldStates(round.instance, assignmentOf(c, plan));
  if (from >= 0) plan.remove(task);
  if (to >= 0) plan.add(task, to, portable ? 1 : 0);
  const { instance, assignment } = settleWays(movedIn(round.instance, move.task, to), assignmentOf(c, plan));
  const held = heldStates(instance, assignment);
  // Whoever shares a main in these slots may come in another order now, and who finds a held main in another state.
  const slots = [
    ...[from, to].filter((place) => place >= 0).map((place) => Math.floor(place / c.crews)),
    ...foundOtherwise(heldBefore, held),
  ];
  const rows = await db
    .selectFrom('visit')
    .select('id')
    .where('round_id', '=', head.id)
    .where('slot', 'in', slots)
    .execute();
  const ids = rows.map((row) => row.id);
  await db.updateTable('task').set({ visit_id: null, position: null }).where('visit_id', 'in', ids).execute();
  await db.deleteFrom('visit').where('id', 'in', ids).execute();
  const touched = Object.fromEntries(
    Object.entries(assignment).map(([id, place]) => [id, place && slots.includes(place.slot) ? place : null]),
  );
  const stored = await storeVisits(db, head.id, instance, drawVisits(instance, touched, held).visits);
  for (const [key, { visitId, position }] of stored)
    await db
      .updateTable('task')
      .set({ visit_id: visitId, position })
      .where('round_id', '=', head.id)
      .where('task_key', '=', key)
      .execute();
  const { id: taskId } = await db
    .selectFrom('task')
    .select('id')
    .where('round_id', '=', head.id)
    .where('task_key', '=', move.task)
    .executeTakeFirstOrThrow();
  const pins = await db.deleteFrom('pin').where('task_id', '=', taskId).returning('task_id').execute();
  // What was kept where it stood is kept where it stands now.
  if (pins.length > 0 && to >= 0)
    await db
      .insertInto('pin')
      .values({
        task_id: taskId,
        slot: Math.floor(to / c.crews),
        person_id: instance.crews[to % c.crews].personId ?? 0,
      })
      .execute();
  await db.deleteFrom('placement_reason').where('task_id', '=', taskId).execute();
  if (to < 0)
    await db.insertInto('placement_reason').values({ task_id: taskId, code: PUT_OFF, detail: '' }).execute();
  await db
    .updateTable('round')
    .set({
      version: head.version + 1,
      instance_json: JSON.stringify(instance),
      figures_json: JSON.stringify(figuresOfPlan(instance, assignment, readFigures(head.figures_json))),
    })
    .where('id', '=', head.id)
    .execute();
  return move;
}
