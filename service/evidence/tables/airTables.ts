/** leaks.csv and air_station.csv. */
import { allLeaks } from '../../../db/airRecords.ts';
import type { BookDb } from '../../../db/book.ts';
import type { CsvRows } from '../packWriter.ts';
import type { Resolved } from '../scope.ts';
import { scfmOf } from '../../../shared/trade/air/flow.ts';
import { codeOf } from '../../records/readingColumns.ts';
import { ucumOf, ucumOfAir } from '../units.ts';
import { figure, isWithin, milli, once, text } from './cells.ts';

export const leakColumns = [
  'leak_id',
  'asset',
  'place',
  'found_on',
  'found_by',
  'diameter',
  'diameter_unit',
  'pressure',
  'pressure_unit',
  'pressure_ref',
  'coefficient',
  'flow_low_scfm',
  'flow_scfm',
  'flow_high_scfm',
  'method_version',
  'mended_on',
  'mended_by',
  'quality',
  'supersedes',
  'note',
];

/** leaks.csv: every entry of the log, corrected ones marked. */
export async function leakTable(db: BookDb, resolved: Resolved): Promise<CsvRows> {
  const scfm = (scimMilli: number): string => figure(scfmOf(scimMilli));
  return once(
    (await allLeaks(db))
      .filter((row) => (resolved.deviceIds?.has(row.device_id) ?? true) && isWithin(row.found_on, resolved))
      .toReversed()
      .map((row) => ({
        leak_id: text(row.id),
        asset: row.tag,
        place: row.place,
        found_on: row.found_on,
        found_by: row.initials,
        diameter: String(row.diameter_micro / 1_000_000),
        diameter_unit: row.diameter_unit === 'in' ? '[in_i]' : 'mm',
        pressure: milli(row.pressure_milli),
        pressure_unit: ucumOf(row.pressure_unit),
        pressure_ref: 'gauge',
        coefficient: row.coefficient_milli === null ? '0.65' : milli(row.coefficient_milli),
        flow_low_scfm: scfm(row.low_scim_milli),
        flow_scfm: scfm(row.typical_scim_milli),
        flow_high_scfm: scfm(row.high_scim_milli),
        method_version: row.method_version,
        mended_on: text(row.mended_on),
        mended_by: text(row.mendedBy),
        quality: row.replacedBy === null ? 'ok' : 'retracted',
        supersedes: text(row.replaces_id),
        note: row.note,
      })),
  );
}

export const stationColumns = [
  'test_id',
  'asset',
  'kind',
  'done_on',
  'person',
  'gauge',
  'property',
  'value',
  'unit',
  'flow_scfm',
  'run_share',
  'method_version',
  'quality',
  'supersedes',
  'note',
];

/** air_station.csv: tests of stations and measured bleeds, one row a reading; checks of the stations are in readings.csv. */
export async function stationTable(db: BookDb, resolved: Resolved): Promise<CsvRows> {
  const rows = await db
    .selectFrom('air_test as t')
    .innerJoin('air_test_reading as r', 'r.air_test_id', 't.id')
    .innerJoin('device as d', 'd.id', 't.device_id')
    .innerJoin('person as p', 'p.id', 't.person_id')
    .leftJoin('gauge as g', 'g.id', 't.pressure_gauge_id')
    .leftJoin('air_test as n', 'n.replaces_id', 't.id')
    .select([
      't.id',
      't.device_id',
      't.kind',
      't.done_on',
      't.flow_scim_milli',
      't.share_ppm',
      't.method_version',
    ])
    .select(['t.replaces_id', 't.note', 'd.tag', 'p.initials', 'g.tag as gauge', 'n.id as by'])
    .select(['r.quantity', 'r.value_milli', 'r.unit'])
    .orderBy('t.id')
    .orderBy('r.position')
    .execute();
  return once(
    rows
      .filter((row) => (resolved.deviceIds?.has(row.device_id) ?? true) && isWithin(row.done_on, resolved))
      .map((row) => ({
        test_id: text(row.id),
        asset: row.tag,
        kind: row.kind,
        done_on: row.done_on,
        person: row.initials,
        gauge: text(row.gauge),
        property: codeOf(row.quantity),
        value: milli(row.value_milli),
        unit: ucumOfAir(row.unit),
        flow_scfm: row.flow_scim_milli === null ? '' : figure(scfmOf(row.flow_scim_milli)),
        run_share: row.share_ppm === null ? '' : String(row.share_ppm / 1_000_000),
        method_version: row.method_version,
        quality: row.by === null ? 'ok' : 'retracted',
        supersedes: text(row.replaces_id),
        note: row.note,
      })),
  );
}
