import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  addDays,
  addMonths,
  dateOfDayNumber,
  dayNumber,
  daysBetween,
  eachDay,
  isPlainDate,
  minutesOfClock,
  parsePlainDate,
  weekday,
  weekStart,
} from '../../shared/dates/plainDate.ts';

const day = fc.integer({ min: -20_000, max: 60_000 }).map(dateOfDayNumber);
const span = fc.integer({ min: -4000, max: 4000 });

describe('plain dates', () => {
  it('adding and counting days agree, over every change of clocks and year', () =>
    fc.assert(fc.property(day, span, (date, days) => daysBetween(date, addDays(date, days)) === days)));
  it('day numbers go there and back', () =>
    fc.assert(fc.property(day, (date) => dateOfDayNumber(dayNumber(date)) === date)));
  it('a week begins on a Monday at most six days before', () =>
    fc.assert(
      fc.property(day, (date) => {
        const start = weekStart(date);
        return weekday(start) === 1 && daysBetween(start, date) >= 0 && daysBetween(start, date) < 7;
      }),
    ));
  it('the days of a span are as many as it is long', () =>
    expect(eachDay('2027-02-26', '2027-03-02')).toEqual([
      '2027-02-26',
      '2027-02-27',
      '2027-02-28',
      '2027-03-01',
      '2027-03-02',
    ]));
  it.each(['2027-02-29', '2026-13-01', '2026-00-10', '2026-1-1', '26-01-01', '2026-06-31', '', '1899-12-31'])(
    '%j is not a date',
    (text) => expect(isPlainDate(text)).toBe(false),
  );
  it('a leap day exists in leap years only', () =>
    expect([isPlainDate('2028-02-29'), isPlainDate('2100-02-29')]).toEqual([true, false]));
  it('the declared style decides, and nothing is guessed', () =>
    expect([
      parsePlainDate('03/04/2026', 'dmy'),
      parsePlainDate('03/04/2026', 'mdy'),
      parsePlainDate('03/04/2026', 'ymd'),
      parsePlainDate('2026-04-03', 'dmy'),
      parsePlainDate('31.02.2026', 'dmy'),
      parsePlainDate('1.2/2026', 'dmy'),
    ]).toEqual(['2026-04-03', '2026-03-04', null, null, null, null]));
  it('months are counted across the year', () =>
    expect([addMonths('2026-11', 3), addMonths('2026-01', -1)]).toEqual(['2027-02', '2025-12']));
  it('clock times', () =>
    expect([
      minutesOfClock('06:30'),
      minutesOfClock('24:00'),
      minutesOfClock('24:01'),
      minutesOfClock('6:30'),
    ]).toEqual([390, 1440, null, null]));
});
