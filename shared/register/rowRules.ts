/** Rules within one row of canonical text: what must be above what, what needs what, programmes and seasons without clash or gap. */
import { parsePlainDate } from '../dates/plainDate.ts';
import { airStates } from '../trade/switchover.ts';
import { parseMilli } from '../units/units.ts';
import type { RowClass } from './columns.ts';

/** Canonical text by column name; absent and empty are the same. */
export type RowValues = Record<string, string>;
export type CellProblem = { column: string; value: string; reason: string };

/** True for a month and day that exist in a leap year, `MM-DD`. */
export function isMonthDay(text: string): boolean {
  return parsePlainDate(`2028-${text}`, 'ymd') !== null;
}

/** `from` less `to` of two cells in thousandths; null when one is missing. */
function difference(values: RowValues, from: string, to: string): number | null {
  const a = values[from] === undefined ? null : parseMilli(values[from]);
  const b = values[to] === undefined ? null : parseMilli(values[to]);
  return a === null || b === null ? null : a - b;
}

/**
 * Every breach of one row's rules, on canonical values that each read well. A cell that is missing breaks only
 * the rules that need it.
 */
export function rowRules(rowClass: RowClass, values: RowValues): CellProblem[] {
  const problems: CellProblem[] = [];
  const fail = (column: string, reason: string): void => {
    problems.push({ column, value: values[column] ?? '', reason });
  };
  const order: [string, string][] = [
    ['low_pressure', 'high_pressure'],
    ['rated_low', 'rated_high'],
    ['spring_start', 'spring_end'],
    ['span_low', 'span_high'],
    ['output_low', 'output_high'],
  ];
  for (const [low, high] of order)
    if ((difference(values, high, low) ?? 1) <= 0) fail(high, `must be above ${low} (${values[low]})`);
  if ((difference(values, 'trip_rising', 'trip_falling') ?? 0) < 0)
    fail('trip_falling', `must not be above trip_rising (${values.trip_rising})`);
  if (values.in_service_on && values.retired_on && values.retired_on < values.in_service_on)
    fail('retired_on', `before in_service_on (${values.in_service_on})`);
  if (values.calibration_basis === 'stated' && !values.calibration_pressure)
    fail('calibration_pressure', 'needed when calibration_basis is `stated`');
  if (
    (difference(values, 'calibration_pressure', 'output_low') ?? 0) < 0 ||
    (difference(values, 'output_high', 'calibration_pressure') ?? 0) < 0
  )
    fail(
      'calibration_pressure',
      `outside the output range (${values.output_low} to ${values.output_high}): the controller never delivers it`,
    );
  if (rowClass === 'main') mainRules(values, fail);
  if (rowClass === 'regulator' && values.regulator_kind === 'two-pressure' && !values.high_pressure)
    fail('high_pressure', 'needed for a two-pressure regulator');
  if (rowClass === 'controller' && ['two-setpoint', 'changeover'].includes(values.controller_kind))
    for (const name of ['rated_low', 'rated_high'])
      if (!values[name]) fail(name, `needed for a ${values.controller_kind} controller`);
  if (values.programme && !values.rest_state) fail('rest_state', 'needed with a programme');
  if (values.holidays && !values.rest_state) fail('rest_state', 'needed with holidays');
  if (values.room && !values.building) fail('building', 'needed with a room');
  if (values.level && !values.building) fail('building', 'needed with a level');
  if (values.programme) {
    const clash = programmeClash(values.programme);
    if (clash) fail('programme', clash);
  }
  return problems;
}

/** Columns that only a two-pressure main has. */
const secondStateColumns = [
  'high_pressure',
  'low_means',
  'high_means',
  'seasons',
  'natural_state',
  'switching',
  'portable_minutes',
  'held',
];

function mainRules(values: RowValues, fail: (column: string, reason: string) => void): void {
  if (values.main_kind === undefined) return;
  if (values.main_kind === 'two-pressure') {
    for (const name of ['high_pressure', 'low_means', 'high_means'])
      if (!values[name]) fail(name, 'needed for a two-pressure main');
    const pair = [values.low_means, values.high_means].sort().join('+');
    if (values.low_means && values.high_means && !['occupied+unoccupied', 'cooling+heating'].includes(pair))
      fail('high_means', 'the two pressures must mean occupied and unoccupied, or cooling and heating');
  } else {
    for (const name of secondStateColumns)
      if (values[name]) fail(name, 'a single-pressure main has no second air state');
  }
  if (values.seasons) {
    const gap = seasonGap(values.seasons);
    if (gap) fail('seasons', gap);
  }
}

export type Season = { from: string; to: string; state: 'low' | 'high' };

/** The seasons of a canonical `seasons` text. */
export function seasonsOf(text: string): Season[] {
  return text.split('|').map((item) => {
    const [span, state] = item.split(' ');
    const [from, to] = span.split('/');
    return { from, to, state: airStates.find((one) => one === state) ?? 'low' };
  });
}

/** True when a month-day lies in a season, which may run over the turn of the year. */
export function inSeason(season: { from: string; to: string }, monthDay: string): boolean {
  return season.from <= season.to
    ? monthDay >= season.from && monthDay <= season.to
    : monthDay >= season.from || monthDay <= season.to;
}

function seasonGap(text: string): string | null {
  const seasons = seasonsOf(text);
  for (let month = 1; month <= 12; month += 1)
    for (let day = 1; day <= 31; day += 1) {
      const monthDay = `${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;
      if (!isMonthDay(monthDay)) continue;
      const count = seasons.filter((season) => inSeason(season, monthDay)).length;
      if (count !== 1) return `${monthDay} lies in ${count} seasons; every day must lie in exactly one`;
    }
  return null;
}

export type ProgrammeSpan = { days: string; from: string; to: string; state: 'low' | 'high' };

/** The spans of a canonical `programme` text. */
export function programmeSpans(text: string): ProgrammeSpan[] {
  return text.split('|').map((item) => {
    const [days, span, state] = item.split(' ');
    const [from, to] = span.split('-');
    return { days, from, to, state: airStates.find((one) => one === state) ?? 'low' };
  });
}

function programmeClash(text: string): string | null {
  const spans = programmeSpans(text);
  for (const [index, a] of spans.entries())
    for (const b of spans.slice(index + 1))
      if (a.days.split('').some((day) => b.days.includes(day)) && a.from < b.to && b.from < a.to)
        return `two spans overlap: ${a.from}-${a.to} and ${b.from}-${b.to}`;
  return null;
}
