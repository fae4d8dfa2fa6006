/** The crew of the sample site, its shifts, days off and instruments: all invented. */
import type { BookDb } from '../../db/book.ts';
import { appendCertificate } from '../../db/gauges.ts';
import type { DeviceClass } from '../../shared/trade/words.ts';

const people: { name: string; initials: string; shifts: string[]; skills: DeviceClass[] }[] = [
  { name: 'Orla Venn', initials: 'OV', shifts: ['dawn', 'day'], skills: [] },
  // Not to line voltage, nor to the compressors.
  {
    name: 'Tam Birchall',
    initials: 'TB',
    shifts: ['day'],
    skills: ['regulator', 'main', 'controller', 'transmitter', 'actuator'],
  },
  { name: 'Ines Marlowe', initials: 'IM', shifts: ['dawn', 'day'], skills: [] },
];
const shifts = [
  {
    name: 'dawn',
    weekdays: '24',
    from_time: '04:00',
    to_time: '06:00',
    minutes: 110,
    overtime_minutes: 0,
    occupied: 0 as const,
  },
  {
    name: 'day',
    weekdays: '12345',
    from_time: '07:00',
    to_time: '15:30',
    minutes: 390,
    overtime_minutes: 30,
    occupied: 1 as const,
  },
];
const daysOff = [
  '2026-12-25',
  '2026-12-28',
  '2027-01-01',
  '2027-03-26',
  '2027-03-29',
  '2027-05-03',
  '2027-05-31',
  '2027-08-30',
  '2027-12-27',
  '2027-12-28',
];
const gauges = [
  {
    tag: 'PG-1',
    kind: 'pressure' as const,
    unit: 'psi' as const,
    range_low_milli: 0,
    range_high_milli: 30_000,
    accuracy_milli: 75,
    certificate_due_on: '2027-06-30',
  },
  {
    tag: 'PG-2',
    kind: 'pressure' as const,
    unit: 'psi' as const,
    range_low_milli: 0,
    range_high_milli: 30_000,
    accuracy_milli: 150,
    certificate_due_on: '2026-09-30',
  },
  {
    tag: 'TH-1',
    kind: 'temperature' as const,
    unit: 'degF' as const,
    range_low_milli: 32_000,
    range_high_milli: 212_000,
    accuracy_milli: 200,
    certificate_due_on: '2027-03-31',
  },
  {
    tag: 'TH-2',
    kind: 'temperature' as const,
    unit: 'degC' as const,
    range_low_milli: 0,
    range_high_milli: 100_000,
    accuracy_milli: 100,
    certificate_due_on: '2027-03-31',
  },
  {
    tag: 'HY-1',
    kind: 'humidity' as const,
    unit: 'percent' as const,
    range_low_milli: 0,
    range_high_milli: 100_000,
    accuracy_milli: 1_000,
    certificate_due_on: '2027-05-31',
  },
  {
    tag: 'PG-3',
    kind: 'pressure' as const,
    unit: 'psi' as const,
    range_low_milli: 0,
    range_high_milli: 30_000,
    accuracy_milli: 30,
    certificate_due_on: '2027-08-31',
  },
];

/** What the certificates of the drawer say: number, issued, valid until, doubt (k = 2). */
const certificates = [
  ['PG-1', 'WX-4417', '2026-06-30', '2027-06-30', 30],
  ['PG-2', 'WX-4102', '2025-09-30', '2026-09-30', 60],
  ['TH-1', 'WX-4390', '2026-03-31', '2027-03-31', 80],
  ['TH-2', 'WX-4391', '2026-03-31', '2027-03-31', 50],
] as const;

export type Crew = { personIds: number[]; pressureGaugeId: number; temperatureGaugeId: number };

/** Writes people, shifts, calendar and gauges; answers who and what the records name. */
export async function writePeople(db: BookDb): Promise<Crew> {
  const shiftIds = new Map<string, number>();
  for (const shift of shifts) {
    const { id } = await db
      .insertInto('shift_pattern')
      .values(shift)
      .returning('id')
      .executeTakeFirstOrThrow();
    shiftIds.set(shift.name, id);
  }
  const personIds: number[] = [];
  for (const person of people) {
    const { id } = await db
      .insertInto('person')
      .values({ name: person.name, initials: person.initials, skills: JSON.stringify(person.skills) })
      .returning('id')
      .executeTakeFirstOrThrow();
    personIds.push(id);
    await db
      .insertInto('person_shift')
      .values(
        person.shifts.map((name) => ({ person_id: id, shift_pattern_id: shiftIds.get(name) as number })),
      )
      .execute();
  }
  await db
    .insertInto('absence')
    .values({ person_id: personIds[0], from_on: '2027-04-12', to_on: '2027-04-23', reason: 'leave' })
    .execute();
  await db
    .insertInto('absence')
    .values({ person_id: personIds[1], from_on: '2027-08-02', to_on: '2027-08-13', reason: 'leave' })
    .execute();
  await db
    .insertInto('day_off')
    .values(daysOff.map((on_date) => ({ on_date, name: 'holiday' })))
    .execute();
  const gaugeIds: number[] = [];
  const byTag = new Map<string, number>();
  for (const gauge of gauges) {
    const { id } = await db
      .insertInto('gauge')
      .values({ ...gauge, accuracy_form: 'absolute' })
      .returning('id')
      .executeTakeFirstOrThrow();
    gaugeIds.push(id);
    byTag.set(gauge.tag, id);
  }
  for (const [tag, number, issued_on, due_on, doubt_milli] of certificates)
    await appendCertificate(
      db,
      { gauge_id: byTag.get(tag) as number, number, issued_on, due_on, doubt_milli, note: '' },
      `${issued_on}T09:00:00Z`,
    );
  return { personIds, pressureGaugeId: gaugeIds[0], temperatureGaugeId: gaugeIds[2] };
}
