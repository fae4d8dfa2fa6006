/** Stored records as the visits that a drift series is made of. */
import type { HistoryRow } from '../../db/drift.ts';
import type { ControllerAction } from '../../shared/trade/proportional.ts';
import type { DriftVisit } from '../../shared/stats/driftSeries.ts';
import type { Basis } from '../../shared/stats/reexpress.ts';

type Held = [...(number | null)[]];

/** What the error refers to, the setting of the day, and whether it was repaired: of a card's record, or of a plain one. */
const read = new Map<string, { basis: Basis | null; nominalMilli: number | null; isRepaired: boolean }>();
const MOST_KEPT = 5_000;

/** Books hold few different ones: each text is read once. */
function heldOf(json: string) {
  const kept = read.get(json);
  if (kept) return kept;
  const values = JSON.parse(json) as Held & { 8: ControllerAction | null; 9: ControllerAction | null };
  const number = (...at: number[]): number | null => {
    const found = at.map((index) => values[index]).find((value) => typeof value === 'number');
    return found ?? null;
  };
  const [pressure, range, low, high] = [number(0, 1), number(2, 3), number(4, 5), number(6, 7)];
  const action = values[8] ?? values[9];
  const held = {
    basis:
      pressure === null || range === null || low === null || high === null || action === null
        ? null
        : {
            calibrationPressureMilli: pressure,
            throttlingRangeMilli: range,
            outputLowMilli: low,
            outputHighMilli: high,
            action,
          },
    nominalMilli: number(10, 11, 12),
    isRepaired: Boolean(values[13]),
  };
  if (read.size >= MOST_KEPT) read.clear();
  read.set(json, held);
  return held;
}

/**
 * The visits of one test point's records, in their order. A replacement closes every series of the device: where this
 * point was read on that very day the record carries it, else the last one before is the last of its device.
 */
export function visitsOf(
  rows: readonly HistoryRow[],
  about: { replacedOn: ReadonlySet<string> | undefined; inServiceOn: string | null },
): DriftVisit[] {
  const visits = rows.map((row) => visitOf(row, about));
  for (const day of about.replacedOn ?? []) {
    const ofDay = visits.filter(({ date }) => date === day);
    // Of several on that day the last may be of the new device: nothing is counted from one to another.
    for (const visit of ofDay.slice(0, -1)) visit.isLastOfDevice = true;
    if (ofDay.length > 0) continue;
    const before = visits.findLast(({ date }) => date < day);
    if (before) before.isLastOfDevice = true;
  }
  return visits;
}

function visitOf(
  row: HistoryRow,
  { replacedOn, inServiceOn }: { replacedOn: ReadonlySet<string> | undefined; inServiceOn: string | null },
): DriftVisit {
  const { basis, nominalMilli, isRepaired } = heldOf(row.basis);
  return {
    date: row.done_on,
    found:
      row.error_found_milli === null || row.found_relation === null
        ? null
        : { milli: row.error_found_milli, relation: row.found_relation },
    leftMilli: row.left_relation === '=' ? row.error_left_milli : null,
    // Where nothing was adjusted a bound stays what it was found as, whether or not that was noted.
    isLeftAsBound:
      row.found_relation !== null &&
      row.found_relation !== '=' &&
      row.outcome !== 'adjusted' &&
      (row.left_relation === null || row.error_left_milli === row.error_found_milli),
    event: replacedOn?.has(row.done_on) ? 'replaced' : isRepaired ? 'changed' : 'none',
    supplyFlagged: row.supply_right === 0,
    method: row.method,
    basis,
    nominalMilli,
    isBeforeService: inServiceOn !== null && row.done_on < inServiceOn,
  };
}
