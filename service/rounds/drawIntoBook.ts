/** `round draw`: instance from the book, the planner, the round into the book. Nothing is kept of a cancelled draw. */
import type { BookDb } from '../../db/book.ts';
import { writeBook } from '../../db/book.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { MovedTask, RoundFigures } from '../../shared/contract/rounds.ts';
import { daysBetween } from '../../shared/dates/plainDate.ts';
import { drawRound } from '../../shared/planning/drawRound.ts';
import { settleWays } from '../../shared/planning/ways.ts';
import { DrawCancelled, InstanceError } from '../../shared/planning/instance.ts';
import type { DrawnRound } from '../../shared/planning/instance.ts';
import type { JobHandler } from '../context.ts';
import { figuresOf } from './figures.ts';
import { storeVisits } from './storeVisits.ts';
import { planningOf } from '../settings/handlers.ts';
import { buildInstance } from './buildInstance.ts';
import type { BuiltInstance } from './buildInstance.ts';

const LONGEST_PERIOD_DAYS = 3 * 366;

/** Writes a drawn round as a draft; the way that was chosen for each task is settled in the instance it keeps. */
export async function storeRound(
  db: BookDb,
  round: { name: string; from: string; to: string; seed: number; drawnAt: string; moved: MovedTask[] | null },
  { instance: asked, origins }: BuiltInstance,
  drawn: DrawnRound,
): Promise<{ roundId: number; figures: RoundFigures }> {
  const { instance } = settleWays(asked, drawn.assignment);
  const figures = figuresOf(instance, drawn);
  const { id: roundId } = await db
    .insertInto('round')
    .values({
      name: round.name,
      from_on: round.from,
      to_on: round.to,
      seed: round.seed,
      status: 'draft',
      drawn_at: round.drawnAt,
      evaluations: drawn.evaluations,
      instance_json: JSON.stringify(instance),
      figures_json: JSON.stringify(figures),
      moved_json: round.moved === null ? null : JSON.stringify(round.moved),
    })
    .returning('id')
    .executeTakeFirstOrThrow();
  const visitOfTask = await storeVisits(db, roundId, instance, drawn.visits);
  const reasons = new Map(drawn.unplaced.map((one) => [one.task, one]));
  for (const task of instance.tasks) {
    const origin = origins.get(task.id);
    if (!origin) throw new Error(`task ${task.id} has no origin`);
    const place = visitOfTask.get(task.id);
    const { id } = await db
      .insertInto('task')
      .values({
        round_id: roundId,
        task_key: task.id,
        device_id: origin.deviceId,
        kind: origin.kind,
        role: origin.role as '',
        minutes: task.min,
        due_on: origin.dueOn,
        visit_id: place?.visitId ?? null,
        position: place?.position ?? null,
      })
      .returning('id')
      .executeTakeFirstOrThrow();
    await db
      .insertInto('task_test_point')
      .values(origin.testPointIds.map((test_point_id) => ({ task_id: id, test_point_id })))
      .execute();
    const reason = reasons.get(task.id);
    if (reason)
      await db
        .insertInto('placement_reason')
        .values({ task_id: id, code: reason.reason, detail: reason.detail })
        .execute();
  }
  return { roundId, figures };
}

/** Refuses a book that nobody can work in. */
export function requireWorkable(built: BuiltInstance): void {
  if (built.instance.crews.length === 0)
    throw new AppError(
      'conflict',
      'Nobody can be sent: no active person has a shift. Add people and shifts in Settings.',
    );
  if (built.instance.slots.length === 0)
    throw new AppError(
      'conflict',
      'The period has no working shift. Look at the days off and the shifts in Settings.',
    );
}

/** Runs the planner; its refusals become errors of the contract. */
export function drawGuarded<T>(draw: () => T): T {
  try {
    return draw();
  } catch (error) {
    if (error instanceof DrawCancelled)
      throw new AppError('cancelled', 'The draw was cancelled; the book is as it was.');
    if (error instanceof InstanceError)
      throw new AppError('conflict', `The round cannot be drawn: ${error.message}.`);
    throw error;
  }
}

function refusePeriod(from: string, to: string): void {
  const reason =
    to < from
      ? 'the period ends before it begins'
      : daysBetween(from, to) > LONGEST_PERIOD_DAYS
        ? 'a round covers at most three years'
        : null;
  if (reason)
    throw new AppError('invalid_input', `The round cannot be drawn: ${reason}.`, {
      problems: [{ column: 'to', value: to, reason }],
    });
}

export const drawIntoBook: JobHandler<'rounds.draw'> = async (
  { book, clock },
  { from, to, seed, evaluations, name },
  hooks,
) => {
  refusePeriod(from, to);
  hooks.progress(0, 1, 'reading the book');
  const { value: options } = await planningOf(book.reader);
  const built = await buildInstance(book.reader, { from, to }, options);
  requireWorkable(built);
  const drawn = drawGuarded(() =>
    drawRound(
      built.instance,
      { seed, evaluations, handBack: true },
      { progress: (done, total) => hooks.progress(done, total, 'placing tasks'), cancelled: hooks.cancelled },
    ),
  );
  if (hooks.cancelled()) throw new AppError('cancelled', 'The draw was cancelled; the book is as it was.');
  hooks.progress(1, 1, 'writing the round');
  const head = { name: name || `Round ${from} to ${to}`, from, to, seed, drawnAt: clock.now(), moved: null };
  return writeBook(book, (db) => storeRound(db, head, built, drawn));
};
