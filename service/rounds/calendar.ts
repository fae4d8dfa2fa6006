/**
 * A person's calendar of an issued round (RFC 5545): one event a shift. Its UID follows from the book, the person and the
 * shift, so that it is the same in every re-draw; SEQUENCE counts how often it changed from one issued round to the next, and
 * what a later round gave up is there as cancelled. Both follow from the issued rounds alone: nothing is kept beside them.
 */
import { createHash } from 'node:crypto';
import { createRequire } from 'node:module';
import ICAL from 'ical.js';
import type { BookDb } from '../../db/book.ts';
import { firstEntryHash, issuesOfRounds } from '../../db/ledger.ts';
import { roundHead, tasksOfRound, visitsOfRound } from '../../db/rounds.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { addDays } from '../../shared/dates/plainDate.ts';
import { counted } from '../register/loadFiles.ts';
import { siteOf } from '../settings/handlers.ts';

const { tzlib_get_ical_block: zoneBlock } = createRequire(import.meta.url)('timezones-ical-library') as {
  tzlib_get_ical_block: (name: string) => string[] | string;
};

type Shift = {
  date: PlainDate;
  shiftId: number;
  from: string;
  to: string;
  summary: string;
  location: string;
  description: string;
};
type Event = Shift & { uid: string; sequence: number; changedAt: string; isCancelled: boolean };

const FULL_DAY = '24:00';

// Lines of at most 75 octets (RFC 5545, 3.1): the library does not count the blank that begins a continued one.
ICAL.foldLength = 74;

/** The shifts of a person in one round, by date and shift. */
async function shiftsOf(
  db: BookDb,
  roundId: number,
  personId: number,
  roundName: string,
): Promise<Map<string, Shift>> {
  const visits = (await visitsOfRound(db, roundId)).filter((visit) => visit.person_id === personId);
  const tasks = new Map<number, string[]>();
  for (const { visit_id, tag, role, kind, minutes } of await tasksOfRound(db, roundId)) {
    if (visit_id === null) continue;
    const words = `${tag}${role === '' ? (kind === 'setpoint' ? '' : ` ${kind}`) : ` ${role}`}, ${minutes} min`;
    tasks.set(visit_id, [...(tasks.get(visit_id) ?? []), words]);
  }
  const byShift = new Map<string, typeof visits>();
  for (const visit of visits) {
    const key = `${visit.on_date} ${visit.shift_pattern_id}`;
    byShift.set(key, [...(byShift.get(key) ?? []), visit]);
  }
  return new Map(
    [...byShift].map(([key, own]) => {
      const [first] = own;
      const count = own.reduce((sum, { id }) => sum + (tasks.get(id)?.length ?? 0), 0);
      const buildings = [...new Set(own.flatMap(({ building }) => building ?? []))];
      return [
        key,
        {
          date: first.on_date,
          shiftId: first.shift_pattern_id,
          from: first.from_time,
          to: first.to_time,
          summary: `Recalibration: ${counted(count, 'task')}, ${counted(own.length, 'visit')}`,
          location: buildings.join(', '),
          description: [
            roundName,
            ...own.map(({ id, building, level, room, main, air_state: state }, index) =>
              [
                `${index + 1}. ${[building, level, room].filter((word) => word !== null).join(' / ') || 'no place noted'}`,
                main === null || state === null ? '' : `main ${main}: ${state.toUpperCase()}`,
                ...(tasks.get(id) ?? []),
              ]
                .filter((word) => word !== '')
                .join('; '),
            ),
          ].join('\n'),
        },
      ];
    }),
  );
}

/** The name of the round stands in the first line: another name is no change of the day. */
function isSame(a: Shift, b: Shift): boolean {
  const plan = ({ from, to, location, description }: Shift): string =>
    JSON.stringify([from, to, location, description.slice(description.indexOf('\n') + 1)]);
  return plan(a) === plan(b);
}

/** The events of a person by a round: its days as they stand, and those that it gave up. */
export async function calendarEvents(db: BookDb, roundId: number, personId: number): Promise<Event[]> {
  const head = await roundHead(db, roundId);
  if (!head) throw new AppError('not_found', 'There is no such round in the book.');
  const issues = await issuesOfRounds(db);
  const own = issues.findIndex((issue) => issue.roundId === roundId);
  if (own < 0)
    throw new AppError(
      'conflict',
      'Only an issued round has a calendar: a draft promises nothing. Issue it first.',
    );
  const book = await firstEntryHash(db);
  const events = new Map<string, Event>();
  for (const { roundId: id, at, name, from, to } of issues.slice(0, own + 1)) {
    if (from > head.to_on || to < head.from_on) continue;
    const shifts = await shiftsOf(db, id, personId, name);
    for (const [key, event] of events)
      if (event.date >= from && event.date <= to && !event.isCancelled && !shifts.has(key))
        events.set(key, { ...event, isCancelled: true, sequence: event.sequence + 1, changedAt: at });
    for (const [key, shift] of shifts) {
      const before = events.get(key);
      if (before && !before.isCancelled && isSame(before, shift)) continue;
      const uid =
        before?.uid ??
        `${createHash('sha256').update(`${book} ${personId} ${key}`).digest('hex').slice(0, 32)}@setpoint-almanac.invalid`;
      events.set(key, {
        ...shift,
        uid,
        sequence: before ? before.sequence + 1 : 0,
        changedAt: at,
        isCancelled: false,
      });
    }
  }
  return [...events.values()]
    .filter(({ date }) => date >= head.from_on && date <= head.to_on)
    .toSorted(
      (a, b) => a.date.localeCompare(b.date) || a.from.localeCompare(b.from) || a.shiftId - b.shiftId,
    );
}

/** A local time of a day; the end of a day is the beginning of the next. */
function localTime(date: PlainDate, clock: string): ICAL.Time {
  const [day, time] = clock === FULL_DAY ? [addDays(date, 1), '00:00'] : [date, clock];
  const [year, month, dayOfMonth] = day.split('-').map(Number);
  const [hour, minute] = time.split(':').map(Number);
  return ICAL.Time.fromData({ year, month, day: dayOfMonth, hour, minute, second: 0, isDate: false });
}

const utc = (at: string): ICAL.Time => ICAL.Time.fromDateTimeString(`${at.slice(0, 19)}Z`);

function eventOf(
  event: Event,
  { timeZone, alarmMinutes }: { timeZone: string; alarmMinutes: number | null },
): ICAL.Component {
  const component = new ICAL.Component('vevent');
  const set = (name: string, value: unknown): void =>
    void component.updatePropertyWithValue(name, value as string);
  const setTime = (name: string, time: ICAL.Time): void => {
    const property = new ICAL.Property(name);
    property.setValue(time);
    if (timeZone !== '') property.setParameter('tzid', timeZone);
    component.addProperty(property);
  };
  set('uid', event.uid);
  set('dtstamp', utc(event.changedAt));
  set('last-modified', utc(event.changedAt));
  set('sequence', event.sequence);
  setTime('dtstart', localTime(event.date, event.from));
  setTime('dtend', localTime(event.date, event.to));
  set('summary', event.summary);
  if (event.location !== '') set('location', event.location);
  set('description', event.description);
  set('categories', 'CALIBRATION');
  set('status', event.isCancelled ? 'CANCELLED' : 'CONFIRMED');
  set('transp', event.isCancelled ? 'TRANSPARENT' : 'OPAQUE');
  if (alarmMinutes !== null && !event.isCancelled) {
    const alarm = new ICAL.Component('valarm');
    alarm.updatePropertyWithValue('action', 'DISPLAY');
    alarm.updatePropertyWithValue('description', event.summary);
    alarm.updatePropertyWithValue(
      'trigger',
      ICAL.Duration.fromSeconds(-60 * alarmMinutes) as unknown as string,
    );
    component.addSubcomponent(alarm);
  }
  return component;
}

/** The calendar as text. Without a time zone of the site its times are those of wherever it is read. No alarms unless they are asked for. */
export async function roundCalendar(
  db: BookDb,
  { roundId, personId, alarmMinutes }: { roundId: number; personId: number; alarmMinutes: number | null },
): Promise<{ text: string; initials: string; events: number }> {
  const person = await db
    .selectFrom('person')
    .select(['initials', 'name'])
    .where('id', '=', personId)
    .executeTakeFirst();
  if (!person) throw new AppError('not_found', 'There is no such person in the book.');
  const events = await calendarEvents(db, roundId, personId);
  const {
    value: { name, timeZone },
  } = await siteOf(db);
  const calendar = new ICAL.Component('vcalendar');
  calendar.updatePropertyWithValue('version', '2.0');
  calendar.updatePropertyWithValue('prodid', '-//Setpoint Almanac//Recalibration round//EN');
  calendar.updatePropertyWithValue('calscale', 'GREGORIAN');
  calendar.updatePropertyWithValue('method', 'PUBLISH');
  // What a library does not know it does not escape, unless it is told that it is text.
  const title = new ICAL.Property('x-wr-calname');
  title.resetType('text');
  title.setValue(`${name === '' ? 'Recalibration' : name}: ${person.initials}`);
  calendar.addProperty(title);
  if (timeZone !== '') {
    calendar.updatePropertyWithValue('x-wr-timezone', timeZone);
    const found = zoneBlock(timeZone);
    if (typeof found === 'string')
      throw new AppError(
        'conflict',
        `The time zone ${timeZone} has no rules here: choose another in the settings.`,
      );
    const [block] = found;
    calendar.addSubcomponent(new ICAL.Component(ICAL.parse(block)));
  }
  for (const event of events) calendar.addSubcomponent(eventOf(event, { timeZone, alarmMinutes }));
  return { text: `${calendar.toString()}\r\n`, initials: person.initials, events: events.length };
}
