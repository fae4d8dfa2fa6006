/** Active test points with what was read of them last: pressures beside their nominal figure, and how good their gauge was. */
import { sql } from 'kysely';
import { limitOf } from '../shared/cards/instruments.ts';
import type { Figure, SetpointFacts } from '../shared/register/findings/network.ts';
import { convertPressure, convertScaleDifference, fromMilli } from '../shared/units/units.ts';
import type { PressureUnit, ScaleUnit } from '../shared/units/units.ts';
import type { BookDb } from './book.ts';

/** A stored pressure in psi. */
export function psi(milli: number, unit: string | null): number {
  return convertPressure(fromMilli(milli), (unit ?? 'psi') as PressureUnit, 'psi');
}

/** The same of one that may be missing. */
export function psiOrNull(milli: number | null, unit: string | null): number | null {
  return milli === null ? null : psi(milli, unit);
}

/**
 * What a pressure was held against on the day of its newest record, as the record keeps it, of a card or of a file: a later
 * edit of the register does not move what was read.
 */
const nominalOfDay = sql<
  number | null
>`case when tp.unit in ('psi', 'kPa') and c.id is not null then coalesce(
  (select json_extract(p.value, '$.nominalMilli') from json_each(c.snapshot_json, '$.facts.points') as p
    where json_extract(p.value, '$.testPointId') = tp.id),
  json_extract(c.snapshot_json, '$.nominalMilli')) end`;

export type PointRow = Awaited<ReturnType<typeof pointRows>>[number];

/** Active test points with the newest record that has an exact figure. */
export async function pointRows(db: BookDb, ids: readonly number[] | null) {
  return db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .leftJoin('setpoint as s', 's.test_point_id', 'tp.id')
    .leftJoin('calibration as c', (join) =>
      join.on(
        'c.id',
        '=',
        sql<number>`(select n.id from calibration n where n.test_point_id = tp.id
          and (n.left_relation = '=' or n.found_relation = '=')
          and not exists (select 1 from correction x where x.replaced_id = n.id)
          order by n.done_on desc, n.id desc limit 1)`,
      ),
    )
    .select([
      'tp.id',
      'tp.device_id as deviceId',
      'tp.kind',
      'tp.role',
      'tp.unit',
      'tp.nominal_milli as nominal',
      'tp.tolerance_milli as ownTolerance',
      'tp.interval_days as ownInterval',
      'tp.last_done_on as lastDoneOn',
      'd.interval_days as deviceInterval',
      'd.pressure_unit as pressureUnit',
      'cd.tolerance_milli as classTolerance',
      'cd.interval_days as classInterval',
      'c.done_on as readOn',
      nominalOfDay.as('nominalOfDay'),
      'c.error_found_milli as found',
      'c.found_relation as foundRelation',
      'c.error_left_milli as left',
      'c.left_relation as leftRelation',
      'c.pressure_gauge_id as pressureGauge',
      'c.temperature_gauge_id as temperatureGauge',
      's.action',
      's.throttling_range_milli as throttlingRange',
      's.output_low_milli as outputLow',
      's.output_high_milli as outputHigh',
      's.calibration_basis as basis',
      's.calibration_pressure_milli as stated',
    ])
    .where('tp.active', '=', 1)
    .where('d.retired_on', 'is', null)
    .where((eb) => (ids === null ? eb.lit(true) : eb('tp.device_id', 'in', [...ids])))
    .orderBy('tp.id')
    .execute();
}

type GaugeLimit = { limit: number; unit: string };

/** Error limits of the instruments, by id. */
export async function gaugeLimits(db: BookDb): Promise<Map<number, GaugeLimit>> {
  const rows = await db
    .selectFrom('gauge')
    .select([
      'id',
      'unit',
      'range_low_milli as rangeLowMilli',
      'range_high_milli as rangeHighMilli',
      'accuracy_form as accuracyForm',
      'accuracy_milli as accuracyMilli',
      'accuracy_grade as accuracyGrade',
    ])
    .execute();
  return new Map(
    rows.flatMap((row) => {
      const limit = limitOf(row, row.unit);
      return limit === null ? [] : [[row.id, { limit, unit: row.unit }] as const];
    }),
  );
}

/** Its own tolerance, else its class's. */
export function toleranceMilliOf(row: PointRow): number | null {
  return row.ownTolerance ?? row.classTolerance;
}

/** Tolerance over what the instruments of the newest record may err by; null where that is not known. */
export function ratioOf(row: PointRow, limits: ReadonlyMap<number, GaugeLimit>): number | null {
  const tolerance = toleranceMilliOf(row);
  if (tolerance === null || tolerance === 0 || row.readOn === null) return null;
  const ratios: number[] = [];
  const gauge = row.pressureGauge === null ? undefined : limits.get(row.pressureGauge);
  const thermometer = row.temperatureGauge === null ? undefined : limits.get(row.temperatureGauge);
  const own = fromMilli(tolerance);
  const isPressure = row.unit === 'psi' || row.unit === 'kPa';
  if (gauge) {
    const limit = convertPressure(gauge.limit, gauge.unit as PressureUnit, 'psi');
    if (isPressure) ratios.push(convertPressure(own, row.unit as PressureUnit, 'psi') / limit);
    else {
      const gain = gainOf(row);
      if (gain !== null) ratios.push(own / (limit / gain));
    }
  }
  if (
    thermometer &&
    !isPressure &&
    row.kind === 'setpoint' &&
    (row.unit === 'percent') === (thermometer.unit === 'percent')
  )
    ratios.push(
      own / convertScaleDifference(thermometer.limit, thermometer.unit as ScaleUnit, row.unit as ScaleUnit),
    );
  const known = ratios.filter((one) => Number.isFinite(one));
  return known.length === 0 ? null : Math.min(...known);
}

/** psi a unit of the scale; null on what is no setpoint. */
function gainOf(row: PointRow): number | null {
  const { outputLow, outputHigh, throttlingRange, pressureUnit } = row;
  if (outputLow === null || outputHigh === null || throttlingRange === null || throttlingRange <= 0)
    return null;
  return (psi(outputHigh, pressureUnit) - psi(outputLow, pressureUnit)) / fromMilli(throttlingRange);
}

/** The error of the newest record in thousandths, as left, else as found; null where it is none, or only a bound. */
export function newestError(row: PointRow): number | null {
  if (row.leftRelation === '=' && row.left !== null) return row.left;
  return row.foundRelation === '=' ? row.found : null;
}

/** The newest figure of a pressure point beside its nominal one. */
export function figureOf(nominal: number, row: PointRow | undefined): Figure {
  if (!row) return { nominal, measured: null, tolerance: 0 };
  const tolerance = psi(toleranceMilliOf(row) ?? 0, row.unit);
  const error = newestError(row);
  return error === null || row.readOn === null || row.nominal === null
    ? { nominal, measured: null, tolerance }
    : {
        nominal,
        measured: { value: psi((row.nominalOfDay ?? row.nominal) + error, row.unit), on: row.readOn },
        tolerance,
      };
}

/** What a setpoint is set to; null on any other point. */
export function setpointOf(row: PointRow): SetpointFacts | null {
  const { action, outputLow, outputHigh, basis, stated, pressureUnit } = row;
  const gain = gainOf(row);
  if (action === null || outputLow === null || outputHigh === null || basis === null || gain === null)
    return null;
  return {
    role: row.role,
    action,
    gain,
    unit: row.unit as SetpointFacts['unit'],
    outputLow: psi(outputLow, pressureUnit),
    outputHigh: psi(outputHigh, pressureUnit),
    basis,
    stated: psiOrNull(stated, pressureUnit),
  };
}
