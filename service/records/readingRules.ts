/** What the cells of one row of a readings file must agree on before they may become a record. */
import { liveSetpointOf } from '../../shared/trade/cardSetting.ts';
import type { StateFacts } from '../../shared/trade/cardSetting.ts';
import { implausible } from '../../shared/trade/plausible.ts';
import type { ReadingQuantity, ReadingUnits } from '../../shared/trade/plausible.ts';
import type { Outcome } from '../../shared/trade/words.ts';
import type { PressureUnit, Unit } from '../../shared/units/units.ts';
import type { StoredSetpoint } from '../bench/setpointFacts.ts';

export type KnownPoint = {
  testPointId: number;
  deviceId: number;
  tag: string;
  kind: string;
  role: string;
  unit: Unit;
  nominalMilli: number | null;
  toleranceMilli: number;
  toleranceLeftMilli: number;
  inServiceOn: string | null;
  retiredOn: string | null;
  setpoint: StoredSetpoint | null;
  /** What decides whether the setpoint is alive; null for other kinds and while its calibration pressure is not known. */
  state: StateFacts | null;
};

export type Cells = {
  text: (name: string) => string;
  milli: (name: string) => number | null;
  fail: (column: string, reason: string) => void;
};

const figureColumns = {
  found: ['branch_found', 'error_found', 'value_found'],
  left: ['branch_left', 'error_left', 'value_left'],
  other: ['main_pressure', 'dial', 'room_temperature'],
} as const;

/** What an outcome says of the readings beside it, and what they say of it. */
export function outcomeProblems(cells: Cells, point: KnownPoint, outcome: Outcome): void {
  const given = (columns: readonly string[]): string | undefined =>
    columns.find((column) => cells.text(column) !== '');
  const found = given(figureColumns.found);
  const left = given(figureColumns.left);
  if (outcome === 'no access' || outcome === 'not tested') {
    const column = found ?? left ?? given(figureColumns.other);
    if (column) cells.fail(column, `nothing is read where the outcome is \`${outcome}\``);
  }
  if (outcome === 'supply not right')
    for (const column of ['error_found', 'error_left'])
      if (cells.text(column) !== '')
        cells.fail(column, 'an error under a supply that is not right says nothing of the device');
  if (point.setpoint === null && point.nominalMilli === null) return;
  const column = point.setpoint === null ? 'value_found' : 'error_found';
  if (outcome === 'held' && found === undefined)
    cells.fail(column, '`held` needs the as-found reading or error; else it was `not tested`');
  if (outcome === 'adjusted' && found === undefined && left === undefined)
    cells.fail(column, '`adjusted` needs an as-found or an as-left; without either it is no calibration');
  const asFound = { error_left: 'error_found', value_left: 'value_found', branch_left: null } as const;
  if (outcome === 'held')
    for (const [after, before] of Object.entries(asFound))
      if (cells.text(after) !== '' && (before === null || cells.milli(after) !== cells.milli(before)))
        cells.fail(after, '`held` means left as found: leave this empty, or the outcome is `adjusted`');
}

/** A reading in thousandths, refused when no instrument can show it. */
export function plausible(
  cells: Cells,
  column: string,
  quantity: ReadingQuantity,
  units: ReadingUnits,
): number | null {
  const milli = cells.milli(column);
  const reason = milli === null ? null : implausible(quantity, milli, units);
  if (reason) cells.fail(column, reason);
  return milli;
}

/** Read in the other air state, a branch tells of the other setpoint. */
export function stateProblem(
  cells: Cells,
  { state, unit }: { state: StateFacts; unit: PressureUnit },
  mainMilli: number,
): void {
  const { live, stateIsRight } = liveSetpointOf(state, unit, mainMilli);
  if (stateIsRight) return;
  cells.fail(
    'main_pressure',
    state.airState === null
      ? 'the main’s two pressures do not mean this setpoint’s role: mend the register first'
      : `the main was ${live === 'between' ? 'between its two states' : `in its ${live} state`}, this setpoint asks for ${state.airState}: the outcome can only be \`supply not right\``,
  );
}
