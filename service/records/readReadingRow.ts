/** One row of a readings file into a record that can be appended, or the problems that stand in the way. */
import type { NewCalibration, NewReading } from '../../db/records.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import { parsePlainDate } from '../../shared/dates/plainDate.ts';
import type { CellStyle } from '../../shared/register/row.ts';
import { branchAboveMain } from '../../shared/trade/plausible.ts';
import type { ReadingUnits } from '../../shared/trade/plausible.ts';
import { errorOf, foundVerdict, leftVerdict } from '../../shared/trade/setpointCard.ts';
import { relations } from '../../shared/trade/setpointError.ts';
import type { Relation, SetpointError } from '../../shared/trade/setpointError.ts';
import { limitsOf, verdictInDoubt } from '../../shared/trade/doubt.ts';
import type { DoubtVerdict } from '../../shared/trade/doubt.ts';
import { METHOD_VERSION, completingOutcomes, outcomes } from '../../shared/trade/words.ts';
import type { Outcome } from '../../shared/trade/words.ts';
import {
  convertPressure,
  convertScale,
  convertScaleDifference,
  fromMilli,
  parseMilli,
  pressureUnits,
  temperatureUnits,
  toMilli,
} from '../../shared/units/units.ts';
import { setpointFactsOfRow } from '../../shared/trade/cardSetting.ts';
import { snapshotOf } from '../bench/setpointFacts.ts';
import type { StoredSetpoint } from '../bench/setpointFacts.ts';
import type { CsvRow } from '../csv/readCsv.ts';
import type { StateFacts } from '../../shared/trade/cardSetting.ts';
import { outcomeProblems, plausible, stateProblem } from './readingRules.ts';
import type { Cells, KnownPoint } from './readingRules.ts';

export type ReadingRow = {
  point: KnownPoint;
  calibration: NewCalibration;
  readings: NewReading[];
  replaced: boolean;
};

export type ReadingLookup = {
  point: (tag: string, kind: string, role: string) => KnownPoint | null;
  hasTag: (tag: string) => boolean;
  personId: (initials: string) => number | null;
};

/** Cells of a row by column, with problems that say where. */
export function cellsOf(row: CsvRow, style: CellStyle, problems: InputProblem[]): Cells {
  const text = (name: string): string => (row.cells[name] ?? '').trim();
  const fail = (column: string, reason: string): void => {
    if (problems.some((one) => one.column === column && one.reason === reason)) return;
    problems.push({ file: row.file, line: row.line, column, value: text(column), reason });
  };
  return {
    text,
    fail,
    milli: (name) => {
      if (text(name) === '') return null;
      const milli = parseMilli(text(name), style.decimals);
      if (milli === null)
        fail(name, `not a number with decimal ${style.decimals} and at most three decimals`);
      return milli;
    },
  };
}

/** The unit that a row states, else the one declared for the file. */
export function unitOf<T extends string>(
  cells: Cells,
  column: string,
  declared: T,
  choices: readonly T[],
): T {
  const raw = cells.text(column);
  if (raw === '') return declared;
  const unit = choices.find((one) => one === raw);
  if (!unit) cells.fail(column, `not one of: ${choices.join(', ')}`);
  return unit ?? declared;
}

/** Reads one row. Answers null with problems added when it cannot be a record. */
export function readReadingRow(
  row: CsvRow,
  style: CellStyle,
  lookup: ReadingLookup,
  context: { today: string; now: string; problems: InputProblem[] },
): ReadingRow | null {
  const problems: InputProblem[] = [];
  const cells = cellsOf(row, style, problems);
  const result = readCells(cells, style, lookup, context);
  context.problems.push(...problems);
  return problems.length > 0 ? null : result;
}

function readCells(
  cells: Cells,
  style: CellStyle,
  lookup: ReadingLookup,
  context: { today: string; now: string },
): ReadingRow | null {
  for (const column of ['tag', 'done_on', 'person', 'outcome'])
    if (cells.text(column) === '') cells.fail(column, 'needed on every row');
  const kind = cells.text('kind') || 'setpoint';
  const tag = cells.text('tag');
  const point = lookup.point(tag, kind, cells.text('role'));
  if (tag !== '' && point === null) {
    if (lookup.hasTag(tag))
      cells.fail(cells.text('role') === '' ? 'kind' : 'role', `${tag} has no such test point`);
    else cells.fail('tag', 'no device has this tag');
  }
  const doneOn = parsePlainDate(cells.text('done_on'), style.dates);
  if (cells.text('done_on') !== '' && doneOn === null)
    cells.fail('done_on', `not a date of the declared style (${style.dates}), or it does not exist`);
  if (doneOn !== null && doneOn > context.today) cells.fail('done_on', 'lies in the future');
  if (doneOn !== null && point?.inServiceOn && doneOn < point.inServiceOn)
    cells.fail('done_on', `before the device went into service on ${point.inServiceOn}`);
  if (doneOn !== null && point?.retiredOn && doneOn > point.retiredOn)
    cells.fail('done_on', `after the device was retired on ${point.retiredOn}`);
  const personId = lookup.personId(cells.text('person'));
  if (cells.text('person') !== '' && personId === null)
    cells.fail('person', 'no person has these initials; add them in Settings first');
  const outcome = outcomes.find((one) => one === cells.text('outcome'));
  if (cells.text('outcome') !== '' && !outcome) cells.fail('outcome', `not one of: ${outcomes.join(', ')}`);
  const replaced = cells.text('replaced');
  if (!['', 'yes', 'no'].includes(replaced)) cells.fail('replaced', 'not `yes` or `no`');
  if (replaced === 'yes' && ['no access', 'not tested'].includes(cells.text('outcome')))
    cells.fail('replaced', `nothing is replaced where the outcome is \`${cells.text('outcome')}\``);
  const pressureUnit = unitOf(cells, 'pressure_unit', style.pressure, pressureUnits);
  const temperatureUnit = unitOf(cells, 'temperature_unit', style.temperature, temperatureUnits);
  if (!point || !doneOn || personId === null || !outcome) return null;
  outcomeProblems(cells, point, outcome);
  const figures = point.setpoint
    ? setpointFigures(cells, point.setpoint, point.state, {
        outcome,
        pressure: pressureUnit,
        temperature: temperatureUnit,
      })
    : valueFigures(cells, point, outcome);
  const { readings, ...derived } = figures;
  return {
    point,
    readings,
    replaced: replaced === 'yes',
    calibration: {
      test_point_id: point.testPointId,
      done_on: doneOn,
      started_at: null,
      ended_at: context.now,
      person_id: personId,
      outcome,
      source: 'file',
      unit: point.unit,
      method_version: METHOD_VERSION,
      decision_rule: 'simple acceptance',
      ...derived,
      doubt_milli: null,
      pressure_gauge_id: null,
      temperature_gauge_id: null,
      supply_right: outcome === 'supply not right' ? 0 : 1,
      snapshot_json: JSON.stringify(
        point.setpoint
          ? snapshotOf(point.tag, point.setpoint)
          : {
              tag: point.tag,
              kind: point.kind,
              nominalMilli: point.nominalMilli,
              toleranceMilli: point.toleranceMilli,
              unit: point.unit,
            },
      ),
      note: cells.text('note'),
    },
  };
}

type Figures = Pick<
  NewCalibration,
  | 'method'
  | 'error_found_milli'
  | 'found_relation'
  | 'verdict_found'
  | 'error_left_milli'
  | 'left_relation'
  | 'verdict_left'
> & {
  readings: NewReading[];
};

const noFigures = {
  method: null,
  error_found_milli: null,
  found_relation: null,
  verdict_found: null,
  error_left_milli: null,
  left_relation: null,
  verdict_left: null,
} as const;

function relationOf(cells: Cells): Relation {
  const raw = cells.text('found_relation');
  const relation = relations.find((one) => one === raw);
  if (raw !== '' && !relation) cells.fail('found_relation', 'not `=`, `>=` or `<=`');
  return relation ?? '=';
}

function setpointFigures(
  cells: Cells,
  setpoint: StoredSetpoint,
  state: StateFacts | null,
  row: ReadingUnits & { outcome: Outcome },
): Figures {
  const { outcome, pressure: pressureUnit } = row;
  // A humidity controller has no temperature: its figures are in percent whatever the file declares.
  const temperatureUnit = setpoint.temperatureUnit === 'percent' ? 'percent' : row.temperature;
  const units = { pressure: pressureUnit, temperature: temperatureUnit };
  for (const column of ['value_found', 'value_left'])
    if (cells.text(column) !== '') cells.fail(column, 'a setpoint is recorded by its readings or its error');
  const facts = setpointFactsOfRow(setpoint, setpoint.pressureUnit);
  const typed = {
    found: plausible(cells, 'error_found', 'error', units),
    left: plausible(cells, 'error_left', 'error', units),
  };
  const main = plausible(cells, 'main_pressure', 'gauge pressure', units);
  const raw = {
    dial: plausible(cells, 'dial', 'dial', units),
    room: plausible(cells, 'room_temperature', 'room temperature', units),
    found: plausible(cells, 'branch_found', 'gauge pressure', units),
    left: plausible(cells, 'branch_left', 'gauge pressure', units),
  };
  if (main !== null)
    for (const [column, branch] of [
      ['branch_found', raw.found],
      ['branch_left', raw.left],
    ] as const) {
      const reason = branch === null ? null : branchAboveMain(branch, main, pressureUnit);
      if (reason) cells.fail(column, reason);
    }
  if (main !== null && state && (completingOutcomes.includes(outcome) || outcome === 'device failed'))
    stateProblem(
      cells,
      { state, unit: setpoint.pressureUnit },
      toMilli(convertPressure(fromMilli(main), pressureUnit, setpoint.pressureUnit)),
    );
  const hasRaw = Object.values(raw).some((value) => value !== null);
  if (typed.found !== null && hasRaw)
    cells.fail('error_found', 'give either the error or the readings, not both');
  const readings: NewReading[] = [];
  const add = (
    phase: NewReading['phase'],
    quantity: NewReading['quantity'],
    value: number | null,
    unit: NewReading['unit'],
  ): void => {
    if (value !== null)
      readings.push({ phase, quantity, value_milli: value, unit, air_state: setpoint.airState });
  };
  add('found', 'main pressure', main, pressureUnit);
  add('found', 'dial', raw.dial, temperatureUnit);
  add('found', 'room temperature', raw.room, temperatureUnit);
  add('found', 'branch pressure', raw.found, pressureUnit);
  add('left', 'branch pressure', raw.left, pressureUnit);
  const judge = (
    error: SetpointError,
    left: boolean,
  ): { milli: number; relation: Relation; verdict: DoubtVerdict | null } => {
    const milli = toMilli(error.error);
    const rounded = { ...error, error: fromMilli(milli) };
    return {
      milli,
      relation: error.relation,
      verdict: facts ? (left ? leftVerdict(facts, rounded) : foundVerdict(facts, rounded)) : null,
    };
  };
  let found: ReturnType<typeof judge> | null = null;
  let left: ReturnType<typeof judge> | null = null;
  let method: Figures['method'] = null;
  const difference = (milli: number): number =>
    convertScaleDifference(fromMilli(milli), temperatureUnit, setpoint.temperatureUnit);
  if (typed.found !== null || typed.left !== null) {
    method = 'typed';
    if (typed.found !== null)
      found = judge({ error: difference(typed.found), relation: relationOf(cells), method: 'M2' }, false);
    if (typed.left !== null)
      left = judge({ error: difference(typed.left), relation: '=', method: 'M2' }, true);
  } else if (hasRaw) {
    if (!facts)
      cells.fail(
        'branch_found',
        'the calibration pressure of this setpoint is not known; give the error instead',
      );
    for (const [column, value] of [
      ['dial', raw.dial],
      ['room_temperature', raw.room],
      ['main_pressure', main],
    ] as const)
      if (value === null && cells.text(column) === '') cells.fail(column, 'needed with a branch pressure');
    if (outcome !== 'supply not right' && facts && raw.room !== null && raw.dial !== null && main !== null) {
      const pressure = (milli: number): number =>
        convertPressure(fromMilli(milli), pressureUnit, setpoint.pressureUnit);
      const temperature = (milli: number): number =>
        convertScale(fromMilli(milli), temperatureUnit, setpoint.temperatureUnit);
      const base = {
        mainPressure: pressure(main),
        temperature: temperature(raw.room),
        dialAtCalibrationPressure: null,
      };
      if (raw.found !== null) {
        const error = errorOf(facts, { ...base, dial: temperature(raw.dial), branch: pressure(raw.found) });
        found = judge(error, false);
        method = error.method;
      }
      if (raw.left !== null)
        left = judge(errorOf(facts, { ...base, dial: base.temperature, branch: pressure(raw.left) }), true);
    }
  }
  if (outcome === 'held' && left === null) left = found;
  return {
    readings,
    method,
    error_found_milli: found?.milli ?? null,
    found_relation: found?.relation ?? null,
    verdict_found: found?.verdict ?? null,
    error_left_milli: left?.milli ?? null,
    left_relation: left?.relation ?? null,
    verdict_left: left?.verdict ?? null,
  };
}

function valueFigures(cells: Cells, point: KnownPoint, outcome: Outcome): Figures {
  for (const column of [
    'dial',
    'room_temperature',
    'branch_found',
    'branch_left',
    'error_found',
    'error_left',
    'found_relation',
  ])
    if (cells.text(column) !== '')
      cells.fail(column, `a ${point.kind} is recorded by value_found and value_left`);
  const readings: NewReading[] = [];
  const read = (column: string): number | null => {
    const { unit } = point;
    if (unit === 'psi' || unit === 'kPa')
      return plausible(cells, column, 'supply pressure', { pressure: unit, temperature: 'degF' });
    if (unit === 'degF' || unit === 'degC')
      return plausible(cells, column, 'air temperature', { pressure: 'psi', temperature: unit });
    return cells.milli(column);
  };
  const values = { found: read('value_found'), left: read('value_left') };
  for (const phase of ['found', 'left'] as const) {
    const value = values[phase];
    if (value !== null)
      readings.push({ phase, quantity: 'value', value_milli: value, unit: point.unit, air_state: null });
  }
  if (point.nominalMilli === null || values.found === null)
    return { readings, ...noFigures, method: values.found === null ? null : 'typed' };
  const found = values.found - point.nominalMilli;
  const left = values.left === null ? (outcome === 'held' ? found : null) : values.left - point.nominalMilli;
  const verdict = (error: number, tolerance: number): DoubtVerdict =>
    verdictInDoubt({ error, relation: '=' }, limitsOf(tolerance), 0);
  return {
    readings,
    method: 'typed',
    error_found_milli: found,
    found_relation: '=',
    verdict_found: verdict(found, point.toleranceMilli),
    error_left_milli: left,
    left_relation: left === null ? null : '=',
    verdict_left: left === null ? null : verdict(left, point.toleranceLeftMilli),
  };
}
