/** `round redraw`: the rest of a round's period again, from what the book says now and what was promised. */
import type { BookDb } from '../../db/book.ts';
import { writeBook } from '../../db/book.ts';
import { issuedRounds, pinnedTasks, roundHead, tasksOfRound, visitsOfRound } from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { planningOf } from '../settings/handlers.ts';
import type { MovedTask, ShiftPlace } from '../../shared/contract/rounds.ts';
import { dayNumber, daysBetween } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { compile } from '../../shared/planning/engine/compile.ts';
import { fixedBreaches } from '../../shared/planning/engine/fixed.ts';
import { PUT_OFF, placeIn } from '../../shared/planning/instance.ts';
import type { Placement } from '../../shared/planning/instance.ts';
import { redrawRound } from '../../shared/planning/redraw.ts';
import type { Redrawn } from '../../shared/planning/redraw.ts';
import type { JobHandler } from '../context.ts';
import { buildInstance } from './buildInstance.ts';
import type { BuiltInstance } from './buildInstance.ts';
import { storePins } from './pinTask.ts';
import { shiftPlaceOf } from './roundPlan.ts';
import type { HeadRow } from './roundPlan.ts';
import { drawGuarded, requireWorkable, storeRound } from './drawIntoBook.ts';

/** Points for moving what was promised, and for giving it to another person; near dates cost more. A draft is nearly free to move. */
const PROMISED = { move: 5, handOver: 3 };
const DRAFT = { move: 1, handOver: 1 };
/** Work up to so many days ahead may be moved. */
const HORIZON_DAYS = 84;

/** The round whose places were promised: the one in force on those days, if the one drawn again is a draft; else that itself. */
async function promiseOf(db: BookDb, head: HeadRow): Promise<HeadRow> {
  if (head.status !== 'draft') return head;
  const [inForce] = await issuedRounds(db, head);
  return inForce ?? head;
}

/** Days on which devices were put in the place of others. */
async function putInOn(db: BookDb): Promise<Map<number | null, string>> {
  const rows = await db.selectFrom('replacement').select(['new_device_id', 'on_date']).execute();
  return new Map(rows.map((row) => [row.new_device_id, row.on_date]));
}

/** Key of a planned task under the tag that its device has now: it may have been renamed, or replaced. */
function keyNow({ tag, task_key }: { tag: string; task_key: string }): string {
  return `${tag}${task_key.slice(task_key.lastIndexOf('/'))}`;
}

/**
 * The tasks of a round that fall due for the same check still, with the row, visit, slot and person of each; undefined
 * where there is none any more. What was done since falls due anew, and nothing was promised for that. What was handed
 * over to a new device is due from the day that one was put in, and keeps what was promised.
 */
async function stillDue(db: BookDb, roundId: number, { instance, origins }: BuiltInstance) {
  const slots = new Map(instance.slots.map((slot, index) => [`${slot.date} ${slot.shiftId}`, index]));
  const crews = new Map(instance.crews.map((crew, index) => [crew.personId, index]));
  const visits = new Map((await visitsOfRound(db, roundId)).map((visit) => [visit.id, visit]));
  const byKey = new Map(instance.tasks.map((task) => [task.id, task]));
  const putIn = await putInOn(db);
  return (await tasksOfRound(db, roundId)).flatMap((row) => {
    const key = keyNow(row);
    const task = byKey.get(key);
    if (!task) return [];
    const firstDue = origins.get(key.replace(/#\d+$/u, ''))?.dueOn;
    const isHandedOver = firstDue !== undefined && firstDue === putIn.get(row.device_id);
    if (!isHandedOver && origins.get(key)?.dueOn !== row.due_on) return [];
    const visit = row.visit_id === null ? undefined : visits.get(row.visit_id);
    const slot = visit && slots.get(`${visit.on_date} ${visit.shift_pattern_id}`);
    const crew = visit && crews.get(visit.person_id);
    return [{ task, row, visit, slot, crew }];
  });
}

/** Notes what is pinned in a round drawn again, and what was put off in it. */
async function keepDecisions(db: BookDb, head: HeadRow, built: BuiltInstance): Promise<void> {
  const pinned = new Set(await pinnedTasks(db, head.id));
  for (const { task, row, slot, crew } of await stillDue(db, head.id, built)) {
    if (row.reason === PUT_OFF) task.putOff = true;
    if (pinned.has(row.task_key) && slot !== undefined && crew !== undefined) task.frozen = [slot, crew];
  }
}

/** Notes where each task was promised; answers what was promised for days gone by and not done. */
async function publish(
  db: BookDb,
  head: HeadRow,
  built: BuiltInstance,
  begin: PlainDate,
): Promise<MovedTask[]> {
  const { instance } = built;
  const overdue: MovedTask[] = [];
  for (const { task, visit, slot, crew } of await stillDue(db, head.id, built)) {
    if (!visit) continue;
    if (slot === undefined || crew === undefined) {
      const reason =
        visit.on_date < begin
          ? 'it was not done on its date, which has passed'
          : slot === undefined
            ? `${visit.on_date} ${visit.shift} is no working shift any more`
            : `${visit.initials} has no shift any more`;
      const from = { date: visit.on_date, shift: visit.shift, person: visit.initials };
      overdue.push({ task: task.id, from, to: null, reason });
      continue;
    }
    task.published = [slot, crew];
    task.moveFactor = 1 + Math.floor(Math.max(0, 14 - daysBetween(begin, visit.on_date)) / 7);
  }
  instance.cost = { ...instance.cost, ...(head.status === 'draft' ? DRAFT : PROMISED) };
  return overdue;
}

/** Lets go of the pins of some tasks; answers how many there were. */
function unpin({ instance }: BuiltInstance, ids: readonly string[]): number {
  const broken = new Set(ids);
  const pinned = instance.tasks.filter((task) => task.frozen && broken.has(task.id));
  for (const task of pinned) delete task.frozen;
  return pinned.length;
}

/** Lets go of pins that cannot hold any more: their person is away, their room closed, their shift too full for all of them. */
function dropBrokenPins(built: BuiltInstance): void {
  while (built.instance.tasks.some((task) => task.frozen)) {
    const breaches = drawGuarded(() => fixedBreaches(compile(built.instance)));
    const broken = breaches.map((one) => one.task);
    if (unpin(built, broken) === 0) return;
  }
}

function refuseStart(from: PlainDate, head: HeadRow): void {
  if (from >= head.from_on && from <= head.to_on) return;
  throw new AppError('invalid_input', 'The round cannot be drawn again from there.', {
    problems: [
      { column: 'from', value: from, reason: `outside the round, ${head.from_on} to ${head.to_on}` },
    ],
  });
}

export const redrawIntoBook: JobHandler<'rounds.redraw'> = async ({ book, clock }, input, hooks) => {
  hooks.progress(0, 1, 'reading the book');
  const db = book.reader;
  const head = await roundHead(db, input.id);
  if (!head) throw new AppError('not_found', 'There is no round to draw again.');
  const today = clock.today();
  const from = input.from ?? (today > head.from_on ? today : head.from_on);
  refuseStart(from, head);
  // What is promised between today and a later start stays; what is past and not done cannot.
  const begin = from < today ? from : today > head.from_on ? today : head.from_on;
  const { value: options } = await planningOf(db);
  const built = await buildInstance(db, { from: begin, to: head.to_on }, options);
  requireWorkable(built);
  await keepDecisions(db, head, built);
  const overdue = await publish(db, await promiseOf(db, head), built, begin);
  dropBrokenPins(built);
  const { slots } = built.instance;
  const first = slots.findIndex((slot) => (slot.date ?? '') >= from);
  if (first < 0) throw new AppError('conflict', `The round has no working shift from ${from} on.`);
  const until = dayNumber(from) + HORIZON_DAYS;
  const last = slots.findLastIndex((slot) => slot.day <= until);
  const redraw = (): Redrawn =>
    redrawRound(
      built.instance,
      { seed: input.seed, evaluations: input.evaluations, slots: [first, Math.max(first, last)] },
      {
        progress: (done, total) => hooks.progress(done, total, 'moving as little as can be'),
        cancelled: hooks.cancelled,
      },
    );
  let drawn = drawGuarded(redraw);
  // A pin that something would have to come before, and nothing can, does not hold either.
  while (drawn.outOfOrder.length > 0) {
    const broken = drawn.outOfOrder.map((one) => one.task);
    if (unpin(built, broken) === 0)
      throw new Error('a task that is not fixed stands before what it waits for');
    drawn = drawGuarded(redraw);
  }
  if (hooks.cancelled()) throw new AppError('cancelled', 'The draw was cancelled; the book is as it was.');
  const placeOf = (place: Placement | null) => shiftPlaceOf(built.instance, place);
  const moved: MovedTask[] = [
    ...overdue.map((one) => ({ ...one, to: placeOf(placeIn(drawn.assignment, one.task)) })),
    ...drawn.moved.map((one) => ({
      task: one.task,
      from: placeOf(one.from) as ShiftPlace,
      to: placeOf(one.to),
      reason: one.reason,
    })),
  ];
  const about = {
    name: `${head.name.replace(/(, again from \d{4}-\d{2}-\d{2})+$/u, '')}, again from ${from}`.slice(0, 120),
    from: begin,
    to: head.to_on,
    seed: input.seed,
    drawnAt: clock.now(),
    moved,
  };
  const stored = await writeBook(book, async (writer) => {
    const round = await storeRound(writer, about, built, drawn);
    await storePins(writer, round.roundId, built.instance);
    return round;
  });
  return { ...stored, moved };
};
