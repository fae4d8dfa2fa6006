/** One person's ordered visits for one day, with the boxes that the readings go into. */
import type { BookDb } from '../../db/book.ts';
import { roundHead, roundInstanceJson, tasksOfRound, visitsOfRound } from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { DaySheet } from '../../shared/contract/rounds.ts';
import { heldStates } from '../../shared/planning/heldStates.ts';
import type { HeldState } from '../../shared/planning/heldStates.ts';
import type { DrawnVisit, PlanInstance } from '../../shared/planning/instance.ts';
import { evaluate } from '../../shared/planning/evaluate.ts';
import { minutesOfClock } from '../../shared/dates/plainDate.ts';
import { overrunsOf, shiftTimes } from '../../shared/planning/tours/switchTimes.ts';
import type { ShiftTimes, SwitchTime } from '../../shared/planning/tours/switchTimes.ts';
import { crewIdOf } from './crewIds.ts';
import { assignmentOfRows } from './roundPlan.ts';
import { boxesOfCard } from '../bench/paperBoxes.ts';
import { cardDevice, cardEntries } from '../bench/cardFacts.ts';
import { airStateOf, planStateOf } from './planStates.ts';

type VisitRow = Awaited<ReturnType<typeof visitsOfRound>>[number];
type TaskRow = Awaited<ReturnType<typeof tasksOfRound>>[number];
type Box = DaySheet['shifts'][number]['visits'][number]['tasks'][number]['boxes'][number];

/** The usual cautions of this work; the day sheet and the bench card print them. */
export const cautions: readonly string[] = [
  'Planning and record-keeping aid. Local codes, the device maker’s instructions and licensed practice come first; tolerances and intervals are starting values for the owner to set.',
  'Line-voltage relays and time switches: lock out, tag out, verify with a rated meter before opening a cover.',
  'Compressed air and receivers: relieve stored pressure from the part first; never point air at people.',
  'Steam and hot water: isolate before opening a body. Ladders, plenums and roofs: secure footing, second person.',
  'Before a main is forced: outdoor temperature and season allow it, occupants told, restored and ticked before leaving.',
];

/** Boxes on paper for one task, in the order of the bench card: its description says which. */
async function boxesOf(db: BookDb, task: { deviceId: number; role: string }, today: string): Promise<Box[]> {
  const entries = await cardEntries(db, await cardDevice(db, task.deviceId), today);
  const facts = entries.find(({ key }) => key === task.role)?.facts;
  return facts ? boxesOfCard(facts) : [];
}

async function doneTestPoints(db: BookDb, taskIds: readonly number[], since: string): Promise<Set<number>> {
  if (taskIds.length === 0) return new Set();
  const rows = await db
    .selectFrom('task_test_point as t')
    .innerJoin('test_point as tp', 'tp.id', 't.test_point_id')
    .select([
      't.task_id',
      (eb) => eb.fn.min('tp.last_done_on').as('done'),
      (eb) => eb.fn.count('tp.id').as('points'),
      (eb) => eb.fn.count('tp.last_done_on').as('known'),
    ])
    .where('t.task_id', 'in', [...taskIds])
    .groupBy('t.task_id')
    .execute();
  return new Set(
    rows
      .filter((row) => row.points === row.known && row.done !== null && row.done >= since)
      .map((row) => row.task_id),
  );
}

/** States of the mains that are held for days: those hang on the whole round, which is read only where there are any. */
async function heldIn(db: BookDb, roundId: number, instance: PlanInstance): Promise<HeldState[]> {
  if (!instance.mains?.some((main) => main.policy === 'hold')) return [];
  return heldStates(
    instance,
    assignmentOfRows(instance, await visitsOfRound(db, roundId), await tasksOfRound(db, roundId)),
  );
}

/** Builds the day sheet of a person on a date. A day without visits is a sheet without shifts. */
export async function buildDaySheet(
  db: BookDb,
  key: { roundId: number; date: string; personId: number },
): Promise<DaySheet> {
  const head = await roundHead(db, key.roundId);
  if (!head) throw new AppError('not_found', 'There is no such round in the book.');
  const person = await db
    .selectFrom('person')
    .select(['id', 'name', 'initials'])
    .where('id', '=', key.personId)
    .executeTakeFirst();
  if (!person) throw new AppError('not_found', 'There is no such person in the book.');
  // All persons of the day: who shares a main decides when it is changed.
  const dayVisits = await visitsOfRound(db, key.roundId, key.date);
  const dayTasks = await tasksOfRound(
    db,
    key.roundId,
    dayVisits.map((visit) => visit.id),
  );
  const visits = dayVisits.filter((visit) => visit.person_id === key.personId);
  const visitIds = new Set(visits.map((visit) => visit.id));
  const tasks = dayTasks.filter((task) => task.visit_id !== null && visitIds.has(task.visit_id));
  const instance = JSON.parse(await roundInstanceJson(db, key.roundId)) as PlanInstance;
  const held = await heldIn(db, key.roundId, instance);
  const times = shiftTimes(instance, plannedVisits(instance, dayVisits, dayTasks), held);
  const overruns = overrunsOf(instance, times);
  const crewId = crewIdOf(instance, person);
  const portable = new Set(instance.tasks.filter((task) => task.byPortable).map((task) => task.id));
  const done = await doneTestPoints(
    db,
    tasks.map((task) => task.id),
    head.from_on,
  );
  const roomAccess = await accessTexts(
    db,
    visits.map((visit) => visit.room_id),
  );
  const shifts: DaySheet['shifts'] = [];
  for (const slot of new Set(visits.map((visit) => visit.slot))) {
    const own = visits.filter((visit) => visit.slot === slot);
    const [first] = own;
    const slotTasks = tasks.filter((task) => own.some((visit) => visit.id === task.visit_id));
    const sheetVisits: DaySheet['shifts'][number]['visits'] = [];
    for (const visit of own) {
      const ownTasks = tasks.filter((task) => task.visit_id === visit.id);
      const taskRows = [];
      for (const task of ownTasks)
        taskRows.push({
          id: task.task_key,
          deviceId: task.device_id,
          tag: task.tag,
          class: task.class,
          kind: task.kind,
          role: task.role === '' ? null : task.role,
          minutes: task.minutes,
          byPortable: portable.has(task.task_key),
          dueOn: task.due_on,
          done: done.has(task.id),
          boxes: await boxesOf(db, { deviceId: task.device_id, role: task.role }, key.date),
        });
      sheetVisits.push({
        visitId: visit.id,
        order: visit.position,
        building: visit.building,
        level: visit.level,
        room: visit.room,
        roomName: visit.room_name,
        access: visit.room_id === null ? null : (roomAccess.get(visit.room_id) ?? null),
        main: visit.main,
        airState: visit.air_state,
        noAccess: visit.no_access_reason,
        tasks: taskRows,
      });
    }
    shifts.push({
      shift: first.shift,
      from: first.from_time,
      to: first.to_time,
      capacityMinutes: first.shift_minutes,
      loadMinutes: loadOf(
        instance,
        slot,
        crewId,
        slotTasks.map((task) => task.task_key),
      ),
      overrunMinutes: overruns.find((one) => one.slot === slot && one.crew === crewId)?.minutes ?? 0,
      switching: switchingOf(instance, { ...times, heldStates: held }, crewId, own),
      visits: sheetVisits,
    });
  }
  return {
    roundId: head.id,
    roundName: head.name,
    status: head.status,
    date: key.date,
    person,
    shifts,
    cautions: [...cautions],
  };
}

/** Minutes that a person's tasks in a slot take with walking and waiting, by the evaluator's own rules. */
export function loadOf(
  instance: PlanInstance,
  slot: number,
  crew: string,
  taskIds: readonly string[],
): number {
  const own = new Set(taskIds);
  const assignment = Object.fromEntries([...own].map((id) => [id, { slot, crew }]));
  const alone: PlanInstance = {
    ...instance,
    // What was promised names persons by their place among all.
    tasks: instance.tasks.flatMap(({ published: _published, ...task }) => (own.has(task.id) ? [task] : [])),
    crews: instance.crews
      .filter((one) => one.id === crew)
      .map((one) => ({ ...one, regular: one.regular.map(() => 0) })),
    periodTarget: {},
  };
  return evaluate(alone, assignment).parts.overtimeMin;
}

type Switching = DaySheet['shifts'][number]['switching'];

function clockAfter(from: string, minutes: number | undefined): string | null {
  if (minutes === undefined) return null;
  const at = ((minutesOfClock(from) ?? 0) + minutes) % 1440;
  return `${String(Math.floor(at / 60)).padStart(2, '0')}:${String(at % 60).padStart(2, '0')}`;
}

function heldOf(
  states: readonly HeldState[],
  { main, slot }: { main: string; slot: number },
  isBoth: boolean,
): Switching[number]['held'] {
  const state = states.find((one) => one.main === main && one.slot === slot);
  if (!state) return null;
  return { found: airStateOf(state.found), left: airStateOf(state.left), isBoth };
}

/** The air states of a person's shift, and for what is changed by hand when, and by whom. */
function switchingOf(
  instance: PlanInstance,
  { switches, held, heldStates }: ShiftTimes & { heldStates: readonly HeldState[] },
  crew: string,
  visits: readonly VisitRow[],
): Switching {
  const [{ slot, from_time: from }] = visits;
  const states = new Map<string, ('low' | 'high')[]>();
  for (const { main, air_state: state } of visits) {
    if (main === null || state === null) continue;
    const known = states.get(main) ?? [];
    if (!known.includes(state)) states.set(main, [...known, state]);
  }
  return [...states].flatMap(([main, worked]): Switching => {
    const planned = instance.mains?.find((one) => one.id === main);
    if (planned?.policy === 'hold') {
      // One row for each state that the person works in, in working order.
      const change = held.find((one) => one.slot === slot && one.main === main);
      return worked.map((airState) => ({
        main,
        airState,
        forced: false,
        held: heldOf(heldStates, { main, slot }, change !== undefined),
        begin: clockAfter(from, change?.at),
        back: null,
        sharedWith: (change?.crews ?? []).filter((one) => one !== crew),
      }));
    }
    const airState = worked.at(-1) ?? 'low';
    const changes = switches.filter((one) => one.slot === slot && one.main === main);
    const own = changes.filter((one) => one.crews.includes(crew));
    const natural = planned?.natural?.[slot] ?? 'L';
    const rowOf = (change?: SwitchTime): Switching[number] => ({
      main,
      airState: change && own.length > 0 ? airStateOf(change.state) : airState,
      forced: own.length > 0 || airStateOf(natural) !== airState,
      held: null,
      begin: clockAfter(from, change?.begin),
      back: clockAfter(from, change?.back),
      sharedWith: (change?.crews ?? []).filter((one) => one !== crew),
    });
    if (changes.length === 0) return [rowOf()];
    return (own.length > 0 ? own : changes).map(rowOf);
  });
}

/** The visits of a date as the planner has them. */
function plannedVisits(
  instance: PlanInstance,
  visits: readonly VisitRow[],
  tasks: readonly TaskRow[],
): DrawnVisit[] {
  return visits.map((visit) => ({
    slot: visit.slot,
    crew: crewIdOf(instance, { id: visit.person_id, initials: visit.initials }),
    order: visit.position,
    building: visit.building,
    floor: visit.level,
    room: visit.room,
    main: visit.main,
    state: visit.air_state === null ? null : planStateOf(visit.air_state),
    tasks: tasks.filter((task) => task.visit_id === visit.id).map((task) => task.task_key),
  }));
}

async function accessTexts(db: BookDb, roomIds: readonly (number | null)[]): Promise<Map<number, string>> {
  const ids = [...new Set(roomIds.filter((id) => id !== null))];
  if (ids.length === 0) return new Map();
  const rows = await db
    .selectFrom('access_window')
    .select(['room_id', 'weekdays', 'from_time', 'to_time'])
    .where('room_id', 'in', ids)
    .orderBy('room_id')
    .orderBy('position')
    .execute();
  const texts = new Map<number, string>();
  for (const row of rows) {
    const text = `${row.weekdays} ${row.from_time}-${row.to_time}`;
    texts.set(row.room_id, texts.has(row.room_id) ? `${texts.get(row.room_id)}, ${text}` : text);
  }
  return texts;
}
