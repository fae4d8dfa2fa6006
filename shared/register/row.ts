/**
 * One register row as canonical text: point decimals, ISO dates, the row's own units. Reading a typed cell
 * and writing it canonically is one step, so a file that is loaded, exported and loaded again is equal.
 */
import { minutesOfClock, parsePlainDate } from '../dates/plainDate.ts';
import type { DateStyle } from '../dates/plainDate.ts';
import {
  convertPressure,
  convertTemperature,
  convertTemperatureDifference,
  formatMilli,
  fromMilli,
  parseMilli,
} from '../units/units.ts';
import type { DecimalMark, PressureUnit, TemperatureUnit } from '../units/units.ts';
import { columnNamed, columns, rowClasses } from './columns.ts';
import type { Column, RowClass } from './columns.ts';
import { isMonthDay, rowRules } from './rowRules.ts';
import type { CellProblem, RowValues } from './rowRules.ts';

export type { CellProblem, RowValues };
export type RegisterRow = { rowClass: RowClass; values: RowValues };

/** How a file, or a form, writes its cells; declared, never guessed. */
export type CellStyle = {
  pressure: PressureUnit;
  temperature: TemperatureUnit;
  dates: DateStyle;
  decimals: DecimalMark;
};

export const plainStyle: CellStyle = {
  pressure: 'psi',
  temperature: 'degF',
  dates: 'ymd',
  decimals: 'point',
};

const dateExamples: Record<DateStyle, string> = { ymd: '2026-04-09', dmy: '09.04.2026', mdy: '04/09/2026' };

type CellResult = { text: string } | { reason: string };
type RowUnits = { pressure: PressureUnit; temperature: TemperatureUnit };

function rangeReason(column: Column, base: number, unit: string): string | null {
  if (!column.range || (base >= column.range.from - 1e-9 && base <= column.range.to + 1e-9)) return null;
  return `out of range: ${column.range.from} to ${column.range.to}${unit ? ` ${unit}` : ''}`;
}

function readNumber(column: Column, raw: string, style: CellStyle, units: RowUnits): CellResult {
  const milli = parseMilli(raw, style.decimals);
  if (milli === null) {
    const other = style.decimals === 'point' ? 'comma' : 'point';
    const hint =
      parseMilli(raw, other) === null
        ? 'with at most three decimals'
        : `; the file is declared with decimal ${style.decimals}`;
    return { reason: `not a number ${hint}`.replace(' ;', ';') };
  }
  const value = fromMilli(milli);
  let reason: string | null;
  if (column.kind === 'pressure')
    reason = rangeReason(column, convertPressure(value, units.pressure, 'psi'), 'psi');
  else if (column.kind === 'temperature')
    reason = rangeReason(column, convertTemperature(value, units.temperature, 'degF'), 'degF');
  else if (column.kind === 'temperature difference')
    reason = rangeReason(column, convertTemperatureDifference(value, units.temperature, 'degF'), 'degF');
  else if (column.kind === 'integer' && milli % 1000 !== 0) reason = 'not a whole number';
  else reason = rangeReason(column, value, '');
  return reason ? { reason } : { text: formatMilli(milli) };
}

function readDate(raw: string, style: DateStyle): CellResult {
  const date = parsePlainDate(raw, style);
  return date
    ? { text: date }
    : {
        reason: `not a date of the declared style (${style}, as ${dateExamples[style]}), or it does not exist`,
      };
}

function readList(raw: string, readItem: (item: string) => CellResult): CellResult {
  const items = raw.split('|').map((item) => item.trim());
  const texts: string[] = [];
  for (const item of items) {
    const result = item === '' ? { reason: 'an empty item in the list' } : readItem(item);
    if ('reason' in result) return { reason: `${result.reason} (item ${item || 'empty'})` };
    if (texts.includes(result.text)) return { reason: `${result.text} stands twice in the list` };
    texts.push(result.text);
  }
  return { text: texts.join('|') };
}

function readSpan(text: string): { days: string; from: string; to: string } | null {
  const match = /^([1-7]{1,7}) (\d{2}:\d{2})-(\d{2}:\d{2})$/.exec(text);
  if (!match || new Set(match[1]).size !== match[1].length) return null;
  const from = minutesOfClock(match[2]);
  const to = minutesOfClock(match[3]);
  if (from === null || to === null || from >= to) return null;
  return { days: match[1].split('').sort().join(''), from: match[2], to: match[3] };
}

const spanReason = 'not of the form `12345 07:00-17:00` (weekdays 1 = Monday, from before to)';

function readProgramme(item: string): CellResult {
  const match = /^(.*) (low|high)$/.exec(item);
  const span = match ? readSpan(match[1]) : null;
  if (!match || !span) return { reason: 'not of the form `12345 06:00-18:00 low`' };
  return { text: `${span.days} ${span.from}-${span.to} ${match[2]}` };
}

function readSeason(item: string): CellResult {
  const match = /^(\d{2}-\d{2})\/(\d{2}-\d{2}) (low|high)$/.exec(item);
  if (!match || !isMonthDay(match[1]) || !isMonthDay(match[2]))
    return { reason: 'not of the form `05-01/09-30 low` (month-day)' };
  return { text: item };
}

function readMonth(item: string): CellResult {
  const month = /^\d{1,2}$/.test(item) ? Number(item) : 0;
  return month >= 1 && month <= 12 ? { text: String(month) } : { reason: 'not a month from 1 to 12' };
}

function readCode(raw: string): CellResult {
  if (raw.length > 80) return { reason: 'longer than 80 characters' };
  if (/[|\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/u.test(raw))
    return {
      reason: 'a tag or code must not hold `|`, a tab, a line break or a character that does not show',
    };
  return { text: raw };
}

function readCell(column: Column, raw: string, style: CellStyle, units: RowUnits): CellResult {
  switch (column.kind) {
    case 'text':
      return raw.length > 2000
        ? { reason: 'longer than 2000 characters' }
        : { text: raw.replace(/\r\n?/g, '\n') };
    case 'code':
    case 'tag':
      return readCode(raw);
    case 'tags':
      return readList(raw, readCode);
    case 'choice':
      return column.choices?.includes(raw)
        ? { text: raw }
        : { reason: `not one of: ${column.choices?.join(', ')}` };
    case 'pressure':
    case 'temperature':
    case 'temperature difference':
    case 'decimal':
    case 'integer':
      return readNumber(column, raw, style, units);
    case 'date':
      return readDate(raw, style.dates);
    case 'dates':
      return readList(raw, (item) => readDate(item, style.dates));
    case 'access list':
      return readList(raw, (item) => {
        const span = readSpan(item);
        return span ? { text: `${span.days} ${span.from}-${span.to}` } : { reason: spanReason };
      });
    case 'programme list':
      return readList(raw, readProgramme);
    case 'season list':
      return readList(raw, readSeason);
    case 'month list':
      return readList(raw, readMonth);
  }
}

/** The class of a row of cells, or the reason why it has none. */
export function readRowClass(
  cells: Readonly<Record<string, string>>,
): { rowClass: RowClass } | { problem: CellProblem } {
  const raw = (cells.class ?? '').trim();
  const rowClass = rowClasses.find((one) => one === raw);
  if (rowClass) return { rowClass };
  return { problem: { column: 'class', value: raw, reason: `not one of: ${rowClasses.join(', ')}` } };
}

const pressureKinds = new Set(['pressure']);
const temperatureKinds = new Set(['temperature', 'temperature difference']);

/** True when a class has columns of a kind, so that its rows state the unit. */
export function statesUnit(rowClass: RowClass, unit: 'pressure_unit' | 'temperature_unit'): boolean {
  return columnNamed(unit)?.on[rowClass] !== undefined;
}

/**
 * Reads the typed cells of one row over what the book already holds (`before`, canonical). Columns that the
 * cells do not name keep what they had; a named empty cell clears. Answers canonical values, without the cells
 * that were refused, and all problems.
 */
export function readRow(
  rowClass: RowClass,
  cells: Readonly<Record<string, string>>,
  style: CellStyle,
  before: RowValues | null,
): { values: RowValues; problems: CellProblem[] } {
  const problems: CellProblem[] = [];
  const values: RowValues = { ...before, class: rowClass };
  const units = readUnits({ rowClass, cells, before }, style, problems);
  if (statesUnit(rowClass, 'pressure_unit')) values.pressure_unit = units.pressure;
  if (statesUnit(rowClass, 'temperature_unit')) values.temperature_unit = units.temperature;
  for (const column of columns) {
    const { name } = column;
    if (name === 'class' || name === 'pressure_unit' || name === 'temperature_unit' || !(name in cells))
      continue;
    const raw = cells[name].trim();
    const use = column.on[rowClass];
    if (raw === '') {
      delete values[name];
      continue;
    }
    if (use === undefined) {
      problems.push({
        column: name,
        value: raw,
        reason: `a ${rowClass} row has no such column; leave it empty`,
      });
      continue;
    }
    const result = readCell(column, raw, style, units);
    if ('reason' in result) {
      problems.push({ column: name, value: raw, reason: result.reason });
      delete values[name];
    } else values[name] = result.text;
  }
  problems.push(...unitChangeProblems(rowClass, cells, units, before));
  const refused = new Set(problems.map((problem) => problem.column));
  for (const column of columns)
    if (column.on[rowClass] === 'must' && !values[column.name] && !refused.has(column.name))
      problems.push({ column: column.name, value: '', reason: `needed on a ${rowClass} row` });
  // A refused cell is left out of the values; only what the rest of the row says of itself is told beside it.
  const told = new Set(problems.map((problem) => problem.column));
  problems.push(...rowRules(rowClass, values).filter((problem) => !told.has(problem.column)));
  return { values, problems };
}

function readUnits(
  row: { rowClass: RowClass; cells: Readonly<Record<string, string>>; before: RowValues | null },
  style: CellStyle,
  problems: CellProblem[],
): RowUnits {
  const { rowClass, cells, before } = row;
  const pick = <T extends string>(
    name: 'pressure_unit' | 'temperature_unit',
    declared: T,
    choices: readonly string[],
  ): T => {
    const raw = (cells[name] ?? '').trim();
    const kinds = name === 'pressure_unit' ? pressureKinds : temperatureKinds;
    if (raw !== '' && !statesUnit(rowClass, name))
      problems.push({
        column: name,
        value: raw,
        reason: `a ${rowClass} row has no such column; leave it empty`,
      });
    else if (raw !== '' && !choices.includes(raw))
      problems.push({ column: name, value: raw, reason: `not one of: ${choices.join(', ')}` });
    else if (raw !== '') return raw as T;
    const held = before?.[name] as T | undefined;
    const givesValues = columns.some(
      (column) => kinds.has(column.kind) && column.on[rowClass] && (cells[column.name] ?? '').trim() !== '',
    );
    if (held && raw === '' && givesValues && held !== declared)
      problems.push({
        column: name,
        value: '',
        reason: `the book holds this row in ${held}, the file is declared in ${declared}; state the unit in column ${name}`,
      });
    return held && !givesValues ? held : declared;
  };
  return {
    pressure: pick('pressure_unit', style.pressure, columnNamed('pressure_unit')?.choices ?? []),
    temperature: pick('temperature_unit', style.temperature, columnNamed('temperature_unit')?.choices ?? []),
  };
}

/** A row that changes its unit must bring every quantity anew: the old figures would be read in the new unit. */
function unitChangeProblems(
  rowClass: RowClass,
  cells: Readonly<Record<string, string>>,
  units: RowUnits,
  before: RowValues | null,
): CellProblem[] {
  const problems: CellProblem[] = [];
  for (const { name, kind } of columns) {
    const held = pressureKinds.has(kind)
      ? before?.pressure_unit
      : temperatureKinds.has(kind)
        ? before?.temperature_unit
        : undefined;
    const now = pressureKinds.has(kind) ? units.pressure : units.temperature;
    if (held === undefined || held === now || before?.[name] === undefined || name in cells) continue;
    problems.push({
      column: name,
      value: '',
      reason: `the ${rowClass} row changes from ${held} to ${now}; give this figure in ${now} too`,
    });
  }
  return problems;
}

/** The columns that name a row of a class in the book. */
export function keyColumns(rowClass: RowClass): readonly string[] {
  if (rowClass === 'building') return ['building'];
  if (rowClass === 'level' || rowClass === 'room') return ['building', rowClass];
  return rowClass === 'setpoint' ? ['tag', 'role'] : ['tag'];
}

/** What names a row in the book, for people and for matching: tag, tag and role, or place. */
export function rowKey(rowClass: RowClass, values: RowValues): string {
  if (rowClass === 'building') return `building ${values.building}`;
  if (rowClass === 'level') return `level ${values.building}/${values.level}`;
  if (rowClass === 'room') return `room ${values.building}/${values.room}`;
  if (rowClass === 'setpoint') return `setpoint ${values.tag}/${values.role}`;
  return `tag ${values.tag}`;
}
