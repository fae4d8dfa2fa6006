/** The shifts of a period: who works when, and which of them are open to a room. */
import type { BookDb } from '../../db/book.ts';
import {
  daysBetween,
  dayNumber,
  eachDay,
  minutesOfClock,
  weekday,
  weekStart,
} from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import type { PlanCrew, PlanSlot } from '../../shared/planning/instance.ts';
import { classesAmong } from '../../shared/trade/words.ts';

export type Shift = {
  id: number;
  name: string;
  weekdays: string;
  from: number;
  to: number;
  minutes: number;
  overtimeMinutes: number;
  occupied: boolean;
};

export type Slot = { date: PlainDate; shift: Shift };
export type Access = { weekdays: string; from: number; to: number };

export type Calendar = {
  slots: Slot[];
  planSlots: PlanSlot[];
  crews: PlanCrew[];
};

/** Working days of the period cut into the shifts that some active person works, in time order. */
export async function calendarOf(db: BookDb, from: PlainDate, to: PlainDate): Promise<Calendar> {
  const patterns = await db
    .selectFrom('shift_pattern')
    .select(['id', 'name', 'weekdays', 'from_time', 'to_time', 'minutes', 'overtime_minutes', 'occupied'])
    .orderBy('from_time')
    .orderBy('id')
    .execute();
  const people = await db
    .selectFrom('person')
    .select(['id', 'name', 'initials', 'skills'])
    .where('active', '=', 1)
    .orderBy('initials')
    .execute();
  const works = await db.selectFrom('person_shift').select(['person_id', 'shift_pattern_id']).execute();
  const absences = await db.selectFrom('absence').select(['person_id', 'from_on', 'to_on']).execute();
  const daysOff = new Set(
    (await db.selectFrom('day_off').select('on_date').execute()).map((row) => row.on_date),
  );
  const worked = new Set(
    works
      .filter((row) => people.some((person) => person.id === row.person_id))
      .map((row) => row.shift_pattern_id),
  );
  const shifts: Shift[] = patterns
    .filter((pattern) => worked.has(pattern.id))
    .map((pattern) => ({
      id: pattern.id,
      name: pattern.name,
      weekdays: pattern.weekdays,
      from: minutesOfClock(pattern.from_time) ?? 0,
      to: minutesOfClock(pattern.to_time) ?? 1440,
      minutes: pattern.minutes,
      overtimeMinutes: pattern.overtime_minutes,
      occupied: pattern.occupied === 1,
    }));
  const slots: Slot[] = [];
  for (const date of eachDay(from, to)) {
    if (daysOff.has(date)) continue;
    const day = String(weekday(date));
    for (const shift of shifts) if (shift.weekdays.includes(day)) slots.push({ date, shift });
  }
  const firstWeek = weekStart(from);
  const planSlots = slots.map(({ date, shift }) => ({
    day: dayNumber(date),
    occupied: shift.occupied,
    period: Math.floor(daysBetween(firstWeek, date) / 7),
    date,
    shift: shift.name,
    shiftId: shift.id,
  }));
  const crews = people
    .filter((person) => works.some((row) => row.person_id === person.id))
    .map((person) => {
      const own = new Set(
        works.filter((row) => row.person_id === person.id).map((row) => row.shift_pattern_id),
      );
      const away = absences.filter((row) => row.person_id === person.id);
      const present = slots.map(
        ({ date, shift }) =>
          own.has(shift.id) && !away.some((row) => date >= row.from_on && date <= row.to_on),
      );
      const skills = classesAmong(JSON.parse(person.skills) as string[]);
      return {
        id: person.initials,
        personId: person.id,
        name: person.name,
        regular: slots.map(({ shift }, index) => (present[index] ? shift.minutes : 0)),
        overtime: slots.map(({ shift }, index) => (present[index] ? shift.overtimeMinutes : 0)),
        skills: skills.length > 0 ? skills : ['*'],
      };
    });
  return {
    slots,
    planSlots,
    crews,
  };
}

/** True when a room with these access windows may be entered during the whole of a slot's shift. */
function isAccessible(windows: readonly Access[], slot: Slot): boolean {
  const day = String(weekday(slot.date));
  return windows.some(
    (window) => window.weekdays.includes(day) && window.from <= slot.shift.from && window.to >= slot.shift.to,
  );
}

/** Index ranges of the slots that access windows leave open; undefined when a room is always open. */
export function openRanges(
  slots: readonly Slot[],
  windows: readonly Access[],
): [number, number][] | undefined {
  if (windows.length === 0) return undefined;
  const ranges: [number, number][] = [];
  for (const [index, slot] of slots.entries()) {
    if (!isAccessible(windows, slot)) continue;
    const last = ranges.at(-1);
    if (last && last[1] === index - 1) last[1] = index;
    else ranges.push([index, index]);
  }
  return ranges;
}
