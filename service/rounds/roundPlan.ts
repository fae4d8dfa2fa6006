/** A round of the book as the planner sees it: its instance compiled, and every task at its place. */
import type { Book, BookDb } from '../../db/book.ts';
import { roundHead, roundInstanceJson, tasksOfRound, visitsOfRound } from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { ShiftPlace } from '../../shared/contract/rounds.ts';
import { compile } from '../../shared/planning/engine/compile.ts';
import type { Compiled } from '../../shared/planning/engine/compile.ts';
import { findHeads } from '../../shared/planning/engine/heads.ts';
import type { Heads } from '../../shared/planning/engine/heads.ts';
import { planOf } from '../../shared/planning/engine/assignment.ts';
import type { Plan } from '../../shared/planning/engine/plan.ts';
import type { Assignment, Placement, PlanInstance, PlanSlot } from '../../shared/planning/instance.ts';
import { crewIdOf } from './crewIds.ts';

export type HeadRow = NonNullable<Awaited<ReturnType<typeof roundHead>>>;
type VisitRow = Awaited<ReturnType<typeof visitsOfRound>>[number];
type TaskRow = Awaited<ReturnType<typeof tasksOfRound>>[number];

export type Reason = { reason: string; detail: string };

export type RoundPlan = {
  head: HeadRow;
  /** As drawn. What is compiled of it is free of pins, and of what was put off. */
  instance: PlanInstance;
  c: Compiled;
  heads: Heads;
  plan: Plan;
  /** Why tasks had no place when the round was drawn, by task. */
  reasons: Map<string, Reason>;
};

/** A round's head, the newest one's without an id. Throws `not_found`. */
export async function requireHead(db: BookDb, id: number | undefined): Promise<HeadRow> {
  const head = await roundHead(db, id);
  if (!head)
    throw new AppError(
      'not_found',
      id === undefined ? 'No round has been drawn in this book yet.' : 'There is no such round in the book.',
    );
  return head;
}

/** Where each task of a round stands, from its rows. */
export function assignmentOfRows(
  instance: PlanInstance,
  visits: readonly VisitRow[],
  tasks: readonly TaskRow[],
): Assignment {
  const byId = new Map(visits.map((visit) => [visit.id, visit]));
  const assignment: Assignment = Object.fromEntries(instance.tasks.map((task) => [task.id, null]));
  for (const task of tasks) {
    const visit = task.visit_id === null ? undefined : byId.get(task.visit_id);
    if (visit)
      assignment[task.task_key] = {
        slot: visit.slot,
        crew: crewIdOf(instance, { id: visit.person_id, initials: visit.initials }),
      };
  }
  return assignment;
}

/** The round looked at last, by book: pricing by hand asks for the same one again and again. */
const latest = new WeakMap<Book, { key: string; loaded: RoundPlan }>();

/** Loads a round; answers the one held when nothing of it has changed. */
export async function roundPlanOf(book: Book, db: BookDb, id: number | undefined): Promise<RoundPlan> {
  const head = await requireHead(db, id);
  const key = `${head.id} ${head.version} ${head.drawn_at}`;
  const held = latest.get(book);
  if (held?.key === key) return held.loaded;
  const instance = JSON.parse(await roundInstanceJson(db, head.id)) as PlanInstance;
  const tasks = await tasksOfRound(db, head.id);
  const assignment = assignmentOfRows(instance, await visitsOfRound(db, head.id), tasks);
  const reasons = new Map<string, Reason>();
  for (const { visit_id, task_key, reason, reason_detail } of tasks)
    if (visit_id === null && reason !== null) reasons.set(task_key, { reason, detail: reason_detail ?? '' });
  // A pin, and putting off, hold against a re-draw, not against a move by hand.
  const free = {
    ...instance,
    tasks: instance.tasks.map(({ frozen: _frozen, putOff: _putOff, ...task }) => task),
  };
  const c = compile(free);
  const plan = planOf(c, assignment);
  const loaded: RoundPlan = { head, instance, c, heads: findHeads(c), plan, reasons };
  latest.set(book, { key, loaded });
  return loaded;
}

/** Lets go of the round looked at last. */
export function forgetRoundPlan(book: Book): void {
  latest.delete(book);
}

/** A slot for people. */
export function shiftOf(instance: PlanInstance, slot: number): { date: string; shift: string } {
  const { date = '', shift = '' }: PlanSlot = instance.slots[slot];
  return { date, shift };
}

/** A place for people; null for none. */
export function shiftPlaceOf(instance: PlanInstance, place: Placement | null): ShiftPlace | null {
  return place === null ? null : { ...shiftOf(instance, place.slot), person: place.crew };
}

/** The crew-slot of a date, shift and person's initials, -1 for null; throws `invalid_input` with the field that names none. */
export function crewSlotOf({ instance, c }: RoundPlan, place: ShiftPlace | null): number {
  if (place === null) return -1;
  const { date, shift, person } = place;
  const refuse = (column: string, value: string, reason: string): never => {
    throw new AppError('invalid_input', 'There is no such place in the round.', {
      problems: [{ column, value, reason }],
    });
  };
  const onDate = instance.slots.flatMap((slot, index) => (slot.date === date ? [index] : []));
  if (onDate.length === 0) refuse('date', date, 'the round has no shift on this date');
  const slot = onDate.find((index) => instance.slots[index].shift === shift);
  if (slot === undefined) {
    const names = onDate.map((index) => instance.slots[index].shift).join(', ');
    return refuse('shift', shift, `the shifts of ${date} are: ${names}`);
  }
  const crew = instance.crews.findIndex((one) => one.id === person);
  if (crew < 0) refuse('person', person, `the round has: ${instance.crews.map((one) => one.id).join(', ')}`);
  return slot * c.crews + crew;
}

/** The one task of a key or tag; refuses a tag of several, naming them. */
export function taskNamed(round: RoundPlan, name: string): number {
  const tasks = tasksNamed(round, name);
  if (tasks.length === 1) return tasks[0];
  const ids = tasks.map((task) => round.c.taskList[task].id);
  throw new AppError(
    'invalid_input',
    `${name.slice(0, 80)} has ${ids.length} tasks in this round; name one.`,
    {
      problems: ids.map((id) => ({
        column: 'task',
        value: name.slice(0, 80),
        reason: `one of them is ${id}`,
      })),
    },
  );
}

/** The task of a key, or the tasks of a device's tag. */
export function tasksNamed({ c }: RoundPlan, name: string): number[] {
  const own = c.indexOf.get(name);
  if (own !== undefined) return [own];
  const wanted = name.trim().toLowerCase();
  const tasks = c.taskList.flatMap((task, index) => (task.tag?.toLowerCase() === wanted ? [index] : []));
  if (tasks.length === 0)
    throw new AppError('not_found', `The round has no task called ${name.slice(0, 80)}.`, {
      problems: [{ column: 'tag', value: name.slice(0, 80), reason: 'no task of this round has it' }],
    });
  return tasks;
}
