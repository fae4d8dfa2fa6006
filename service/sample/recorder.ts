/** What the writers of the sample's histories share: who writes, by which dice, and the head of a record. */
import type { Insertable } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import type { CalibrationTable } from '../../db/schema.ts';
import type { Random } from '../../shared/planning/random.ts';
import { METHOD_VERSION } from '../../shared/trade/words.ts';
import type { Crew } from './people.ts';

export type Recorder = {
  db: BookDb;
  random: Random;
  crew: Crew;
};

/** A record of the day, but for what was found. */
export function recordBase(
  recorder: Recorder,
  testPointId: number,
  date: string,
): Omit<Insertable<CalibrationTable>, 'outcome' | 'unit' | 'snapshot_json'> {
  const { crew, random } = recorder;
  return {
    test_point_id: testPointId,
    done_on: date,
    started_at: null,
    ended_at: `${date}T1${random.integer(0, 4)}:${random.integer(10, 59)}:00Z`,
    person_id: crew.personIds[random.integer(0, crew.personIds.length - 1)],
    source: 'sample',
    method_version: METHOD_VERSION,
    decision_rule: 'simple acceptance',
    doubt_milli: null,
    pressure_gauge_id: crew.pressureGaugeId,
    temperature_gauge_id: crew.temperatureGaugeId,
    supply_right: 1,
  };
}

export type DevicePoint = {
  id: number;
  deviceId: number;
  tag: string;
  deviceClass: string;
  kind: string;
  unit: string;
  nominal: number | null;
  tolerance: number | null;
};
