/** readings.csv and calibrations.csv: one row a reading, one row a record. The columns are documented in docs/evidence.md. */
import { createHash } from 'node:crypto';
import type { Unit } from '../../shared/units/units.ts';
import type { PackRecord, ReadingOf } from './records.ts';
import { codeOf } from '../records/readingColumns.ts';
import { boundText, milli, text } from './tables/cells.ts';
import { ucumOf, ucumOfDifference } from './units.ts';

/** The property of a row that is no reading: its device was replaced on that day. */
export const REPLACEMENT = 'replacement';

/** What a record says of itself, repeated on every row of its readings: the row stands alone. */
const recordColumns = [
  'record_id',
  'sequence',
  'site',
  'building',
  'level',
  'room',
  'main',
  'asset',
  'test_point',
  'role',
  'observed_on',
  'observed_at',
  'tz',
  'visit',
  'recorded_at',
  'person',
  'outcome',
  'error_unit',
  'error_found',
  'found_relation',
  'verdict_found',
  'error_left',
  'left_relation',
  'verdict_left',
  'tolerance',
  'doubt_k2',
  'decision_rule',
  'method',
  'method_version',
  'supply_right',
  'pressure_gauge',
  'temperature_gauge',
  'intended_value',
  'intended_since',
  'value_unit',
  'pressure_unit',
  'action',
  'throttling_range',
  'output_low',
  'output_high',
  'calibration_pressure',
  'repaired',
  'replaced',
  'quality',
  'quality_note',
  'supersedes',
  'superseded_by',
] as const;

export const readingColumns = [
  'reading_id',
  'phase',
  'property',
  'quantity',
  'value',
  'text_value',
  'unit',
  'pressure_ref',
  'air_state',
  'error',
  'pass',
  'instrument',
  'instrument_cal_due',
  ...recordColumns,
] as const;

export const calibrationColumns = [
  ...recordColumns,
  'entry_hash',
  'recorded_tag',
  'recorded_person',
  'started_at',
  'source',
  'conformance_found_ppm',
  'conformance_left_ppm',
  'doubt_left_k2',
  'readings',
  'correction_reason',
  'note',
] as const;

/** Retracted: a later record corrects it. Suspect: the supply was found wrong. Nothing is left out. */
function qualityOf(record: PackRecord): string {
  return record.supersededBy !== null ? 'retracted' : record.supply_right === 0 ? 'suspect' : 'ok';
}

/** Why a record is not simply so. */
function qualityNoteOf(record: PackRecord): string {
  if (record.supersededBy !== null) return text(record.supersededWhy);
  return record.supply_right === 0 ? 'supply not right' : '';
}

/** What the rows say of the site and its instruments. */
export type RecordContext = {
  site: string;
  timeZone: string;
  /** Due date of an instrument's certificate as it stood on a day; null without one. */
  certificateDue: (gauge: string, on: string) => string | null;
  /** The day since which what was intended of a test point on a day was intended; null where that is not known. */
  intendedSince: (record: { deviceId: number; kind: string; role: string; on: string }) => string | null;
};

function cellsOf(
  record: PackRecord,
  { site, timeZone, intendedSince }: RecordContext,
): Record<(typeof recordColumns)[number], string> {
  const { basis } = record;
  const unit = record.unit as Unit;
  return {
    record_id: text(record.id),
    sequence: text(record.seq),
    site,
    building: text(record.building),
    level: text(record.level),
    room: text(record.room),
    main: text(record.main),
    asset: record.tag,
    test_point: record.kind,
    role: record.role,
    observed_on: record.done_on,
    // Known to the minute only where it was written down on the spot.
    observed_at: text(record.started_at),
    tz: timeZone,
    visit: text(record.card_id),
    recorded_at: record.ended_at,
    person: record.initials,
    outcome: record.outcome,
    error_unit: ucumOfDifference(unit),
    error_found: milli(record.error_found_milli),
    found_relation: boundText(record.found_relation),
    verdict_found: text(record.verdict_found),
    error_left: milli(record.error_left_milli),
    left_relation: boundText(record.left_relation),
    verdict_left: text(record.verdict_left),
    tolerance: milli(basis.toleranceMilli),
    doubt_k2: milli(record.doubt_milli),
    decision_rule: record.decision_rule,
    method: text(record.method),
    method_version: record.method_version,
    supply_right: record.supply_right === 1 ? 'yes' : 'no',
    pressure_gauge: text(record.pressureGauge),
    temperature_gauge: text(record.temperatureGauge),
    intended_value: milli(basis.nominalMilli),
    intended_since: basis.nominalMilli === null ? '' : text(intendedSince({ ...record, on: record.done_on })),
    value_unit: ucumOf(unit),
    pressure_unit: ucumOf((basis.pressureUnit ?? record.pressure_unit ?? 'psi') as Unit),
    action: text(basis.action),
    throttling_range: milli(basis.throttlingRangeMilli),
    output_low: milli(basis.outputLowMilli),
    output_high: milli(basis.outputHighMilli),
    calibration_pressure: milli(basis.calibrationPressureMilli),
    repaired: basis.isRepaired ? 'yes' : '',
    replaced: record.isReplaced ? 'yes' : '',
    quality: qualityOf(record),
    quality_note: qualityNoteOf(record),
    supersedes: text(record.supersedes),
    superseded_by: text(record.supersededBy),
  };
}

/** A name of a reading that never changes and is never used again: of its record's entry in the chain and its place in it. */
export function readingId(entryHash: string, position: number): string {
  const digest = createHash('sha256').update(`${entryHash} ${position}`).digest();
  // RFC 9562, version 8: bits of our own making.
  digest[6] = (digest[6] & 0x0f) | 0x80;
  digest[8] = (digest[8] & 0x3f) | 0x80;
  const hex = digest.toString('hex');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20, 32)].join(
    '-',
  );
}

const phases: Record<string, string> = {
  found: 'as_found',
  left: 'as_left',
  check: 'check',
  restored: 'restored',
};

const inside: Readonly<Record<string, string>> = {
  inside: 'true',
  'inside, in doubt': 'true',
  'outside, in doubt': 'false',
  outside: 'false',
};

function readingCells(
  reading: ReadingOf,
  record: PackRecord,
  { certificateDue }: RecordContext,
): Record<string, string> {
  const isPressure = reading.unit === 'psi' || reading.unit === 'kPa';
  const isTemperature = reading.unit === 'degF' || reading.unit === 'degC' || reading.unit === 'percent';
  const instrument = isPressure ? record.pressureGauge : isTemperature ? record.temperatureGauge : null;
  const [error, verdict] =
    reading.phase === 'found'
      ? [record.error_found_milli, record.verdict_found]
      : reading.phase === 'left'
        ? [record.error_left_milli, record.verdict_left]
        : [null, null];
  return {
    error: milli(error),
    pass: verdict === null ? '' : (inside[verdict] ?? ''),
    instrument: text(instrument),
    instrument_cal_due: instrument === null ? '' : text(certificateDue(instrument, record.done_on)),
    quantity: reading.quantity,
    reading_id: readingId(record.hash, reading.position),
    phase: phases[reading.phase] ?? reading.phase,
    property: codeOf(reading.quantity),
    value: milli(reading.value_milli),
    text_value: text(reading.value_text),
    unit: reading.value_milli === null ? '' : ucumOf(reading.unit),
    pressure_ref: isPressure ? 'gauge' : '',
    air_state: text(reading.air_state),
  };
}

/** One row a reading; a record without readings has one row, with no property. */
export function readingRows(
  records: readonly PackRecord[],
  context: RecordContext,
): Record<string, string>[] {
  return records.flatMap((record) => {
    const own = cellsOf(record, context);
    return record.readings.length === 0
      ? [own]
      : record.readings.map((reading) => ({ ...readingCells(reading, record, context), ...own }));
  });
}

/** At the end of the readings: one row a replacement of a device, which belongs to no record. */
export function replacementRows(
  replacements: readonly { tag: string; on_date: string; reason: string }[],
  { site, timeZone }: RecordContext,
): Record<string, string>[] {
  return replacements.map(({ tag, on_date, reason }) => ({
    property: REPLACEMENT,
    text_value: reason,
    asset: tag,
    observed_on: on_date,
    quality: 'ok',
    site,
    tz: timeZone,
  }));
}

/** One row a record. */
export function calibrationRows(
  records: readonly PackRecord[],
  context: RecordContext,
): Record<string, string>[] {
  return records.map((record) => ({
    ...cellsOf(record, context),
    entry_hash: record.hash,
    recorded_tag: record.tagOfDay,
    recorded_person: record.personOfDay,
    started_at: text(record.started_at),
    source: record.source,
    conformance_found_ppm: text(record.conformance_found_ppm),
    conformance_left_ppm: text(record.conformance_left_ppm),
    doubt_left_k2: milli(record.doubt_left_milli),
    readings: text(record.readings.length),
    correction_reason: text(record.correctionReason),
    note: record.note,
  }));
}
