/** What tests and leaks are worked out with, as each record keeps it, and the figures that follow from a record alone. */
import { atmosphereAt } from '../../shared/trade/air/flow.ts';
import {
  AIR_METHOD_VERSION,
  airTestProblems,
  airTestResult,
  storedAirResult,
} from '../../shared/trade/air/airTests.ts';
import type {
  AirTestFacts,
  AirTestKind,
  AirTestReading,
  AirTestResult,
} from '../../shared/trade/air/airTests.ts';
import { leakEstimate } from '../../shared/trade/air/leaks.ts';
import type { LeakSize } from '../../shared/trade/air/leaks.ts';
import { fromMilli } from '../../shared/units/units.ts';

/** Names as of the day, and the figures of the station that the arithmetic used. */
export type AirSnapshot = {
  names: { tag: string; person: string; initials: string };
  capacityMilli: number | null;
  altitudeFt: number;
};

export function factsOfSnapshot({ capacityMilli, altitudeFt }: AirSnapshot): AirTestFacts {
  return {
    capacity: capacityMilli === null ? null : fromMilli(capacityMilli),
    atmospherePsi: atmosphereAt(altitudeFt),
  };
}

type TestRow = {
  kind: AirTestKind;
  method_version: string;
  flow_scim_milli: number | null;
  share_ppm: number | null;
  snapshot_json: string;
};
type ReadingRow = { quantity: string; value_milli: number; unit: string };

/** Stored readings as the arithmetic takes them. */
export function readingsOfStored(readings: readonly ReadingRow[]): AirTestReading[] {
  return readings.map(({ quantity, value_milli, unit }) => ({ quantity, valueMilli: value_milli, unit }));
}

/** What a stored test comes to. Throws RangeError where its readings are none of its kind. */
export function resultOfStored(row: TestRow, readings: readonly ReadingRow[]): AirTestResult {
  return airTestResult(
    row.kind,
    readingsOfStored(readings),
    factsOfSnapshot(JSON.parse(row.snapshot_json) as AirSnapshot),
  );
}

/** What of a stored test does not follow from its readings; null when all does. */
export function airTestProblem(content: unknown): string | null {
  const { row, readings } = content as { row: TestRow; readings: ReadingRow[] };
  if (row.method_version !== AIR_METHOD_VERSION) return null;
  const [problem] = airTestProblems(row.kind, readingsOfStored(readings));
  if (problem) return `its reading “${problem.quantity}” ${problem.reason}`;
  const { flowScimMilli, sharePpm } = storedAirResult(resultOfStored(row, readings));
  if (flowScimMilli !== row.flow_scim_milli)
    return `its flow is ${row.flow_scim_milli}, its readings give ${flowScimMilli}`;
  return sharePpm === row.share_ppm ? null : `its share is ${row.share_ppm}, its readings give ${sharePpm}`;
}

type LeakRow = {
  diameter_micro: number;
  diameter_unit: LeakSize['diameterUnit'];
  pressure_milli: number;
  pressure_unit: LeakSize['pressureUnit'];
  coefficient_milli: number | null;
  method_version: string;
  low_scim_milli: number;
  typical_scim_milli: number;
  high_scim_milli: number;
  snapshot_json: string;
};

/** What of a stored leak does not follow from its size; null when all does. */
export function leakProblem(content: unknown): string | null {
  const row = content as LeakRow;
  if (row.method_version !== AIR_METHOD_VERSION) return null;
  const { altitudeFt } = JSON.parse(row.snapshot_json) as AirSnapshot;
  const { low, typical, high } = leakEstimate(
    {
      diameterMicro: row.diameter_micro,
      diameterUnit: row.diameter_unit,
      pressureMilli: row.pressure_milli,
      pressureUnit: row.pressure_unit,
      coefficientMilli: row.coefficient_milli,
    },
    atmosphereAt(altitudeFt),
  );
  const given = [row.low_scim_milli, row.typical_scim_milli, row.high_scim_milli];
  return given.join() === [low, typical, high].join()
    ? null
    : `its flow is ${given.join(', ')}, its size gives ${[low, typical, high].join(', ')}`;
}
