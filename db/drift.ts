/** Drift histories as the index holds them: many test points at once, without opening the records. */
import { sql } from 'kysely';
import type { BookDb } from './book.ts';

/** The index keeps this very expression: written otherwise, each record would be opened and its JSON read. */
const basis = sql<string>`json_extract(c.snapshot_json, '$.facts.calibrationPressureMilli', '$.calibrationPressureMilli',
  '$.facts.throttlingRangeMilli', '$.throttlingRangeMilli', '$.facts.outputLowMilli', '$.outputLowMilli',
  '$.facts.outputHighMilli', '$.outputHighMilli', '$.facts.action', '$.action', '$.facts.dialMilli', '$.dialMilli',
  '$.nominalMilli', '$.ticks.repaired')`;

export type HistoryRow = {
  id: number;
  test_point_id: number;
  done_on: string;
  outcome: string;
  method: string | null;
  error_found_milli: number | null;
  found_relation: '=' | '>=' | '<=' | null;
  error_left_milli: number | null;
  left_relation: '=' | '>=' | '<=' | null;
  supply_right: number;
  person_id: number;
  pressure_gauge_id: number | null;
  basis: string;
};

/** Histories of the test points with ids in a span, by test point, oldest record first; corrected records among them. */
function historyQuery(db: BookDb, { from, to }: { from: number; to: number }) {
  return db
    .selectFrom('calibration as c')
    .select([
      'c.test_point_id',
      'c.done_on',
      'c.id',
      'c.outcome',
      'c.method',
      'c.error_found_milli',
      'c.found_relation',
      'c.error_left_milli',
      'c.left_relation',
      'c.supply_right',
      'c.person_id',
      'c.pressure_gauge_id',
      basis.as('basis'),
    ])
    .where('c.test_point_id', '>=', from)
    .where('c.test_point_id', '<=', to)
    .orderBy('c.test_point_id')
    .orderBy('c.done_on')
    .orderBy('c.id');
}

/** The same without the records that were corrected. `replaced` are those of the whole book, read once. */
export async function historiesOf(
  db: BookDb,
  span: { from: number; to: number },
  replaced: ReadonlySet<number>,
): Promise<HistoryRow[]> {
  const rows = (await historyQuery(db, span).execute()) as HistoryRow[];
  return replaced.size === 0 ? rows : rows.filter(({ id }) => !replaced.has(id));
}

/** Records that a later one corrects: of the whole book, or of one test point. */
export async function replacedRecords(db: BookDb, testPointId?: number): Promise<Set<number>> {
  let query = db.selectFrom('correction as x').select('x.replaced_id');
  if (testPointId !== undefined)
    query = query
      .innerJoin('calibration as c', 'c.id', 'x.replaced_id')
      .where('c.test_point_id', '=', testPointId);
  return new Set((await query.execute()).map((row) => row.replaced_id));
}

/** Days on which devices were replaced, by device; with a day, up to it. */
export async function replacementDays(
  db: BookDb,
  { deviceId, upTo = null }: { deviceId?: number; upTo?: string | null } = {},
): Promise<Map<number, Set<string>>> {
  let query = db.selectFrom('replacement').select(['device_id', 'on_date']);
  if (deviceId !== undefined) query = query.where('device_id', '=', deviceId);
  if (upTo !== null) query = query.where('on_date', '<=', upTo);
  const days = new Map<number, Set<string>>();
  for (const row of await query.execute())
    days.set(row.device_id, (days.get(row.device_id) ?? new Set()).add(row.on_date));
  return days;
}

/** The tolerance that each record of a test point was held against, as it keeps it. */
export async function tolerancesOfDay(db: BookDb, testPointId: number): Promise<Map<number, number>> {
  const rows = await db
    .selectFrom('calibration as c')
    .select(['c.id', 'c.snapshot_json'])
    .where('c.test_point_id', '=', testPointId)
    .execute();
  type Held = {
    toleranceMilli?: number;
    facts?: { points?: { testPointId: number; toleranceMilli: number }[] };
  };
  return new Map(
    rows.flatMap(({ id, snapshot_json }) => {
      const held = JSON.parse(snapshot_json) as Held;
      const own = held.facts?.points?.find((point) => point.testPointId === testPointId);
      const tolerance = own?.toleranceMilli ?? held.toleranceMilli;
      return tolerance === undefined ? [] : [[id, tolerance] as const];
    }),
  );
}
