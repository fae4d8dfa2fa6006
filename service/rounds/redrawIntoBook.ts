/** `round redraw`: the rest of a round's period again, from what the book says now and what was promised. */
import type { BookDb } from '../../db/book.ts';
import { writeBook } from '../../db/book.ts';
import { roundHead, tasksOfRound, visitsOfRound } from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { planningOf } from '../settings/handlers.ts';
import { dayNumber, daysBetween } from '../../shared/dates/plainDate.ts';
import { redrawRound } from '../../shared/planning/redraw.ts';
import type { Redrawn } from '../../shared/planning/redraw.ts';
import type { JobHandler } from '../context.ts';
import { buildInstance } from './buildInstance.ts';
import type { BuiltInstance } from './buildInstance.ts';
import type { HeadRow } from './roundPlan.ts';
import { drawGuarded, requireWorkable, storeRound } from './drawIntoBook.ts';

/** Points for moving a promised visit; near dates cost more. A draft is nearly free to move. */
const PROMISED_POINTS = 5;
const DRAFT_POINTS = 1;
/** Work up to so many days ahead may be moved. */
const HORIZON_DAYS = 84;

/** Notes where the old round has each task, and what is pinned there. */
async function publish(db: BookDb, head: HeadRow, built: BuiltInstance, from: string): Promise<void> {
  const { instance, origins } = built;
  const slots = new Map(instance.slots.map((slot, index) => [`${slot.date} ${slot.shift}`, index]));
  const crews = new Map(instance.crews.map((crew, index) => [crew.personId, index]));
  const visits = new Map((await visitsOfRound(db, head.id)).map((visit) => [visit.id, visit]));
  const pinned = new Set((await db.selectFrom('pin').select('task_id').execute()).map((row) => row.task_id));
  const byKey = new Map(instance.tasks.map((task) => [task.id, task]));
  for (const row of await tasksOfRound(db, head.id)) {
    const task = byKey.get(row.task_key);
    const visit = row.visit_id === null ? undefined : visits.get(row.visit_id);
    // Done since: the same check falls due anew, and nothing was promised for that.
    if (!task || !visit || origins.get(row.task_key)?.dueOn !== row.due_on) continue;
    const slot = slots.get(`${visit.on_date} ${visit.shift}`);
    const crew = crews.get(visit.person_id);
    if (slot === undefined || crew === undefined) continue;
    if (pinned.has(row.id)) task.frozen = [slot, crew];
    task.published = [slot, crew];
    task.moveFactor = 1 + Math.floor(Math.max(0, 14 - daysBetween(from, visit.on_date)) / 7);
  }
  instance.cost = { ...instance.cost, move: head.status === 'draft' ? DRAFT_POINTS : PROMISED_POINTS };
}

export const redrawIntoBook: JobHandler<'rounds.redraw'> = async ({ book, clock }, input, hooks) => {
  hooks.progress(0, 1, 'reading the book');
  const db = book.reader;
  const head = await roundHead(db, input.id);
  if (!head) throw new AppError('not_found', 'There is no round to draw again.');
  const today = clock.today();
  const from = input.from ?? (today > head.from_on ? today : head.from_on);
  if (from < head.from_on || from > head.to_on)
    throw new AppError('invalid_input', 'The round cannot be drawn again from there.', {
      problems: [
        { column: 'from', value: from, reason: `outside the round, ${head.from_on} to ${head.to_on}` },
      ],
    });
  const { value: options } = await planningOf(db);
  const built = await buildInstance(db, { from, to: head.to_on }, options);
  requireWorkable(built);
  await publish(db, head, built, from);
  const until = dayNumber(from) + HORIZON_DAYS;
  const last = built.instance.slots.findLastIndex((slot) => slot.day <= until);
  const drawn: Redrawn = drawGuarded(() =>
    redrawRound(
      built.instance,
      { seed: input.seed, evaluations: input.evaluations, slots: [0, Math.max(0, last)] },
      {
        progress: (done, total) => hooks.progress(done, total, 'moving as little as can be'),
        cancelled: hooks.cancelled,
      },
    ),
  );
  if (hooks.cancelled()) throw new AppError('cancelled', 'The draw was cancelled; the book is as it was.');
  const about = {
    name: `${head.name}, again from ${from}`.slice(0, 120),
    from,
    to: head.to_on,
    seed: input.seed,
    drawnAt: clock.now(),
  };
  const stored = await writeBook(book, (writer) => storeRound(writer, about, built, drawn));
  const dateOf = (slot: number): string => built.instance.slots[slot].date ?? '';
  return {
    ...stored,
    moved: drawn.moved.map((one) => ({
      task: one.task,
      from: dateOf(one.from),
      to: one.to === null ? null : dateOf(one.to),
      reason: one.reason,
    })),
  };
};
