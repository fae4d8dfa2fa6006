/**
 * Plain dates as `YYYY-MM-DD` strings. date-fns does the calendar work on local-noon dates, so that no
 * daylight-saving change of the machine can move a day; nothing outside this file makes a Date of one.
 */
// By function: the package's front door loads all of its three hundred files, in every worker anew.
import { addDays as addDaysToDate } from 'date-fns/addDays';
import { differenceInCalendarDays } from 'date-fns/differenceInCalendarDays';
import { getISODay } from 'date-fns/getISODay';
import { isValid } from 'date-fns/isValid';

export type PlainDate = string;
export type DateStyle = 'ymd' | 'dmy' | 'mdy';

const plainDatePattern = /^(\d{4})-(\d{2})-(\d{2})$/;

function atNoon(date: PlainDate): Date {
  const match = plainDatePattern.exec(date);
  if (!match) throw new RangeError(`not a date of the form YYYY-MM-DD: ${date}`);
  return new Date(Number(match[1]), Number(match[2]) - 1, Number(match[3]), 12);
}

function toPlain(date: Date): PlainDate {
  const year = String(date.getFullYear()).padStart(4, '0');
  return `${year}-${String(date.getMonth() + 1).padStart(2, '0')}-${String(date.getDate()).padStart(2, '0')}`;
}

/** True for a date that exists in the Gregorian calendar, written YYYY-MM-DD, from 1900 to 2199. */
export function isPlainDate(text: string): boolean {
  const match = plainDatePattern.exec(text);
  if (!match) return false;
  const year = Number(match[1]);
  if (year < 1900 || year > 2199) return false;
  const date = atNoon(text);
  return isValid(date) && toPlain(date) === text;
}

/**
 * Reads a date in the style that the user declared; a date in another style, or one that does not exist,
 * answers null. Separators: `-` for ymd; `/`, `.` or `-` for dmy and mdy. Years have four digits.
 */
export function parsePlainDate(text: string, style: DateStyle): PlainDate | null {
  const trimmed = text.trim();
  if (style === 'ymd') return isPlainDate(trimmed) ? trimmed : null;
  const match = /^(\d{1,2})([/.-])(\d{1,2})\2(\d{4})$/.exec(trimmed);
  if (!match) return null;
  const [day, month] = style === 'dmy' ? [match[1], match[3]] : [match[3], match[1]];
  const date = `${match[4]}-${month.padStart(2, '0')}-${day.padStart(2, '0')}`;
  return isPlainDate(date) ? date : null;
}

/** The date `days` later (earlier when negative). */
export function addDays(date: PlainDate, days: number): PlainDate {
  return toPlain(addDaysToDate(atNoon(date), days));
}

/** Calendar days from `from` to `to`; negative when `to` is earlier. */
export function daysBetween(from: PlainDate, to: PlainDate): number {
  return dayNumber(to) - dayNumber(from);
}

/** Days of a Julian year, by which every rate and interval is told. */
export const JULIAN_YEAR = 365.25;

/** Julian years between two dates, as stated on every drift report. */
export function julianYearsBetween(from: PlainDate, to: PlainDate): number {
  return daysBetween(from, to) / JULIAN_YEAR;
}

/** Day of the week, 1 = Monday to 7 = Sunday (ISO 8601). */
export function weekday(date: PlainDate): number {
  return getISODay(atNoon(date));
}

/** Every date from `from` to `to`, both included; empty when `to` is earlier. */
export function eachDay(from: PlainDate, to: PlainDate): PlainDate[] {
  const days: PlainDate[] = [];
  const count = daysBetween(from, to);
  for (let i = 0; i <= count; i += 1) days.push(addDays(from, i));
  return days;
}

/** The month of a date, `YYYY-MM`. */
export function monthOf(date: PlainDate): string {
  return date.slice(0, 7);
}

/** The month `count` months after `month` (`YYYY-MM`). */
export function addMonths(month: string, count: number): string {
  const index = Number(month.slice(0, 4)) * 12 + Number(month.slice(5, 7)) - 1 + count;
  return `${String(Math.floor(index / 12)).padStart(4, '0')}-${String((index % 12) + 1).padStart(2, '0')}`;
}

/** Monday of the week a date lies in. */
export function weekStart(date: PlainDate): PlainDate {
  return addDays(date, 1 - weekday(date));
}

const numbered = new Map<PlainDate, number>();
/** Days of a century and more: what a book holds fits, and a flood of others is not kept for ever. */
const MOST_NUMBERED = 50_000;

/** Days since 1970-01-01: the calendar day number used in planning instances. Kept once counted. */
export function dayNumber(date: PlainDate): number {
  const known = numbered.get(date);
  if (known !== undefined) return known;
  const day = differenceInCalendarDays(atNoon(date), atNoon('1970-01-01'));
  if (numbered.size >= MOST_NUMBERED) numbered.clear();
  numbered.set(date, day);
  return day;
}

/** The date of a calendar day number. */
export function dateOfDayNumber(day: number): PlainDate {
  return addDays('1970-01-01', day);
}

/** Minutes after midnight of a clock time `HH:MM`; null when it is not one. `24:00` is the end of a day. */
export function minutesOfClock(text: string): number | null {
  const match = /^(\d{2}):(\d{2})$/.exec(text);
  if (!match) return null;
  const minutes = Number(match[1]) * 60 + Number(match[2]);
  return Number(match[2]) < 60 && minutes <= 1440 ? minutes : null;
}
