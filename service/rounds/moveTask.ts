/** Moves one task of a draft by hand: priced first, refused with what it would break, then written. */
import { AppError } from '../../shared/contract/errors.ts';
import type { RoundMove } from '../../shared/contract/rounds.ts';
import { assignmentOf } from '../../shared/planning/engine/assignment.ts';
import { priceMove } from '../../shared/planning/explain.ts';
import { settleWays } from '../../shared/planning/ways.ts';
import { drawVisits } from '../../shared/planning/visits.ts';
import { requireVersion } from '../register/handlers.ts';
import type { CallContext } from '../context.ts';
import { figuresOfPlan, readFigures } from './figures.ts';
import { crewSlotOf, forgetRoundPlan, roundPlanOf, taskNamed } from './roundPlan.ts';
import { storeVisits } from './storeVisits.ts';

type MoveInput = { id: number; version: number; task: string; date: string; shift: string; person: string };

export async function moveTask({ db, book }: CallContext, input: MoveInput): Promise<RoundMove> {
  const round = await roundPlanOf(book, db, input.id);
  const { head, c, plan } = round;
  requireVersion(input.version, { version: head.version, values: { status: head.status } });
  if (head.status !== 'draft')
    throw new AppError('conflict', `Only a draft is moved by hand; this round is ${head.status}.`);
  // The plan is changed below: whatever becomes of the transaction, the next look loads the round anew.
  forgetRoundPlan(book);
  const task = taskNamed(round, input.task);
  const to = crewSlotOf(round, input);
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
  if (from >= 0) plan.remove(task);
  plan.limit(task);
  plan.add(task, to, portable ? 1 : 0);
  const { instance, assignment } = settleWays(round.instance, assignmentOf(c, plan));
  const shifts = [...new Set([from, to])].filter((place) => place >= 0);
  const isTouched = (place: { slot: number; crew: string } | null): boolean =>
    place !== null &&
    shifts.some(
      (one) => Math.floor(one / c.crews) === place.slot && instance.crews[one % c.crews].id === place.crew,
    );
  for (const place of shifts) {
    const crew = instance.crews[place % c.crews];
    const rows = await db
      .selectFrom('visit')
      .select('id')
      .where('round_id', '=', head.id)
      .where('slot', '=', Math.floor(place / c.crews))
      .where('person_id', '=', crew.personId ?? 0)
      .execute();
    const ids = rows.map((row) => row.id);
    await db
      .updateTable('task')
      .set({ visit_id: null, position: null })
      .where('visit_id', 'in', ids)
      .execute();
    await db.deleteFrom('visit').where('id', 'in', ids).execute();
  }
  const touched = Object.fromEntries(
    Object.entries(assignment).map(([id, place]) => [id, isTouched(place) ? place : null]),
  );
  const stored = await storeVisits(db, head.id, instance, drawVisits(instance, touched).visits);
  for (const [key, { visitId, position }] of stored)
    await db
      .updateTable('task')
      .set({ visit_id: visitId, position })
      .where('round_id', '=', head.id)
      .where('task_key', '=', key)
      .execute();
  await db
    .deleteFrom('pin')
    .where(
      'task_id',
      'in',
      db.selectFrom('task').select('id').where('round_id', '=', head.id).where('task_key', '=', move.task),
    )
    .execute();
  await db
    .deleteFrom('placement_reason')
    .where(
      'task_id',
      'in',
      db.selectFrom('task').select('id').where('round_id', '=', head.id).where('visit_id', 'is not', null),
    )
    .execute();
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
