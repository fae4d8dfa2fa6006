/** Use cases of the round: look at it, hand it out, publish it. Drawing is a job. */
import type { BookDb } from '../../db/book.ts';
import { appendToChain } from '../../db/ledger.ts';
import {
  issuedRoundContent,
  issuedRounds,
  removeDraft,
  roundHeads,
  roundInstanceJson,
  roundMovedJson,
  tasksOfRound,
  visitsOfRound,
} from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type {
  MovedTask,
  RoundFigures,
  RoundHead,
  RoundOverview,
  RoundShow,
} from '../../shared/contract/rounds.ts';
import { unplacedReasons } from '../../shared/planning/instance.ts';
import type { PlanInstance } from '../../shared/planning/instance.ts';
import type { GroupHandlers } from '../context.ts';
import { requireVersion } from '../register/requireVersion.ts';
import { heldStates } from '../../shared/planning/heldStates.ts';
import { readFigures } from './figures.ts';
import { moveTask } from './moveTask.ts';
import { pinTask } from './pinTask.ts';
import { assignmentOfRows, requireHead } from './roundPlan.ts';
import type { HeadRow } from './roundPlan.ts';
import { priceOfMove, whyOf } from './whyHandlers.ts';
import { crewIdOf } from './crewIds.ts';
import { buildDaySheet, loadOf } from './daySheet.ts';
import { roundCalendar } from './calendar.ts';
import { daySheetPdf } from './daySheetPdf.ts';
import { roundCsv, roundWorkbook } from './roundTable.ts';
import { airStateOf } from './planStates.ts';

const XLSX = 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet';

type TaskRow = Awaited<ReturnType<typeof tasksOfRound>>[number];

function toHead(row: HeadRow): RoundHead {
  return {
    id: row.id,
    name: row.name,
    from: row.from_on,
    to: row.to_on,
    seed: row.seed,
    status: row.status,
    drawnAt: row.drawn_at,
    evaluations: row.evaluations,
    version: row.version,
  };
}

async function requireRound(
  db: BookDb,
  id: number | undefined,
): Promise<{ head: HeadRow; figures: RoundFigures; instance: PlanInstance }> {
  const head = await requireHead(db, id);
  return {
    head,
    figures: readFigures(head.figures_json),
    instance: JSON.parse(await roundInstanceJson(db, head.id)) as PlanInstance,
  };
}

function roleOf(task: TaskRow): string | null {
  return task.role === '' ? null : task.role;
}

function toUnplaced(tasks: readonly TaskRow[]) {
  return tasks
    .filter((task) => task.visit_id === null)
    .map((task) => ({
      id: task.task_key,
      tag: task.tag,
      deviceId: task.device_id,
      role: roleOf(task),
      kind: task.kind,
      dueOn: task.due_on,
      reason: unplacedReasons.find((one) => one === task.reason) ?? ('no room in the shifts' as const),
      detail: task.reason_detail ?? '',
    }));
}

function tasksByVisit(tasks: readonly TaskRow[]): Map<number, TaskRow[]> {
  const byVisit = new Map<number, TaskRow[]>();
  for (const task of tasks)
    if (task.visit_id !== null) byVisit.set(task.visit_id, [...(byVisit.get(task.visit_id) ?? []), task]);
  return byVisit;
}

async function showRound(db: BookDb, id: number | undefined): Promise<RoundShow> {
  const { head, figures, instance } = await requireRound(db, id);
  const tasks = await tasksOfRound(db, head.id);
  const byVisit = tasksByVisit(tasks);
  const visits = await visitsOfRound(db, head.id);
  return {
    round: toHead(head),
    figures,
    assignment: assignmentOfRows(instance, visits, tasks),
    visits: visits.map((visit) => ({
      visitId: visit.id,
      date: visit.on_date,
      shift: visit.shift,
      person: visit.initials,
      order: visit.position,
      building: visit.building,
      level: visit.level,
      room: visit.room,
      main: visit.main,
      airState: visit.air_state,
      noAccess: visit.no_access_reason,
      tasks: (byVisit.get(visit.id) ?? []).map((task) => ({
        id: task.task_key,
        tag: task.tag,
        deviceId: task.device_id,
        role: roleOf(task),
        kind: task.kind,
        minutes: task.minutes,
        dueOn: task.due_on,
      })),
    })),
    unplaced: toUnplaced(tasks),
  };
}

async function overviewOf(db: BookDb, id: number | undefined): Promise<RoundOverview> {
  const { head, figures, instance } = await requireRound(db, id);
  const tasks = await tasksOfRound(db, head.id);
  const byVisit = tasksByVisit(tasks);
  const visits = await visitsOfRound(db, head.id);
  const worked = new Map<string, { main: string; state: 'low' | 'high' }>();
  type Day = RoundOverview['days'][number];
  const days = new Map<string, Day>();
  for (const [index, slot] of instance.slots.entries()) {
    const date = slot.date ?? '';
    const day: Day = days.get(date) ?? {
      date,
      capacityMinutes: 0,
      loadMinutes: 0,
      people: [],
      forcedMains: [],
    };
    day.capacityMinutes += instance.crews.reduce((sum, crew) => sum + crew.regular[index], 0);
    days.set(date, day);
  }
  const shiftTasks = new Map<
    string,
    { slot: number; personId: number; initials: string; date: string; keys: string[]; visits: number }
  >();
  for (const visit of visits) {
    const key = `${visit.slot} ${visit.person_id}`;
    const shift = shiftTasks.get(key) ?? {
      slot: visit.slot,
      personId: visit.person_id,
      initials: visit.initials,
      date: visit.on_date,
      keys: [],
      visits: 0,
    };
    shift.keys.push(...(byVisit.get(visit.id) ?? []).map((task) => task.task_key));
    shift.visits += 1;
    shiftTasks.set(key, shift);
    if (visit.main !== null && visit.air_state !== null)
      worked.set(`${visit.slot} ${visit.main} ${visit.air_state}`, {
        main: visit.main,
        state: visit.air_state,
      });
  }
  for (const shift of shiftTasks.values()) {
    const day = days.get(shift.date);
    if (!day) continue;
    const crew = crewIdOf(instance, { id: shift.personId, initials: shift.initials });
    const load = loadOf(instance, shift.slot, crew, shift.keys);
    day.loadMinutes += load;
    const person = day.people.find((one) => one.personId === shift.personId);
    if (person) {
      person.loadMinutes += load;
      person.visits += shift.visits;
    } else
      day.people.push({
        personId: shift.personId,
        initials: shift.initials,
        loadMinutes: load,
        visits: shift.visits,
      });
  }
  const heldSteps = heldStates(instance, assignmentOfRows(instance, visits, tasks));
  const naturalOf = (main: string, slot: number): 'low' | 'high' | null => {
    const plan = instance.mains?.find((one) => one.id === main);
    if (!plan || plan.unsettled?.includes(slot)) return null;
    return airStateOf(plan.natural?.[slot] ?? 'L');
  };
  for (const [key, { main, state }] of worked) {
    const slot = Number(key.split(' ', 1)[0]);
    const step = heldSteps.find((one) => one.main === main && one.slot === slot);
    const found = step ? airStateOf(step.found) : naturalOf(main, slot);
    const left = step ? airStateOf(step.left) : state;
    const day = days.get(instance.slots[slot].date ?? '');
    const shift = instance.slots[slot].shift ?? '';
    const isTold = day?.forcedMains.some((one) => one.main === main && one.shift === shift);
    // A held main may be worked in as it was found, and be changed for those who come next.
    const airState = found === state ? left : state;
    if ((found !== state || left !== state) && !isTold) day?.forcedMains.push({ main, airState, shift });
  }
  const mainIds = new Map(
    (await db.selectFrom('device').select(['id', 'tag']).where('class', '=', 'main').execute()).map((row) => [
      row.tag,
      row.id,
    ]),
  );
  const moved = await roundMovedJson(db, head.id);
  return {
    round: toHead(head),
    figures,
    moved: moved === null ? null : (JSON.parse(moved) as MovedTask[]),
    days: [...days.values()],
    mains: (instance.mains ?? []).map((main) => ({
      id: mainIds.get(main.id) ?? 1,
      tag: main.id,
      lanes: laneOf(instance, main.id, naturalOf, worked),
    })),
    unplaced: toUnplaced(tasks),
  };
}

/** One cell a day: the natural state of its occupied shift, and the state that the round holds the main at. */
function laneOf(
  instance: PlanInstance,
  main: string,
  naturalOf: (main: string, slot: number) => 'low' | 'high' | null,
  worked: ReadonlyMap<string, unknown>,
) {
  const days = new Map<
    string,
    { date: string; natural: 'low' | 'high' | null; held: 'low' | 'high' | null }
  >();
  for (const [slot, { date = '', occupied }] of instance.slots.entries()) {
    const natural = naturalOf(main, slot);
    const day = days.get(date) ?? { date, natural, held: null };
    if (occupied && natural !== null) day.natural = natural;
    for (const state of ['low', 'high'] as const)
      if (worked.has(`${slot} ${main} ${state}`) && (day.held === null || state !== natural))
        day.held = state;
    days.set(date, day);
  }
  return [...days.values()];
}

/**
 * Only one round is in force on any day: what was issued before for days of this one is closed. Refused where that
 * would leave days from today on without a round.
 */
async function closeOverlapping(db: BookDb, head: HeadRow, today: string): Promise<void> {
  for (const other of await issuedRounds(db, head)) {
    const first = other.from_on > today ? other.from_on : today;
    if (first <= other.to_on && (head.from_on > first || head.to_on < other.to_on))
      throw new AppError(
        'conflict',
        `Round ${other.id}, ${other.name}, is in force to ${other.to_on}: a round that takes its place must hold all its days from ${first} on.`,
      );
    await setStatus(db, other, 'closed');
  }
}

async function setStatus(db: BookDb, head: HeadRow, status: 'issued' | 'closed'): Promise<RoundHead> {
  await db
    .updateTable('round')
    .set({ status, version: head.version + 1 })
    .where('id', '=', head.id)
    .execute();
  return toHead({ ...head, status, version: head.version + 1 });
}

export const roundsHandlers: GroupHandlers<'rounds'> = {
  list: async ({ db }) => ({
    rounds: (await roundHeads(db)).map((row) => ({
      ...toHead(row),
      figures: readFigures(row.figures_json),
    })),
  }),

  overview: async ({ db }, { id }) => overviewOf(db, id),

  show: async ({ db }, { id }) => showRound(db, id),

  instance: async ({ db }, { id }) => {
    const { instance } = await requireRound(db, id);
    return { ...instance };
  },

  issue: async ({ db, clock }, { id, version }) => {
    const { head } = await requireRound(db, id);
    requireVersion(version, { version: head.version, values: toHead(head) });
    if (head.status !== 'draft') throw new AppError('conflict', `This round is ${head.status} already.`);
    await closeOverlapping(db, head, clock.today());
    const round = await setStatus(db, head, 'issued');
    await appendToChain(db, {
      kind: 'issued round',
      recordId: id,
      at: clock.now(),
      content: await issuedRoundContent(db, id),
    });
    return { round };
  },

  discard: async ({ db }, { id, version }) => {
    const { head } = await requireRound(db, id);
    requireVersion(version, { version: head.version, values: toHead(head) });
    if (head.status !== 'draft')
      throw new AppError('conflict', `Only a draft can be discarded; this round is ${head.status}.`);
    await removeDraft(db, id);
    return { discarded: id };
  },

  why: whyOf,

  priceMove: priceOfMove,

  move: moveTask,

  pin: pinTask,

  daySheet: async ({ db }, key) => buildDaySheet(db, key),

  daySheetPdf: async ({ db }, key) => {
    const sheet = await buildDaySheet(db, key);
    return {
      fileName: `day-sheet-${sheet.date}-${sheet.person.initials}.pdf`,
      mediaType: 'application/pdf',
      bytes: await daySheetPdf(db, sheet),
    };
  },

  calendar: async ({ db }, { id, personId, alarmMinutes }) => {
    const { text, initials } = await roundCalendar(db, { roundId: id, personId, alarmMinutes });
    return {
      fileName: `round-${id}-${initials}.ics`,
      mediaType: 'text/calendar; charset=utf-8',
      bytes: new TextEncoder().encode(text),
    };
  },

  table: async ({ db }, { id, as }) => ({
    fileName: `round-${id ?? 'newest'}.${as}`,
    mediaType: as === 'csv' ? 'text/csv; charset=utf-8' : XLSX,
    bytes: as === 'csv' ? await roundCsv(db, id) : await roundWorkbook(db, id),
  }),

  noAccess: async ({ db }, { visitId, reason }) => {
    const visit = await db.selectFrom('visit').select('id').where('id', '=', visitId).executeTakeFirst();
    if (!visit) throw new AppError('not_found', 'There is no such visit in the book.');
    await db.updateTable('visit').set({ no_access_reason: reason }).where('id', '=', visitId).execute();
    return { visitId };
  },
};
