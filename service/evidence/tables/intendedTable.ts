/** setpoints.csv: what is intended of each test point, and since when. */
import type { BookDb } from '../../../db/book.ts';
import { intendedChanges, propertyOf } from '../intended.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';
import { ucumOf, ucumOfDifference } from '../units.ts';
import { inPieces, milli, text } from './cells.ts';
import type { Cells } from './cells.ts';

export const intendedColumns = [
  'asset',
  'test_point',
  'role',
  'air_state',
  'property',
  'value',
  'unit',
  'since',
  'until',
  'known_by',
];

/** setpoints.csv: intended values with the dates since which they hold, from the changes that the chain holds. */
export async function intendedTable(db: BookDb, { pointIds }: Resolved): Promise<CsvRows> {
  const points = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('setpoint as s', 's.test_point_id', 'tp.id')
    .leftJoin('transmitter as t', 't.device_id', 'd.id')
    .select([
      'tp.id',
      'tp.kind',
      'tp.role',
      'tp.unit',
      'tp.air_state',
      'tp.nominal_milli',
      'tp.tolerance_milli',
    ])
    .select(['d.id as deviceId', 'd.tag', 'd.in_service_on', 'd.pressure_unit', 'd.temperature_unit'])
    .select(['s.dial_milli', 's.throttling_range_milli', 's.calibration_pressure_milli', 's.action'])
    .select(['t.span_low_milli', 't.span_high_milli'])
    .orderBy('d.tag')
    .orderBy('tp.id')
    .execute();
  const changesOf = await intendedChanges(db);
  return inPieces(points, (point): Cells[] => {
    if (pointIds !== null && !pointIds.has(point.id)) return [];
    const rows: Cells[] = [];
    const pressure = ucumOf(point.pressure_unit ?? 'psi');
    const difference = ucumOfDifference(point.unit);
    const now: Record<string, { value: string; unit: string }> =
      point.kind === 'setpoint'
        ? {
            dial: { value: milli(point.dial_milli), unit: ucumOf(point.unit) },
            tolerance: { value: milli(point.tolerance_milli), unit: difference },
            throttling_range: { value: milli(point.throttling_range_milli), unit: difference },
            calibration_pressure: { value: milli(point.calibration_pressure_milli), unit: pressure },
            action: { value: text(point.action), unit: '' },
          }
        : point.kind === 'transmitter zero' || point.kind === 'transmitter span'
          ? {
              [propertyOf(point.kind)]: {
                value: milli(
                  point.kind === 'transmitter zero' ? point.span_low_milli : point.span_high_milli,
                ),
                unit: ucumOf(point.temperature_unit ?? 'degF'),
              },
            }
          : {
              [propertyOf(point.kind)]: {
                value: milli(point.nominal_milli),
                unit: ucumOf(point.unit),
              },
            };
    for (const [property, { value, unit }] of Object.entries(now)) {
      const own = changesOf(point, property);
      // What was never said of a point has no line: its class's tolerance is in book.json.
      if (value === '' && own.length === 0) continue;
      const base = {
        asset: point.tag,
        test_point: point.kind,
        role: point.role,
        air_state: text(point.air_state),
        property,
        unit,
      };
      let since = text(point.in_service_on);
      let known = since === '' ? 'the register' : 'in service since';
      for (const { day, from } of own) {
        rows.push({ ...base, value: text(from), since, until: day, known_by: known });
        since = day;
        known = 'a change in the chain';
      }
      rows.push({ ...base, value, since, until: '', known_by: known });
    }
    return rows;
  });
}
