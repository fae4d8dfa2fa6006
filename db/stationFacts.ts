/** The newest of what was measured of stations, and of what devices bleed. */
import { cyclesOf, runFraction } from '../shared/cards/station.ts';
import type { PlainDate } from '../shared/dates/plainDate.ts';
import { SCIM_PER_SCFM } from '../shared/trade/air/flow.ts';
import { convertPressure, convertTemperature, fromMilli } from '../shared/units/units.ts';
import type { PressureUnit, TemperatureUnit } from '../shared/units/units.ts';
import type { Measured } from '../shared/register/findings/network.ts';
import type { BookDb } from './book.ts';

type Dew = { record: number; on: string; degF: number | null; psi: number | null };

/** Newest dew point of each station, with the pressure that it refers to: as left, else as found. */
export async function dewPoints(db: BookDb): Promise<Map<number, Dew>> {
  const rows = await db
    .selectFrom('test_point as tp')
    .innerJoin('calibration as c', 'c.test_point_id', 'tp.id')
    .innerJoin('reading as r', 'r.calibration_id', 'c.id')
    .select(['tp.device_id', 'c.id', 'c.done_on', 'r.phase', 'r.quantity', 'r.value_milli', 'r.unit'])
    .where('tp.kind', '=', 'dew point')
    .where('r.quantity', 'in', ['dew point', 'pressure of the dew point'])
    .where('c.id', 'not in', db.selectFrom('correction').select('replaced_id'))
    .orderBy('c.done_on')
    .orderBy('c.id')
    .orderBy('r.position')
    .execute();
  const newest = new Map<number, Dew>();
  for (const row of rows) {
    if (row.value_milli === null) continue;
    const held = newest.get(row.device_id);
    const dew = held?.record === row.id ? held : { record: row.id, on: row.done_on, degF: null, psi: null };
    if (row.quantity === 'dew point')
      dew.degF = convertTemperature(fromMilli(row.value_milli), row.unit as TemperatureUnit, 'degF');
    else dew.psi = convertPressure(fromMilli(row.value_milli), row.unit as PressureUnit, 'psi');
    newest.set(row.device_id, dew);
  }
  return newest;
}

/** Tests that nobody corrected, oldest first: in a map by device the newest stays. */
function standingTests(db: BookDb) {
  return db
    .selectFrom('air_test as t')
    .leftJoin('air_test as by', 'by.replaces_id', 't.id')
    .select(['t.device_id', 't.done_on'])
    .where('by.id', 'is', null)
    .orderBy('t.done_on')
    .orderBy('t.id');
}

/** The newest test of a kind that nobody corrected, by device: its flow in scim. With a day, the newest one by then. */
async function newestFlows(
  db: BookDb,
  kind: 'pump-up' | 'bleed of a device',
  by: PlainDate | null = null,
): Promise<Map<number, Measured>> {
  const rows = await standingTests(db)
    .select('t.flow_scim_milli')
    .where('t.kind', '=', kind)
    .where((eb) => (by === null ? eb.lit(true) : eb('t.done_on', '<=', by)))
    .execute();
  return new Map(
    rows.flatMap(({ device_id, done_on, flow_scim_milli }) =>
      flow_scim_milli === null
        ? []
        : [[device_id, { value: fromMilli(flow_scim_milli), on: done_on }] as const],
    ),
  );
}

/** What devices bleed as it was measured last, scim. */
export async function measuredBleeds(db: BookDb): Promise<Map<number, Measured>> {
  return newestFlows(db, 'bleed of a device');
}

/** What stations deliver by their newest pump-up test, scfm; with a day, by the newest one by then. */
export async function measuredCapacities(
  db: BookDb,
  by: PlainDate | null = null,
): Promise<Map<number, Measured>> {
  return new Map(
    [...(await newestFlows(db, 'pump-up', by))].map(([id, { value, on }]) => [
      id,
      { value: value / SCIM_PER_SCFM, on },
    ]),
  );
}

/** The newest of one quantity of the tests of air quality, by station. */
export async function newestQuality(
  db: BookDb,
  quantity: 'oil' | 'largest particle' | 'particles of 1 to 5 um',
): Promise<Map<number, Measured>> {
  const rows = await standingTests(db)
    .innerJoin('air_test_reading as r', 'r.air_test_id', 't.id')
    .select('r.value_milli')
    .where('t.kind', '=', 'air quality')
    .where('r.quantity', '=', quantity)
    .execute();
  return new Map(
    rows.map(({ device_id, done_on, value_milli }) => [
      device_id,
      { value: fromMilli(value_milli), on: done_on },
    ]),
  );
}

/** Cycles of the newest card of each station, and the newest share of its tests: the later of the two. */
export async function newestRuns(db: BookDb): Promise<Map<number, { share: number; on: PlainDate }>> {
  const runs = new Map<number, { share: number; on: PlainDate }>();
  const cycles = await db
    .selectFrom('test_point as tp')
    .innerJoin('calibration as c', 'c.test_point_id', 'tp.id')
    .innerJoin('reading as r', 'r.calibration_id', 'c.id')
    .select(['tp.device_id', 'c.id', 'c.done_on', 'r.quantity', 'r.value_milli'])
    .where('tp.kind', '=', 'dew point')
    .where((eb) => eb.or([eb('r.quantity', 'like', 'on time %'), eb('r.quantity', 'like', 'off time %')]))
    .where('c.id', 'not in', db.selectFrom('correction').select('replaced_id'))
    .orderBy('c.done_on')
    .orderBy('c.id')
    .execute();
  type Newest = { record: number; on: PlainDate; readings: { quantity: string; value: number }[] };
  const newest = new Map<number, Newest>();
  for (const { device_id, id, done_on, quantity, value_milli } of cycles) {
    const held = newest.get(device_id);
    const own = held?.record === id ? held : { record: id, on: done_on, readings: [] };
    if (value_milli !== null) own.readings.push({ quantity, value: value_milli });
    newest.set(device_id, own);
  }
  for (const [id, { on, readings }] of newest) {
    const share = runFraction(cyclesOf(readings));
    if (share !== null) runs.set(id, { share, on });
  }
  const tests = await standingTests(db).select('t.share_ppm').where('t.share_ppm', 'is not', null).execute();
  for (const { device_id, done_on, share_ppm } of tests) {
    const held = runs.get(device_id);
    if (held === undefined || done_on >= held.on)
      runs.set(device_id, { share: (share_ppm ?? 0) / 1_000_000, on: done_on });
  }
  return runs;
}
