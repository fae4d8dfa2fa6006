/**
 * A weather file: daily means (`date`, `mean_temp_degF` or `mean_temp_degC`), monthly means (`month`, the same), or a station's
 * file of public normals (columns MLY-TAVG-NORMAL, MLY-HTDD-BASE40 and so on; -7777 is a trace and counts as 0, -9999 and -8888
 * are missing). Nothing is guessed but which of the three it is, by its header.
 */
import type { InputProblem } from '../../shared/contract/errors.ts';
import { isPlainDate } from '../../shared/dates/plainDate.ts';
import type { Season } from '../../shared/energy/degreeDays.ts';
import { climateOf } from '../../shared/energy/weather.ts';
import type { Weather } from '../../shared/energy/weather.ts';
import { convertTemperature } from '../../shared/units/units.ts';
import { readCsv } from '../csv/readCsv.ts';
import type { CsvFile, CsvRow } from '../csv/readCsv.ts';

const TRACE = -7777;
const MISSING = new Set([-9999, -8888]);
const COLDEST = -90;
const HOTTEST = 140;
const TEMPERATURES = { mean_temp_degF: 'degF', mean_temp_degC: 'degC' } as const;
const NORMAL = 'MLY-TAVG-NORMAL';
const BASE = /^MLY-(HTDD|CLDD)-(?:BASE(\d{2})|NORMAL)$/u;
const NORMAL_BASE = 65;

type Read = { weather: Weather; rows: number } | { problems: InputProblem[] };

function figure(row: CsvRow, column: string, problems: InputProblem[]): number | null {
  const text = row.cells[column]?.trim() ?? '';
  const value = Number(text);
  if (/^[+-]?\d+(?:\.\d+)?$/u.test(text)) return value;
  problems.push({ file: row.file, line: row.line, column, value: text, reason: 'not a number' });
  return null;
}

function temperature(row: CsvRow, column: string, problems: InputProblem[]): number | null {
  const value = figure(row, column, problems);
  if (value === null) return null;
  const degF = convertTemperature(value, column.endsWith('degC') ? 'degC' : 'degF', 'degF');
  if (degF >= COLDEST && degF <= HOTTEST) return degF;
  problems.push({
    file: row.file,
    line: row.line,
    column,
    value: row.cells[column],
    reason: `no mean temperature of the open air lies there (${COLDEST} to ${HOTTEST} °F)`,
  });
  return null;
}

function monthOf(row: CsvRow, column: string, problems: InputProblem[]): number | null {
  const text = row.cells[column]?.trim() ?? '';
  const month = Number(/^(?:\d{4}-)?(\d{1,2})$/u.exec(text)?.[1] ?? Number.NaN);
  if (month >= 1 && month <= 12) return month - 1;
  problems.push({ file: row.file, line: row.line, column, value: text, reason: 'no month from 1 to 12' });
  return null;
}

function readDaily(rows: readonly CsvRow[], column: string, problems: InputProblem[]): Weather['daily'] {
  const seen = new Map<string, number>();
  return rows.flatMap((row) => {
    const on = row.cells.date?.trim() ?? '';
    const degF = temperature(row, column, problems);
    if (!isPlainDate(on)) {
      problems.push({
        file: row.file,
        line: row.line,
        column: 'date',
        value: on,
        reason: 'not a date of the form YYYY-MM-DD that exists',
      });
      return [];
    }
    const before = seen.get(on);
    if (before !== undefined) {
      problems.push({
        file: row.file,
        line: row.line,
        column: 'date',
        value: on,
        reason: `is on line ${before} already`,
      });
      return [];
    }
    seen.set(on, row.line);
    return degF === null ? [] : [{ on, degF }];
  });
}

/** Rows of months, each once. Problems name a month that is there twice, or not at all. */
function byMonth(
  rows: readonly CsvRow[],
  column: string,
  file: string,
  problems: InputProblem[],
): Map<number, CsvRow> {
  const months = new Map<number, CsvRow>();
  for (const row of rows) {
    const month = monthOf(row, column, problems);
    if (month === null) continue;
    const before = months.get(month);
    if (before)
      problems.push({
        file,
        line: row.line,
        column,
        value: row.cells[column],
        reason: `is on line ${before.line} already`,
      });
    else months.set(month, row);
  }
  for (let month = 0; month < 12; month += 1)
    if (!months.has(month) && problems.length === 0)
      problems.push({
        file,
        column,
        value: String(month + 1),
        reason: 'this month is missing: twelve are needed',
      });
  return months;
}

function readNormals(
  rows: readonly CsvRow[],
  columns: readonly string[],
  file: string,
  problems: InputProblem[],
): Pick<Weather, 'means' | 'bases'> {
  const monthColumn = columns.includes('month') ? 'month' : 'DATE';
  const months = byMonth(rows, monthColumn, file, problems);
  if (problems.length > 0) return { means: [], bases: [] };
  const valuesOf = (column: string): (number | null)[] =>
    Array.from({ length: 12 }, (_, month) => {
      const row = months.get(month) as CsvRow;
      if ((row.cells[column]?.trim() ?? '') === '') return null;
      const value = figure(row, column, problems);
      return value === null || MISSING.has(value) ? null : value === TRACE ? 0 : value;
    });
  const refuse = (column: string, month: number, reason: string): void => {
    const row = months.get(month);
    problems.push({ file, line: row?.line, column, value: row?.cells[column] ?? '', reason });
  };
  const means = valuesOf(NORMAL);
  for (const [month, degF] of means.entries())
    if (degF !== null && (degF < COLDEST || degF > HOTTEST))
      refuse(NORMAL, month, `no mean temperature of the open air lies there (${COLDEST} to ${HOTTEST} °F)`);
    else if (Number(months.get(month)?.cells[NORMAL]) === TRACE)
      refuse(NORMAL, month, 'a trace is no mean temperature');
  const missing = means.findIndex((one) => one === null);
  if (missing >= 0)
    problems.push({
      file,
      line: months.get(missing)?.line,
      column: NORMAL,
      value: '',
      reason: 'the mean of this month is missing',
    });
  const bases = columns.flatMap((column): Weather['bases'][number][] => {
    const match = BASE.exec(column);
    if (!match) return [];
    const values = valuesOf(column);
    const season: Season = match[1] === 'HTDD' ? 'heating' : 'cooling';
    for (const [month, value] of values.entries())
      if (value !== null && value < 0) refuse(column, month, 'degree days are never below zero');
    return values.some((one) => one === null)
      ? []
      : [{ season, base: Number(match[2] ?? NORMAL_BASE), months: values.map((one) => one ?? 0) }];
  });
  // Heating grows with the base, cooling falls with it.
  for (const season of ['heating', 'cooling'] as const) {
    const own = bases.filter((one) => one.season === season).toSorted((a, b) => a.base - b.base);
    for (let at = 1; at < own.length; at += 1)
      for (let month = 0; month < 12; month += 1) {
        const grown = own[at].months[month] - own[at - 1].months[month];
        if (season === 'heating' ? grown < 0 : grown > 0)
          problems.push({
            file,
            line: months.get(month)?.line,
            column: `base ${own[at].base}`,
            value: String(own[at].months[month]),
            reason: `degree days of ${season} at base ${own[at - 1].base} are ${own[at - 1].months[month]}`,
          });
      }
  }
  return { means: means.map((one) => one ?? 0), bases };
}

/** The weather of a file, or what is wrong with it. `known` columns only: another title is refused, so that nothing is left unread by mistake. */
export function readWeather(file: CsvFile): Read {
  const head = new TextDecoder()
    .decode(file.bytes.subarray(0, 20_000))
    .replace(/^\uFEFF/u, '')
    .split(/\r?\n/u)[0];
  const titles = head.split(/[,;\t]/u).map((one) => one.replaceAll('"', '').trim());
  const isNormals = titles.includes(NORMAL);
  const temperatureColumn = Object.keys(TEMPERATURES).find((one) => titles.includes(one));
  const known = isNormals
    ? new Set(titles)
    : new Set(['date', 'month', 'station', ...Object.keys(TEMPERATURES)]);
  const csv = readCsv(file, 'utf-8', known);
  const problems: InputProblem[] = [...csv.problems];
  if (problems.length > 0) return { problems };
  const name =
    csv.rows.map(({ cells }) => cells.NAME ?? cells.station ?? '').find((one) => one !== '') ?? file.name;
  const empty: Weather = {
    name: name.slice(0, 120),
    source: `file ${file.name}`.slice(0, 200),
    daily: [],
    bases: [],
    means: [],
  };
  let weather = empty;
  if (titles.includes('mean_temp_degF') && titles.includes('mean_temp_degC'))
    problems.push({
      file: file.name,
      line: 1,
      column: 'mean_temp_degC',
      value: '',
      reason: 'one unit of temperature, not both',
    });
  if (isNormals) weather = { ...empty, ...readNormals(csv.rows, titles, file.name, problems) };
  else if (temperatureColumn && titles.includes('date'))
    weather = { ...empty, daily: readDaily(csv.rows, temperatureColumn, problems) };
  else if (temperatureColumn && titles.includes('month')) {
    const months = byMonth(csv.rows, 'month', file.name, problems);
    weather = {
      ...empty,
      means: [...months]
        .toSorted(([a], [b]) => a - b)
        .flatMap(([, row]) => temperature(row, temperatureColumn, problems) ?? []),
    };
  } else
    problems.push({
      file: file.name,
      line: 1,
      column: '',
      value: head.slice(0, 80),
      reason: `the header needs date or month with mean_temp_degF or mean_temp_degC, or ${NORMAL}`,
    });
  if (problems.length === 0)
    try {
      climateOf(weather);
    } catch (error) {
      problems.push({
        file: file.name,
        column: '',
        value: '',
        reason: `it needs ${(error as Error).message} (20 days of each month or more)`,
      });
    }
  return problems.length > 0 ? { problems } : { weather, rows: csv.rows.length };
}
