/**
 * From the book to a planning instance: every test point that falls due by the end of the period, as tasks
 * with windows, air states, precedence and open shifts. The instance alone decides the round.
 */
import type { BookDb } from '../../db/book.ts';
import { addDays, dayNumber, daysBetween, minutesOfClock } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { urgentWeight } from '../../shared/stats/urgency.ts';
import { evenShares } from '../../shared/planning/evenShares.ts';
import type { PlanInstance, PlanMain, PlanTask } from '../../shared/planning/instance.ts';
import type { PlanningOptions } from '../../shared/contract/settings.ts';
import { intervalOf } from '../../shared/trade/due.ts';
import { mainsWithAir, naturalStateAt, settledState } from './airStates.ts';
import type { MainAir } from './airStates.ts';
import { supplyGraph, supplyPredecessors } from './precedence.ts';
import { intervalPolicyOf } from '../intervals/policy.ts';
import { calendarOf, openRanges } from './slots.ts';
import type { Access, Slot } from './slots.ts';
import { outsideChances } from './outsideChances.ts';
import { planStateOf } from './planStates.ts';

export type TaskOrigin = {
  deviceId: number;
  kind: string;
  role: string;
  dueOn: PlainDate;
  testPointIds: number[];
};
export type BuiltInstance = {
  instance: PlanInstance;
  origins: Map<string, TaskOrigin>;
};

const taskKinds: Record<string, string> = {
  air_station: 'station check',
  regulator: 'regulator check',
  switchover_relay: 'relay check',
  time_switch: 'time switch check',
  main: 'switchover proof',
  transmitter: 'transmitter check',
  actuator: 'spring range',
};

type DuePoint = {
  id: number;
  deviceId: number;
  tag: string;
  deviceClass: string;
  kind: string;
  role: string;
  airState: 'low' | 'high' | null;
  dueOn: string;
  intervalDays: number;
  ownMinutes: number | null;
  deviceMinutes: number | null;
  classMinutes: number;
  weight: number;
  mainId: number | null;
  building: string | null;
  level: string | null;
  room: string | null;
  roomId: number | null;
  roomX: number | null;
  roomY: number | null;
  basis: string | null;
};

async function duePoints(db: BookDb, to: PlainDate): Promise<DuePoint[]> {
  const rows = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .leftJoin('setpoint as s', 's.test_point_id', 'tp.id')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .select([
      'tp.id',
      'd.id as deviceId',
      'd.tag',
      'd.class as deviceClass',
      'tp.kind',
      'tp.role',
      'tp.air_state as airState',
      'tp.due_on as dueOn',
      'tp.interval_days as ownInterval',
      'd.interval_days as deviceInterval',
      'cd.interval_days as classInterval',
      'tp.minutes as ownMinutes',
      'd.minutes as deviceMinutes',
      'cd.minutes as classMinutes',
      'cd.weight',
      'd.main_id as mainId',
      'b.code as building',
      'l.code as level',
      'r.code as room',
      'r.id as roomId',
      'r.x_m_milli as roomX',
      'r.y_m_milli as roomY',
      's.calibration_basis as basis',
    ])
    .where('tp.active', '=', 1)
    .where('tp.due_on', 'is not', null)
    .where((eb) => eb.or([eb('tp.due_on', '<=', to), eb('tp.kind', '<>', 'setpoint')]))
    .orderBy('d.tag')
    .orderBy('tp.kind')
    .orderBy('tp.role')
    .execute();
  return rows.map((row) => ({
    ...row,
    dueOn: row.dueOn as string,
    intervalDays: intervalOf(row),
    classMinutes: row.classMinutes ?? 15,
    weight: row.weight ?? 4,
  }));
}

/** One task per setpoint, one per checked device: all test points of a device are measured once one of them is due. */
function groupPoints(points: readonly DuePoint[], to: PlainDate): { key: string; points: DuePoint[] }[] {
  const groups = new Map<string, DuePoint[]>();
  for (const point of points) {
    const key =
      point.kind === 'setpoint'
        ? `${point.tag}/${point.role}`
        : `${point.tag}/${taskKinds[point.deviceClass] ?? point.kind}`;
    groups.set(key, [...(groups.get(key) ?? []), point]);
  }
  return [...groups.entries()]
    .filter(([, group]) => group.some((point) => point.dueOn <= to))
    .map(([key, group]) => ({ key, points: group }));
}

function taskMinutes(points: readonly DuePoint[]): number {
  const device = points[0].kind === 'setpoint' ? null : points[0].deviceMinutes;
  return device ?? points.reduce((sum, point) => sum + (point.ownMinutes ?? point.classMinutes), 0);
}

function planMain(main: MainAir, slots: readonly Slot[]): PlanMain {
  // A held main stays in one state by itself: its time switch is overridden.
  const start = slots.length > 0 ? naturalStateAt(main, slots[0].date, slots[0].shift.from) : 'low';
  const settled = slots.map(({ date, shift }) =>
    main.isHeld ? start : settledState(main, date, shift.from, shift.to),
  );
  const isForcible = ({ date, shift }: Slot): boolean => {
    if (main.switching === 'never' || main.lockoutMonths.has(Number(date.slice(5, 7)))) return false;
    return main.switching === 'in hours' || !shift.occupied;
  };
  const indexes = slots.map((_, index) => index);
  return {
    id: main.tag,
    natural: settled.map((state) => planStateOf(state ?? 'low')),
    switchMin: main.switchMinutes,
    unsettled: indexes.filter((index) => settled[index] === null),
    forcible: indexes.filter((index) => isForcible(slots[index])),
    ...(main.isHeld ? { policy: 'hold' as const } : {}),
  };
}

async function accessByRoom(db: BookDb): Promise<Map<number, Access[]>> {
  const rows = await db
    .selectFrom('access_window')
    .select(['room_id', 'weekdays', 'from_time', 'to_time'])
    .orderBy('room_id')
    .orderBy('position')
    .execute();
  const windows = new Map<number, Access[]>();
  for (const row of rows)
    windows.set(row.room_id, [
      ...(windows.get(row.room_id) ?? []),
      {
        weekdays: row.weekdays,
        from: minutesOfClock(row.from_time) ?? 0,
        to: minutesOfClock(row.to_time) ?? 1440,
      },
    ]);
  return windows;
}

/** A predecessor may be pulled as far forward as what waits for it. */
function relaxEarliest(tasks: readonly PlanTask[]): void {
  const byId = new Map(tasks.map((task) => [task.id, task]));
  const queue = [...tasks];
  while (queue.length > 0) {
    const task = queue.pop() as PlanTask;
    for (const id of task.preds ?? []) {
      const before = byId.get(id) as PlanTask;
      if (before.earliest === undefined || task.earliest === undefined || before.earliest <= task.earliest)
        continue;
      before.earliest = task.earliest;
      queue.push(before);
    }
  }
}

/** Builds the instance of a period. The same book and options give the same instance, byte for byte. */
export async function buildInstance(
  db: BookDb,
  period: { from: PlainDate; to: PlainDate },
  options: PlanningOptions,
): Promise<BuiltInstance> {
  const { from, to } = period;
  const calendar = await calendarOf(db, from, to);
  const { slots } = calendar;
  const mains = await mainsWithAir(db);
  const mainTags = new Map(mains.map((main) => [main.id, main.tag]));
  const portable = new Map(
    mains.flatMap((main) =>
      main.portableMinutes === null ? [] : [[main.tag, main.portableMinutes] as const],
    ),
  );
  const due = await duePoints(db, to);
  const { value: policy } = await intervalPolicyOf(db);
  const chances = await outsideChances(db, due, options.lateDays);
  const groups = groupPoints(due, to);
  const graph = await supplyGraph(db);
  const checks = new Map(
    groups
      .filter(({ points }) => points[0].kind !== 'setpoint')
      .map(({ key, points }) => [points[0].deviceId, key]),
  );
  const predecessors = supplyPredecessors(graph, checks);
  const access = await accessByRoom(db);
  const horizon = dayNumber(to) + 1;
  const tasks: PlanTask[] = [];
  const origins = new Map<string, TaskOrigin>();

  for (const { key, points } of groups) {
    const [point] = points;
    const isSetpoint = point.kind === 'setpoint';
    const firstDue = points.map((one) => one.dueOn).sort()[0];
    const interval = Math.min(...points.map((one) => one.intervalDays));
    const known = points.flatMap(({ id }) => chances.get(id) ?? []);
    const chance = known.length === 0 ? null : Math.max(...known);
    const weight = urgentWeight(Math.max(...points.map((one) => one.weight)), chance, policy.target);
    const windows = point.roomId === null ? [] : (access.get(point.roomId) ?? []);
    const mainTag = point.mainId === null ? undefined : mainTags.get(point.mainId);
    const closedBy = !isSetpoint
      ? null
      : point.airState === null
        ? point.role === 'only'
          ? null
          : 'the main has no air state for this setpoint; see the main’s two meanings'
        : mainTag === undefined
          ? 'the main of this setpoint is retired, or has one pressure only'
          : null;
    const preds = [...(predecessors.get(point.deviceId) ?? [])];
    const spring =
      isSetpoint && point.basis === 'spring midpoint'
        ? checks.get(graph.actuators.get(point.deviceId)?.[0] ?? -1)
        : undefined;
    if (spring !== undefined) preds.push(spring);
    let dueDate = firstDue;
    for (let repeat = 1; repeat === 1 || dueDate <= to; repeat += 1) {
      const id = repeat === 1 ? key : `${key}#${repeat}`;
      const earliest = addDays(dueDate, -options.earlyDays);
      const latest = addDays(dueDate, options.lateDays);
      const task: PlanTask = {
        id,
        min: taskMinutes(points) + (point.room === null ? 0 : options.roomAccessMinutes),
        weight,
        ...(chance === null ? {} : { outsideAtDue: Math.round(1000 * chance) / 1000 }),
        due: dayNumber(dueDate),
        earliest: dayNumber(earliest < from ? from : earliest),
        tag: point.tag,
        role: point.role === '' ? null : point.role,
        skill: point.deviceClass,
        kind: isSetpoint ? 'setpoint' : (taskKinds[point.deviceClass] ?? point.kind),
        room: point.room,
        unscheduled: 0,
      };
      // What is late when the period begins has no window left to keep: it is done as soon as it can be.
      if (dueDate >= from) task.latest = dayNumber(latest);
      if (point.airState !== null && mainTag !== undefined) {
        task.main = mainTag;
        task.state = planStateOf(point.airState);
        const more = portable.get(mainTag);
        if (more !== undefined) task.portableMin = task.min + more;
      }
      const own =
        repeat === 1 ? preds.filter((one) => one !== id) : [repeat === 2 ? key : `${key}#${repeat - 1}`];
      if (own.length > 0) task.preds = own;
      if (point.roomX !== null && point.roomY !== null) {
        task.x = Math.round(point.roomX / 1000);
        task.y = Math.round(point.roomY / 1000);
      }
      if (point.building !== null) task.building = point.building;
      if (point.level !== null) task.floor = point.level;
      const open = closedBy === null ? openRanges(slots, windows) : [];
      if (open) {
        task.open = open;
        task.closedBy = closedBy ?? 'room access';
      }
      tasks.push(task);
      origins.set(id, {
        deviceId: point.deviceId,
        kind: task.kind as string,
        role: point.role,
        dueOn: dueDate,
        testPointIds: points.map((one) => one.id),
      });
      dueDate = addDays(dueDate < from ? from : dueDate, interval);
    }
  }
  relaxEarliest(tasks);
  const cost = {
    switchover: options.switchoverPoints,
    switchoverOccupied: options.switchoverOccupiedPoints,
    overtime: options.overtimePointsPerMinute,
    walk: options.walkPointsPerMinute,
    uneven: options.unevenPointsPerMinute,
    move: 0,
  };
  const dearest = Math.max(0, ...tasks.map((task) => task.min)) * cost.uneven;
  const fixedPrice =
    200 +
    dearest +
    2 * (cost.switchover + cost.switchoverOccupied) +
    cost.walk * (options.walkBuildingMinutes + options.walkLevelMinutes);
  for (const task of tasks)
    task.unscheduled = fixedPrice + (task.weight ?? 1) * Math.max(0, horizon - task.due);
  const weeks = Math.floor(daysBetween(from, to) / 7) + 2;
  const capacities = Array.from({ length: weeks }, () => 0);
  for (const [index, slot] of calendar.planSlots.entries())
    for (const crew of calendar.crews) capacities[slot.period ?? 0] += crew.regular[index];
  const total = tasks.reduce((sum, task) => sum + task.min, 0);
  return {
    instance: {
      slots: calendar.planSlots,
      crews: calendar.crews,
      mains: mains.map((main) => planMain(main, slots)),
      tasks,
      travel: { building: options.walkBuildingMinutes, floor: options.walkLevelMinutes },
      periodTarget: Object.fromEntries(evenShares(total, capacities).entries()),
      cost,
    },
    origins,
  };
}
