/** The gauge drawer: instruments, their certificates, and what was found wrong with them. */
import type { Insertable } from 'kysely';
import type { Instrument } from '../shared/cards/instruments.ts';
import type { BookDb } from './book.ts';
import { appendToChain } from './ledger.ts';
import type { GaugeCertificateTable, InstrumentFaultTable } from './schema.ts';

/** An instrument as it stands in the drawer. */
export const gaugeColumns = [
  'id',
  'tag',
  'kind',
  'unit',
  'range_low_milli as rangeLowMilli',
  'range_high_milli as rangeHighMilli',
  'accuracy_form as accuracyForm',
  'accuracy_milli as accuracyMilli',
  'accuracy_grade as accuracyGrade',
  'step_milli as stepMilli',
  'certificate_due_on as certificateDueOn',
] as const;

/** Certificates of some instruments, newest first. */
export async function certificatesOf(db: BookDb, gaugeIds: readonly number[]) {
  if (gaugeIds.length === 0) return [];
  return db
    .selectFrom('gauge_certificate')
    .select(['id', 'gauge_id', 'number', 'issued_on', 'due_on', 'doubt_milli', 'note'])
    .where('gauge_id', 'in', [...gaugeIds])
    .orderBy('gauge_id')
    .orderBy('issued_on', 'desc')
    .orderBy('id', 'desc')
    .execute();
}

/** Instruments in use on a day, with the certificate that holds on it: the newest one issued by then. */
export async function instrumentsOn(db: BookDb, on: string): Promise<Instrument[]> {
  const rows = await db
    .selectFrom('gauge')
    .select(gaugeColumns)
    .where((eb) => eb.or([eb('retired_on', 'is', null), eb('retired_on', '>=', on)]))
    .orderBy('tag')
    .execute();
  const certificates = await certificatesOf(
    db,
    rows.map((row) => row.id),
  );
  return rows.map((row) => {
    const own = certificates.filter((one) => one.gauge_id === row.id);
    const held = own.find((one) => one.issued_on <= on) ?? null;
    return {
      ...row,
      certificate: held && {
        number: held.number,
        issuedOn: held.issued_on,
        dueOn: held.due_on,
        doubtMilli: held.doubt_milli,
      },
      // A date noted by hand counts for an instrument whose certificates are not in the book.
      certificateDueOn: own.length === 0 ? row.certificateDueOn : (held?.due_on ?? null),
    };
  });
}

/** The chain entry of a stored certificate; null when there is no such row. */
export async function certificateContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db
    .selectFrom('gauge_certificate')
    .select(['id', 'gauge_id', 'number', 'issued_on', 'due_on', 'doubt_milli', 'note'])
    .where('id', '=', id)
    .executeTakeFirst();
  return row ?? null;
}

/** Appends one certificate with its chain entry, and notes the date of the newest with its instrument. */
export async function appendCertificate(
  db: BookDb,
  certificate: Omit<Insertable<GaugeCertificateTable>, 'id'>,
  at: string,
): Promise<number> {
  const { id } = await db
    .insertInto('gauge_certificate')
    .values(certificate)
    .returning('id')
    .executeTakeFirstOrThrow();
  const [newest] = await certificatesOf(db, [certificate.gauge_id]);
  await db
    .updateTable('gauge')
    .set({ certificate_due_on: newest.due_on })
    .where('id', '=', certificate.gauge_id)
    .execute();
  await appendToChain(db, {
    kind: 'certificate',
    recordId: id,
    at,
    content: await certificateContent(db, id),
  });
  return id;
}

/** The chain entry of a stored instrument fault; null when there is no such row. */
export async function instrumentFaultContent(db: BookDb, id: number): Promise<unknown> {
  const row = await db
    .selectFrom('instrument_fault')
    .select(['id', 'gauge_id', 'found_on', 'since_on', 'bias_milli', 'unit', 'note', 'person_id', 'at'])
    .where('id', '=', id)
    .executeTakeFirst();
  return row ?? null;
}

/** Appends what was found wrong with an instrument, with its chain entry. */
export async function appendInstrumentFault(
  db: BookDb,
  fault: Omit<Insertable<InstrumentFaultTable>, 'id'>,
): Promise<number> {
  const { id } = await db
    .insertInto('instrument_fault')
    .values(fault)
    .returning('id')
    .executeTakeFirstOrThrow();
  await appendToChain(db, {
    kind: 'instrument fault',
    recordId: id,
    at: fault.at,
    content: await instrumentFaultContent(db, id),
  });
  return id;
}

/** Tags of all instruments, by id. */
export async function gaugeTags(db: BookDb): Promise<Map<number, string>> {
  const rows = await db.selectFrom('gauge').select(['id', 'tag']).execute();
  return new Map(rows.map((row) => [row.id, row.tag]));
}
