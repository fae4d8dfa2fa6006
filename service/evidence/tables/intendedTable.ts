/** setpoints.csv: what is intended of each test point, and since when. */
import type { BookDb } from '../../../db/book.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';
import { ucumOf, ucumOfDifference } from '../units.ts';
import { inPieces, milli, roleOf, text } from './cells.ts';
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

/** What is intended of a test point, by the register's columns: the first is its value, the rest belongs to it. */
const ofSetpoint = ['dial', 'tolerance', 'throttling_range', 'calibration_pressure', 'action'] as const;
/** The column of the register that is intended of a test point, by its kind; a setpoint's is its dial. */
export const valueOfKind: Readonly<Record<string, string>> = {
  'regulator low': 'low_pressure',
  'regulator high': 'high_pressure',
  'main low': 'low_pressure',
  'main high': 'high_pressure',
  'spring start': 'spring_start',
  'spring end': 'spring_end',
  'transmitter zero': 'span_low',
  'transmitter span': 'span_high',
};
const everyProperty = [...new Set([...ofSetpoint, ...Object.values(valueOfKind)])];

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
  const changes = await db
    .selectFrom('setting_change')
    .select(['device_id', 'what', 'subject', 'from_value', 'to_value', 'at'])
    .where('what', 'in', everyProperty)
    .where('device_id', 'is not', null)
    .orderBy('id')
    .execute();
  const byDevice = new Map<number, typeof changes>();
  for (const change of changes)
    byDevice.set(Number(change.device_id), [...(byDevice.get(Number(change.device_id)) ?? []), change]);
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
              [valueOfKind[point.kind]]: {
                value: milli(
                  point.kind === 'transmitter zero' ? point.span_low_milli : point.span_high_milli,
                ),
                unit: ucumOf(point.temperature_unit ?? 'degF'),
              },
            }
          : {
              [valueOfKind[point.kind] ?? 'nominal']: {
                value: milli(point.nominal_milli),
                unit: ucumOf(point.unit),
              },
            };
    for (const [property, { value, unit }] of Object.entries(now)) {
      const own = (byDevice.get(point.deviceId) ?? []).filter(
        (one) => one.what === property && (point.role === '' || roleOf(one.subject) === point.role),
      );
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
      for (const change of own) {
        const until = change.at.slice(0, 10);
        rows.push({ ...base, value: text(change.from_value), since, until, known_by: known });
        since = until;
        known = 'a change in the chain';
      }
      rows.push({ ...base, value, since, until: '', known_by: known });
    }
    return rows;
  });
}
