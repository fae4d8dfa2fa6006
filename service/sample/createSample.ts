/** Makes a book with the sample site. The same program makes the same book, row for row. */
import type { Insertable } from 'kysely';
import { createBook, writeBook } from '../../db/book.ts';
import type { BookDb } from '../../db/book.ts';
import { refreshDue } from '../../db/due.ts';
import { appendCalibration, appendReplacement, openFollowUp } from '../../db/records.ts';
import type { NewReading } from '../../db/records.ts';
import { registerIndex } from '../../db/registerIndex.ts';
import type { CalibrationTable } from '../../db/schema.ts';
import { writeSetting } from '../../db/settings.ts';
import { addDays } from '../../shared/dates/plainDate.ts';
import { createRandom } from '../../shared/planning/random.ts';
import type { Random } from '../../shared/planning/random.ts';
import { plainStyle, readRow } from '../../shared/register/row.ts';
import type { RowValues } from '../../shared/register/row.ts';
import { errorOf, foundVerdict, leftVerdict } from '../../shared/trade/setpointCard.ts';
import type { FoundReadings } from '../../shared/trade/setpointCard.ts';
import { METHOD_VERSION, completingOutcomes } from '../../shared/trade/words.ts';
import type { Outcome } from '../../shared/trade/words.ts';
import { fromMilli, toMilli } from '../../shared/units/units.ts';
import { setpointFactsOf, snapshotOf, toSetpointFacts } from '../bench/setpointFacts.ts';
import type { StoredSetpoint } from '../bench/setpointFacts.ts';
import { applyRows } from '../register/applyRows.ts';
import type { RowChange } from '../register/applyRows.ts';
import { checkRows } from '../register/checkRows.ts';
import { drawBehaviour, simulateReading, visitDates, yearlyDrift } from './history.ts';
import type { SimulatedReading } from './history.ts';
import { sampleRegister } from './register.ts';

const SEED = 1964;
/** What the sample site's records are counted from. */
const MADE_AT = '2026-11-20T08:00:00Z';

const people = [
  { name: 'Orla Venn', initials: 'OV', shifts: ['dawn', 'day'] },
  { name: 'Tam Birchall', initials: 'TB', shifts: ['day'] },
  { name: 'Ines Marlowe', initials: 'IM', shifts: ['dawn', 'day'] },
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
];

type Crew = { personIds: number[]; pressureGaugeId: number; temperatureGaugeId: number };

async function writePeople(db: BookDb): Promise<Crew> {
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
      .values({ name: person.name, initials: person.initials, skills: '[]' })
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
  for (const gauge of gauges) {
    const { id } = await db
      .insertInto('gauge')
      .values({ ...gauge, accuracy_form: 'absolute' })
      .returning('id')
      .executeTakeFirstOrThrow();
    gaugeIds.push(id);
  }
  return { personIds, pressureGaugeId: gaugeIds[0], temperatureGaugeId: gaugeIds[2] };
}

type Recorder = {
  db: BookDb;
  random: Random;
  crew: Crew;
};

function recordBase(
  recorder: Recorder,
  testPointId: number,
  date: string,
): Omit<Insertable<CalibrationTable>, 'outcome' | 'unit' | 'snapshot_json'> {
  const { crew, random } = recorder;
  return {
    test_point_id: testPointId,
    done_on: date,
    started_at: null,
    ended_at: `${date}T1${random.integer(0, 4)}:${random.integer(10, 59)}:00Z`,
    person_id: crew.personIds[random.integer(0, crew.personIds.length - 1)],
    source: 'sample',
    method_version: METHOD_VERSION,
    decision_rule: 'simple acceptance',
    doubt_milli: null,
    pressure_gauge_id: crew.pressureGaugeId,
    temperature_gauge_id: crew.temperatureGaugeId,
    supply_right: 1,
  };
}

function found(reading: SimulatedReading): FoundReadings {
  return {
    mainPressure: fromMilli(reading.mainPressureMilli),
    temperature: fromMilli(reading.temperatureMilli),
    dial: fromMilli(reading.dialMilli),
    branch: fromMilli(reading.branchMilli),
    dialAtCalibrationPressure: null,
  };
}

function readingRows(
  phase: 'found' | 'left',
  reading: SimulatedReading,
  stored: StoredSetpoint,
): NewReading[] {
  const { pressureUnit: p, temperatureUnit: t, airState: air_state } = stored;
  return [
    ...(phase === 'found'
      ? [
          {
            phase,
            quantity: 'main pressure' as const,
            value_milli: reading.mainPressureMilli,
            unit: p,
            air_state,
          },
        ]
      : []),
    { phase, quantity: 'room temperature', value_milli: reading.temperatureMilli, unit: t, air_state },
    { phase, quantity: 'dial', value_milli: reading.dialMilli, unit: t, air_state },
    { phase, quantity: 'branch pressure', value_milli: reading.branchMilli, unit: p, air_state },
  ];
}

/** The visits of one setpoint over the years; answers nothing, the records are the result. */
async function writeSetpointHistory(
  recorder: Recorder,
  controller: { tag: string; id: number },
  stored: StoredSetpoint,
  dayOfYear: number,
): Promise<void> {
  const { tag, id: deviceId } = controller;
  const { db, random } = recorder;
  const facts = toSetpointFacts(stored);
  if (!facts) return;
  const behaviour = drawBehaviour(random);
  const toleranceF =
    stored.temperatureUnit === 'degC'
      ? fromMilli(stored.toleranceMilli) * 1.8
      : fromMilli(stored.toleranceMilli);
  let errorF = random.integer(-30, 30) / 100;
  let failed = false;
  for (const { year, date } of visitDates(dayOfYear, 1, random, random.integer(0, 99) < 6)) {
    errorF += yearlyDrift(behaviour, year, random);
    if (behaviour.character === 'stuck' && year === behaviour.jumpYear) errorF = 9;
    const reading = simulateReading(stored, errorF, random);
    const error = errorOf(facts, found(reading));
    const errorMilli = toMilli(error.error);
    const verdict = foundVerdict(facts, { ...error, error: fromMilli(errorMilli) });
    const isStuck = behaviour.character === 'stuck' && year === behaviour.jumpYear;
    let outcome: Outcome = verdict === 'inside' ? 'held' : isStuck ? 'device failed' : 'adjusted';
    // A good technician leaves what is inside alone; some adjust from half the tolerance on.
    if (outcome === 'held' && Math.abs(errorF) > 0.7 * toleranceF && random.integer(0, 2) === 0)
      outcome = 'adjusted';
    const readings = readingRows('found', reading, stored);
    let left: { milli: number; verdict: string } | null =
      outcome === 'held' ? { milli: errorMilli, verdict } : null;
    if (outcome === 'adjusted') {
      const remaining = random.integer(-20, 20) / 100;
      const after = simulateReading(stored, remaining, random);
      const leftError = errorOf(facts, {
        ...found(after),
        mainPressure: fromMilli(reading.mainPressureMilli),
      });
      const milli = toMilli(leftError.error);
      left = { milli, verdict: leftVerdict(facts, { ...leftError, error: fromMilli(milli) }) };
      readings.push(...readingRows('left', after, stored));
      errorF = remaining;
    }
    if (completingOutcomes.includes(outcome))
      readings.push({
        phase: 'restored',
        quantity: 'dial put back',
        value_milli: stored.dialMilli,
        unit: stored.temperatureUnit,
        air_state: stored.airState,
      });
    const id = await appendCalibration(
      db,
      {
        ...recordBase(recorder, stored.testPointId, date),
        outcome,
        unit: stored.temperatureUnit,
        method: error.method,
        error_found_milli: errorMilli,
        found_relation: error.relation,
        verdict_found: verdict,
        error_left_milli: left?.milli ?? null,
        left_relation: left ? (outcome === 'held' ? error.relation : '=') : null,
        verdict_left: (left?.verdict ?? null) as CalibrationTable['verdict_left'],
        snapshot_json: JSON.stringify(snapshotOf(tag, stored)),
        note: failed ? 'new controller' : '',
      },
      readings,
    );
    if (failed) {
      await appendReplacement(
        db,
        { device_id: deviceId, on_date: date, calibration_id: id, reason: 'controller replaced' },
        `${date}T15:00:00Z`,
      );
      failed = false;
    }
    if (outcome === 'device failed') {
      await openFollowUp(db, {
        device_id: deviceId,
        calibration_id: id,
        cause: `device failed: ${stored.role} setpoint, branch stuck`,
        opened_at: `${date}T15:00:00Z`,
        opened_by: recorder.crew.personIds[0],
      });
      if (year < 2026) {
        const next = addDays(date, 21);
        await db
          .updateTable('follow_up')
          .set({
            closed_at: `${next}T10:00:00Z`,
            closed_by: recorder.crew.personIds[0],
            closing_note: 'controller ordered and put in at the next visit',
          })
          .where('calibration_id', '=', id)
          .execute();
      }
      failed = true;
      errorF = random.integer(-20, 20) / 100;
    }
  }
}

type DevicePoint = {
  id: number;
  deviceId: number;
  tag: string;
  deviceClass: string;
  kind: string;
  unit: string;
  nominal: number | null;
  tolerance: number | null;
};

/** Supply devices, transmitters and actuators: values against their nominal, every year or two. */
async function writeDeviceHistory(recorder: Recorder, point: DevicePoint, dayOfYear: number): Promise<void> {
  const { db, random } = recorder;
  const perYear = point.kind === 'clock' || point.kind === 'dew point' ? 2 : 1;
  const step = point.deviceClass === 'actuator' ? 2 : 1;
  const unitStep = point.unit === 'kPa' ? 500 : 100;
  let drift = 0;
  const tolerance = point.tolerance ?? 500;
  for (let part = 0; part < perYear; part += 1)
    for (const { date } of visitDates(dayOfYear + part * 182, step, random, false)) {
      drift += random.integer(-2, 2) * unitStep;
      const nominal = point.nominal;
      const value = nominal === null ? null : nominal + drift;
      const outside = Math.abs(drift) > tolerance;
      const outcome: Outcome =
        value !== null && outside && point.deviceClass !== 'actuator' ? 'adjusted' : 'held';
      const readings: NewReading[] =
        value === null
          ? []
          : [
              {
                phase: 'found',
                quantity: 'value',
                value_milli: value,
                unit: point.unit as 'psi',
                air_state: null,
              },
            ];
      if (outcome === 'adjusted' && nominal !== null)
        readings.push({
          phase: 'left',
          quantity: 'value',
          value_milli: nominal,
          unit: point.unit as 'psi',
          air_state: null,
        });
      await appendCalibration(
        db,
        {
          ...recordBase(recorder, point.id, date),
          outcome,
          unit: point.unit as 'psi',
          method: value === null ? null : 'typed',
          error_found_milli: value === null ? null : drift,
          found_relation: value === null ? null : '=',
          verdict_found: value === null ? null : outside ? 'outside' : 'inside',
          error_left_milli: value === null ? null : outcome === 'adjusted' ? 0 : drift,
          left_relation: value === null ? null : '=',
          verdict_left: value === null ? null : outcome === 'adjusted' || !outside ? 'inside' : 'outside',
          snapshot_json: JSON.stringify({
            tag: point.tag,
            kind: point.kind,
            nominalMilli: nominal,
            toleranceMilli: tolerance,
            unit: point.unit,
          }),
          note: '',
        },
        readings,
      );
      if (outcome === 'adjusted') drift = 0;
    }
}

/** The day of the year about which a main's devices are visited; heating and cooling have their season. */
function dayFor(main: string | null, role: string, index: number): number {
  if (role === 'heating') return (310 + index * 2) % 365;
  if (role === 'cooling') return 140 + (index % 90);
  const start: Record<string, number> = { 'HM-N': 40, 'HM-S': 120, 'HM-F': 60, 'AM-E': 200, 'AM-W': 260 };
  return (start[main ?? ''] ?? 20) + (index % 70) + (role === 'unoccupied' ? 6 : 0);
}

async function writeHistory(recorder: Recorder, progress: (text: string) => void): Promise<void> {
  const { db } = recorder;
  const controllers = await db
    .selectFrom('device as d')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['d.id', 'd.tag', 'm.tag as main'])
    .where('d.class', '=', 'controller')
    .orderBy('d.tag')
    .execute();
  for (const [index, controller] of controllers.entries()) {
    if (index % 20 === 0) progress(`history of controllers ${index}/${controllers.length}`);
    for (const stored of await setpointFactsOf(db, controller.id))
      await writeSetpointHistory(recorder, controller, stored, dayFor(controller.main, stored.role, index));
  }
  const points = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .select([
      'tp.id',
      'd.id as deviceId',
      'd.tag',
      'd.class as deviceClass',
      'tp.kind',
      'tp.unit',
      'tp.nominal_milli as nominal',
      'cd.tolerance_milli as tolerance',
      'm.tag as main',
    ])
    .where('tp.kind', '<>', 'setpoint')
    .orderBy('d.tag')
    .orderBy('tp.id')
    .execute();
  for (const [index, point] of points.entries()) {
    if (index % 50 === 0) progress(`history of other devices ${index}/${points.length}`);
    const isSupply = ['air_station', 'regulator', 'switchover_relay', 'time_switch'].includes(
      point.deviceClass,
    );
    await writeDeviceHistory(
      recorder,
      point,
      isSupply ? 12 + (index % 6) : dayFor(point.main, '', Math.floor(index / 2)),
    );
  }
}

/** One thing found lately that a recalibration cannot mend. */
async function openLeak(db: BookDb, crew: Crew): Promise<void> {
  const valve = await db
    .selectFrom('device')
    .select('id')
    .where('tag', '=', 'VH-S2-05')
    .executeTakeFirstOrThrow();
  await openFollowUp(db, {
    device_id: valve.id,
    calibration_id: null,
    cause: 'leak at the diaphragm, heard on the round; new diaphragm ordered',
    opened_at: '2026-10-06T11:20:00Z',
    opened_by: crew.personIds[1],
  });
}

/** Adds a device that nobody has calibrated yet, as buildings have. */
const newcomers = [
  { tag: 'TC-W1-99', room: 'W1-01', in_service_on: '2026-08-24' },
  { tag: 'TC-W2-99', room: 'W2-01', in_service_on: '2026-10-12' },
];

function change(rowClass: RowChange['rowClass'], values: RowValues): RowChange {
  return {
    rowClass,
    before: null,
    values: { class: rowClass, pressure_unit: 'psi', temperature_unit: 'degF', ...values },
  };
}

/** Makes the sample book at `file`, which must not exist yet. */
export async function createSampleBook(
  file: string,
  progress: (text: string) => void = () => {},
): Promise<{ devices: number; calibrations: number }> {
  const book = await createBook(file);
  try {
    return await writeBook(book, async (db) => {
      progress('register');
      await writeSetting(
        db,
        'site',
        { name: 'Wexmoor Civic Hall and Annex', pressureUnit: 'psi', temperatureUnit: 'degF' },
        0,
      );
      await writeSetting(db, 'sample', true, 0);
      const crew = await writePeople(db);
      const rows = sampleRegister().map(({ rowClass, values }) => {
        const read = readRow(rowClass, values, plainStyle, null);
        if (read.problems.length > 0)
          throw new Error(`sample row ${values.tag ?? values.room}: ${JSON.stringify(read.problems[0])}`);
        return { rowClass, values: read.values, before: null };
      });
      const [problem] = checkRows(await registerIndex(db), rows);
      if (problem) throw new Error(`sample register: ${JSON.stringify(problem)}`);
      const by = { at: MADE_AT, personId: null, why: 'sample site' };
      await applyRows(db, rows, by);
      await writeHistory({ db, random: createRandom(SEED), crew }, progress);
      const late: RowChange[] = newcomers.flatMap(({ tag, room, in_service_on }) => [
        change('controller', {
          tag,
          building: 'ANNEX',
          level: room[1],
          room,
          in_service_on,
          controller_kind: 'single',
          fed_by: 'AM-W',
          pipes: '2',
        }),
        change('setpoint', {
          tag,
          role: 'only',
          action: 'direct',
          dial: '70',
          throttling_range: '4',
          output_low: '3',
          output_high: '13',
          calibration_basis: 'output midpoint',
        }),
      ]);
      await applyRows(db, late, by);
      await refreshDue(
        db,
        (await db.selectFrom('test_point').select('id').execute()).map((row) => row.id),
      );
      await openLeak(db, crew);
      const devices = await db
        .selectFrom('device')
        .select((eb) => eb.fn.countAll<number>().as('n'))
        .executeTakeFirstOrThrow();
      const calibrations = await db
        .selectFrom('calibration')
        .select((eb) => eb.fn.countAll<number>().as('n'))
        .executeTakeFirstOrThrow();
      return { devices: devices.n, calibrations: calibrations.n };
    });
  } finally {
    await book.close();
  }
}
