/** Since when a value was intended of a test point: by the changes of settings that the chain holds, else since it went into service. */
import type { BookDb } from '../../db/book.ts';
import type { RecordContext } from './recordTables.ts';
import { roleOf } from './tables/cells.ts';

/** What is intended of a setpoint, by the register's columns: the first is its value, the rest belongs to it. */
const ofSetpoint = ['dial', 'tolerance', 'throttling_range', 'calibration_pressure', 'action'] as const;
/** The column of the register that is intended of a test point, by its kind; a setpoint's is its dial. */
const valueOfKind: Readonly<Record<string, string>> = {
  setpoint: ofSetpoint[0],
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

/** The property whose value is intended of a test point of a kind. */
export function propertyOf(kind: string): string {
  return valueOfKind[kind] ?? 'nominal';
}

export type IntendedChange = { day: string; from: string | null };
type Point = { deviceId: number; role: string };

/** Changes of a property of a test point, oldest first. */
export async function intendedChanges(
  db: BookDb,
): Promise<(point: Point, property: string) => readonly IntendedChange[]> {
  const keyOf = ({ deviceId, role }: Point, property: string): string => `${deviceId} ${property} ${role}`;
  const rows = await db
    .selectFrom('setting_change')
    .select(['device_id', 'what', 'subject', 'from_value', 'at'])
    .where('what', 'in', everyProperty)
    .where('device_id', 'is not', null)
    .orderBy('id')
    .execute();
  const changes = new Map<string, IntendedChange[]>();
  for (const { device_id: id, what, subject, from_value: from, at } of rows) {
    const key = keyOf({ deviceId: Number(id), role: roleOf(subject) }, what);
    const change = { day: at.slice(0, 10), from };
    const own = changes.get(key);
    if (own) own.push(change);
    else changes.set(key, [change]);
  }
  return (point, property) => changes.get(keyOf(point, property)) ?? [];
}

/** Since when a test point's value of a day had been intended; null where nothing says so. */
export async function intendedSinceBy(db: BookDb): Promise<RecordContext['intendedSince']> {
  const changesOf = await intendedChanges(db);
  const devices = await db
    .selectFrom('device')
    .select(['id', 'in_service_on'])
    .where('in_service_on', 'is not', null)
    .execute();
  const service = new Map(devices.map((row) => [row.id, row.in_service_on]));
  return ({ kind, on, ...point }) =>
    changesOf(point, propertyOf(kind)).findLast(({ day }) => day <= on)?.day ??
    service.get(point.deviceId) ??
    null;
}
