import { sql } from 'kysely';
import type { Kysely } from 'kysely';

/** Everything that a drift history is made of, in the order of test points and days: read without the records themselves. */
export async function up(db: Kysely<unknown>): Promise<void> {
  await sql`drop index calibration_by_test_point`.execute(db);
  await sql`create index calibration_by_test_point on calibration (test_point_id, done_on, id, outcome, method,
    error_found_milli, found_relation, error_left_milli, left_relation, supply_right, person_id, pressure_gauge_id,
    temperature_gauge_id, json_extract(snapshot_json, '$.facts.calibrationPressureMilli', '$.calibrationPressureMilli',
      '$.facts.throttlingRangeMilli', '$.throttlingRangeMilli', '$.facts.outputLowMilli', '$.outputLowMilli',
      '$.facts.outputHighMilli', '$.outputHighMilli', '$.facts.action', '$.action', '$.facts.dialMilli', '$.dialMilli',
      '$.nominalMilli', '$.ticks.repaired'))`.execute(db);
}
