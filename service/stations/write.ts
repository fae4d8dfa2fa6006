/** Writes a test or a leak with what it comes to: of somebody at work, and of the sample. */
import { appendAirTest, appendLeak } from '../../db/airRecords.ts';
import type { BookDb } from '../../db/book.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { AIR_METHOD_VERSION, airTestResult, storedAirResult } from '../../shared/trade/air/airTests.ts';
import type { AirTestKind, AirTestReading } from '../../shared/trade/air/airTests.ts';
import { leakEstimate } from '../../shared/trade/air/leaks.ts';
import type { LeakSize } from '../../shared/trade/air/leaks.ts';
import { factsOfSnapshot } from './facts.ts';
import type { AirSnapshot } from './facts.ts';

/** Whose it is, what it was worked out with, and which older one it corrects. */
export type AirRecord = {
  deviceId: number;
  personId: number;
  on: PlainDate;
  at: string;
  note: string;
  snapshot: AirSnapshot;
  corrects: { id: number; reason: string } | null;
};

function columnsOf({ deviceId, personId, at, note, snapshot, corrects }: AirRecord) {
  return {
    device_id: deviceId,
    person_id: personId,
    method_version: AIR_METHOD_VERSION,
    note,
    replaces_id: corrects?.id ?? null,
    reason: corrects?.reason ?? '',
    snapshot_json: JSON.stringify(snapshot),
    at,
  };
}

/** Throws RangeError on readings that `airTestProblems` refuses. */
export async function writeAirTest(
  db: BookDb,
  record: AirRecord,
  test: { kind: AirTestKind; gaugeId: number | null; readings: readonly AirTestReading[] },
): Promise<{ id: number; flowScimMilli: number | null }> {
  const { kind, gaugeId, readings } = test;
  const stored = storedAirResult(airTestResult(kind, readings, factsOfSnapshot(record.snapshot)));
  const id = await appendAirTest(
    db,
    {
      ...columnsOf(record),
      kind,
      done_on: record.on,
      pressure_gauge_id: gaugeId,
      flow_scim_milli: stored.flowScimMilli,
      share_ppm: stored.sharePpm,
    },
    readings.map(({ quantity, valueMilli, unit }) => ({ quantity, value_milli: valueMilli, unit })),
  );
  return { id, flowScimMilli: stored.flowScimMilli };
}

/** Throws RangeError on a size that cannot be. */
export async function writeLeak(
  db: BookDb,
  record: AirRecord,
  { place, size }: { place: string; size: LeakSize },
): Promise<number> {
  const { low, typical, high } = leakEstimate(size, factsOfSnapshot(record.snapshot).atmospherePsi);
  return appendLeak(db, {
    ...columnsOf(record),
    place,
    found_on: record.on,
    diameter_micro: size.diameterMicro,
    diameter_unit: size.diameterUnit,
    pressure_milli: size.pressureMilli,
    pressure_unit: size.pressureUnit,
    coefficient_milli: size.coefficientMilli,
    low_scim_milli: low,
    typical_scim_milli: typical,
    high_scim_milli: high,
  });
}
