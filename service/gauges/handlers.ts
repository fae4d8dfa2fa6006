/** The gauge drawer: instruments, certificates, and the records that a wrong instrument leaves in doubt. */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import { appendCertificate, appendInstrumentFault, certificatesOf, gaugeColumns } from '../../db/gauges.ts';
import { appendSettingChanges } from '../../db/records.ts';
import { fitnessOf, instrumentUnits, limitOf } from '../../shared/cards/instruments.ts';
import type { Instrument } from '../../shared/cards/instruments.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import type { Gauge } from '../../shared/contract/gauges.ts';
import type { ParsedInputOf } from '../../shared/contract/index.ts';
import { differenceLabel, formatMilli, toMilli, unitLabel } from '../../shared/units/units.ts';
import type { GroupHandlers } from '../context.ts';
import { openFollowUpOf } from '../followUps/openFollowUp.ts';
import { counted } from '../register/loadFiles.ts';
import { requireVersion } from '../register/requireVersion.ts';
import { traceOf } from './trace.ts';

const drawerColumns = [...gaugeColumns, 'retired_on as retiredOn', 'version'] as const;

/** One gauge by its id. Throws `not_found`. */
export async function gaugeRow(db: BookDb, id: number) {
  const row = await db.selectFrom('gauge').select(drawerColumns).where('id', '=', id).executeTakeFirst();
  if (!row) throw new AppError('not_found', 'There is no such instrument.');
  return row;
}

async function recordCounts(db: BookDb): Promise<Map<number, number>> {
  const counts = new Map<number, number>();
  for (const column of ['pressure_gauge_id', 'temperature_gauge_id'] as const) {
    const rows = await db
      .selectFrom('calibration')
      .select([column, (eb) => eb.fn.countAll<number>().as('n')])
      .where(column, 'is not', null)
      .groupBy(column)
      .execute();
    for (const row of rows) counts.set(row[column] ?? 0, (counts.get(row[column] ?? 0) ?? 0) + row.n);
  }
  return counts;
}

async function allGauges(db: BookDb, today: string): Promise<Gauge[]> {
  const rows = await db
    .selectFrom('gauge')
    .select(drawerColumns)
    .orderBy('retired_on')
    .orderBy('tag')
    .execute();
  const certificates = await certificatesOf(
    db,
    rows.map((row) => row.id),
  );
  const faults = await db
    .selectFrom('instrument_fault')
    .select(['id', 'gauge_id', 'found_on', 'since_on', 'bias_milli', 'note'])
    .orderBy('id', 'desc')
    .execute();
  const counts = await recordCounts(db);
  const defaults = await db
    .selectFrom('class_default')
    .select(['kind', 'unit', 'tolerance_milli'])
    .orderBy('id')
    .execute();
  return rows.map((row) => {
    const own = certificates.filter((one) => one.gauge_id === row.id);
    const due = own[0]?.due_on ?? row.certificateDueOn;
    const instrument: Instrument = { ...row, certificate: null, certificateDueOn: due };
    const limit = limitOf(instrument, row.unit);
    return {
      ...row,
      limitMilli: limit === null ? null : toMilli(limit),
      certificateDueOn: due,
      isLapsed: due === null || due < today,
      certificates: own.map((one) => ({
        id: one.id,
        number: one.number,
        issuedOn: one.issued_on,
        dueOn: one.due_on,
        doubtMilli: one.doubt_milli,
        note: one.note,
      })),
      faults: faults
        .filter((one) => one.gauge_id === row.id)
        .map((one) => ({
          id: one.id,
          foundOn: one.found_on,
          sinceOn: one.since_on,
          biasMilli: one.bias_milli,
          note: one.note,
        })),
      records: counts.get(row.id) ?? 0,
      fitness: defaults
        .filter(
          (one) =>
            instrumentUnits[row.kind].includes(one.unit) && one.unit === row.unit && one.tolerance_milli > 0,
        )
        .flatMap((one) => {
          const { ratio, adequacy } = fitnessOf(instrument, one.tolerance_milli / 1000, one.unit, today);
          return ratio === null || adequacy === 'not known'
            ? []
            : [{ kind: one.kind, toleranceMilli: one.tolerance_milli, unit: one.unit, ratio, adequacy }];
        }),
    };
  });
}

const watched = [
  ['kind', 'kind'],
  ['unit', 'unit'],
  ['range_low_milli', 'range from'],
  ['range_high_milli', 'range to'],
  ['accuracy_form', 'accuracy form'],
  ['accuracy_milli', 'accuracy'],
  ['accuracy_grade', 'grade'],
  ['step_milli', 'scale step'],
  ['certificate_due_on', 'certificate due'],
  ['retired_on', 'retired'],
] as const;

function rowOf(input: ParsedInputOf<'gauges.save'>) {
  return {
    tag: input.tag,
    kind: input.kind,
    unit: input.unit,
    range_low_milli: input.rangeLowMilli,
    range_high_milli: input.rangeHighMilli,
    accuracy_form: input.accuracyForm,
    accuracy_milli: input.accuracyForm === 'grade' ? null : input.accuracyMilli,
    accuracy_grade: input.accuracyForm === 'grade' ? input.accuracyGrade : null,
    step_milli: input.stepMilli,
    certificate_due_on: input.certificateDueOn,
    retired_on: input.retiredOn,
  };
}

/** Parameters of one statement. */
const CHUNK = 500;

/** Records whose device is retired, or that an open follow-up asks to take again already. */
async function alreadyTold(db: BookDb, calibrationIds: readonly number[]): Promise<Set<number>> {
  const told = new Set<number>();
  for (let start = 0; start < calibrationIds.length; start += CHUNK) {
    const rows = await db
      .selectFrom('calibration as c')
      .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
      .innerJoin('device as d', 'd.id', 'tp.device_id')
      .leftJoin('follow_up as f', (join) =>
        join
          .onRef('f.calibration_id', '=', 'c.id')
          .on('f.closed_at', 'is', null)
          .on('f.cause', 'like', 'instrument wrong:%'),
      )
      .select('c.id')
      .where('c.id', 'in', calibrationIds.slice(start, start + CHUNK))
      .where((eb) => eb.or([eb('d.retired_on', 'is not', null), eb('f.id', 'is not', null)]))
      .execute();
    for (const { id } of rows) told.add(id);
  }
  return told;
}

export const gaugeHandlers: GroupHandlers<'gauges'> = {
  list: async ({ db, clock }) => ({ rows: await allGauges(db, clock.today()) }),

  save: async ({ db, clock, personId }, input) => {
    const row = rowOf(input);
    const same = await db
      .selectFrom('gauge')
      .select('id')
      .where('tag', '=', row.tag)
      .where('id', '<>', input.id ?? 0)
      .executeTakeFirst();
    if (same) refuseField('tag', row.tag, 'another instrument has this tag');
    if (input.id === null)
      return db.insertInto('gauge').values(row).returning('id').executeTakeFirstOrThrow();
    const held = await db
      .selectFrom('gauge')
      .select(['tag', 'version', ...watched.map(([column]) => column)])
      .where('id', '=', input.id)
      .executeTakeFirst();
    requireVersion(input.version, held ? { version: held.version, values: held } : null);
    if (!held) return { id: input.id };
    const certificates = await certificatesOf(db, [input.id]);
    const records = (await recordCounts(db)).get(input.id) ?? 0;
    if (records + certificates.length > 0)
      for (const column of ['kind', 'unit'] as const)
        if (held[column] !== row[column])
          refuseField(
            column,
            row[column],
            `${held.tag} has ${counted(records, 'record')} and ${counted(certificates.length, 'certificate')} in ${unitLabel(held.unit)}: take it out of use, and note the other as a new instrument`,
          );
    if (certificates.length > 0) row.certificate_due_on = certificates[0].due_on;
    await db
      .updateTable('gauge')
      .set({ ...row, version: sql<number>`version + 1` })
      .where('id', '=', input.id)
      .execute();
    await appendSettingChanges(
      db,
      { before: held, after: row, named: watched },
      { subject: `instrument ${row.tag}`, at: clock.now(), person_id: personId, why: '' },
    );
    return { id: input.id };
  },

  addCertificate: async ({ db, clock }, { gaugeId, ...one }) => {
    const gauge = await gaugeRow(db, gaugeId);
    if (one.issuedOn > clock.today()) refuseField('issuedOn', one.issuedOn, 'lies in the future');
    const held = await certificatesOf(db, [gaugeId]);
    if (held.some(({ number }) => number === one.number))
      refuseField('number', one.number, `${gauge.tag} has a certificate of this number`);
    const id = await appendCertificate(
      db,
      {
        gauge_id: gaugeId,
        number: one.number,
        issued_on: one.issuedOn,
        due_on: one.dueOn,
        doubt_milli: one.doubtMilli,
        note: one.note,
      },
      clock.now(),
    );
    return { id };
  },

  trace: async ({ db }, input) => {
    const gauge = await gaugeRow(db, input.gaugeId);
    return traceOf(db, gauge, input);
  },

  reportFault: async ({ db, clock }, input) => {
    const gauge = await gaugeRow(db, input.gaugeId);
    const now = clock.now();
    if (input.sinceOn > input.foundOn || input.foundOn > clock.today())
      refuseField(
        'foundOn',
        input.foundOn,
        'from the first day to the day it was found, and not in the future',
      );
    const { rows } = await traceOf(db, gauge, input);
    const named = new Set(input.calibrationIds);
    const chosen = rows.filter(({ calibrationId }) => named.delete(calibrationId));
    if (named.size > 0)
      refuseField(
        'calibrationIds',
        [...named].slice(0, 5).join(', '),
        `not taken with ${gauge.tag} in that time`,
      );
    const id = await appendInstrumentFault(db, {
      gauge_id: gauge.id,
      found_on: input.foundOn,
      since_on: input.sinceOn,
      bias_milli: input.biasMilli,
      unit: gauge.unit,
      note: input.note,
      person_id: input.personId,
      at: now,
    });
    const sign = input.biasMilli > 0 ? '+' : '−';
    const words = `${gauge.tag} was ${sign}${formatMilli(Math.abs(input.biasMilli))} ${differenceLabel(gauge.unit)} off`;
    const told = await alreadyTold(
      db,
      chosen.map(({ calibrationId }) => calibrationId),
    );
    const due = chosen.filter(({ calibrationId }) => !told.has(calibrationId));
    for (const record of due)
      await openFollowUpOf(db, {
        deviceId: record.deviceId,
        calibrationId: record.calibrationId,
        cause: `instrument wrong: ${words}; ${[record.role, record.kind].filter((word) => word).join(' ')} of ${record.doneOn} reads otherwise: take it again`,
        symptom: null,
        at: now,
        personId: input.personId,
      });
    return { id, followUps: due.length };
  },
};
