/** Closing a bench card: the rules of the card, then records, readings, follow-ups and due dates in one transaction. */
import type { BookDb } from '../../db/book.ts';
import { chainHead } from '../../db/ledger.ts';
import { refreshDue } from '../../db/due.ts';
import { appendCalibration, newestRecords, openFollowUp } from '../../db/records.ts';
import type { NewReading } from '../../db/records.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import type { BenchEntry } from '../../shared/contract/bench.ts';
import type { ParsedInputOf } from '../../shared/contract/index.ts';
import { judgeCard, problemsWithoutPressure } from '../../shared/trade/benchRules.ts';
import type { CardResult } from '../../shared/trade/benchRules.ts';
import { METHOD_VERSION, completingOutcomes, followUpOutcomes } from '../../shared/trade/words.ts';
import type { CallContext } from '../context.ts';
import { cardSettingOf, setpointFactsOf, snapshotOf } from './setpointFacts.ts';
import type { StoredSetpoint } from './setpointFacts.ts';

type ControllerRow = Awaited<ReturnType<typeof controllerRow>>;

/** A controller with its main and place. Throws `not_found` for any other device. */
export async function controllerRow(db: BookDb, deviceId: number) {
  const row = await db
    .selectFrom('device as d')
    .innerJoin('controller as c', 'c.device_id', 'd.id')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .leftJoin('device as md', 'md.id', 'd.main_id')
    .leftJoin('main as m', 'm.device_id', 'd.main_id')
    .select([
      'd.id',
      'd.tag',
      'd.name',
      'd.pressure_unit',
      'd.temperature_unit',
      'd.in_service_on',
      'd.retired_on',
      'c.controller_kind',
      'c.rated_low_milli',
      'c.rated_high_milli',
      'c.trip_falling_milli',
      'c.trip_rising_milli',
      'b.code as building',
      'l.code as level',
      'r.code as room',
      'r.name as room_name',
      'md.id as main_id',
      'md.tag as main_tag',
      'md.pressure_unit as main_unit',
      'm.main_kind',
      'm.low_pressure_milli',
      'm.high_pressure_milli',
      'm.low_means',
      'm.high_means',
    ])
    .where('d.id', '=', deviceId)
    .executeTakeFirst();
  if (!row)
    throw new AppError('not_found', 'There is no bench card for this device: it is not a room controller.');
  return row;
}

/** The air state that readings were taken in: the one the main pressure tells of, whatever the setpoint asks for. */
function stateOfReadings({ stored, result }: Judged): NewReading['air_state'] {
  if (stored.airState === null || !result || result.stateIsRight) return stored.airState;
  return result.live === 'low' || result.live === 'high' ? result.live : null;
}

function readingsOf(judged: Judged): NewReading[] {
  const { entry, stored } = judged;
  const airState = stateOfReadings(judged);
  const readings: NewReading[] = [];
  const { pressureUnit: p, temperatureUnit: t } = stored;
  const add = (
    phase: NewReading['phase'],
    quantity: NewReading['quantity'],
    value: number | null,
    unit: NewReading['unit'],
  ): void => {
    if (value !== null) readings.push({ phase, quantity, value_milli: value, unit, air_state: airState });
  };
  add('found', 'main pressure', entry.mainPressureMilli, p);
  for (const [phase, set] of [
    ['found', entry.found],
    ['left', entry.left],
  ] as const) {
    if (!set) continue;
    add(phase, 'room temperature', set.temperatureMilli, t);
    add(phase, 'dial', set.dialMilli, t);
    add(phase, 'branch pressure', set.branchMilli, p);
    add(phase, 'dial at calibration pressure', set.dialAtCalibrationMilli, t);
    if (phase === 'found' && entry.fullTravel) {
      add('found', 'branch full travel one way', entry.fullTravel.oneWayMilli, p);
      add('found', 'branch full travel other way', entry.fullTravel.otherWayMilli, p);
    }
  }
  if (!entry.found && entry.fullTravel) {
    add('found', 'branch full travel one way', entry.fullTravel.oneWayMilli, p);
    add('found', 'branch full travel other way', entry.fullTravel.otherWayMilli, p);
  }
  if (entry.throttling) {
    add('check', 'dial up', entry.throttling.dialUpMilli, t);
    add('check', 'branch dial up', entry.throttling.branchUpMilli, p);
    add('check', 'dial down', entry.throttling.dialDownMilli, t);
    add('check', 'branch dial down', entry.throttling.branchDownMilli, p);
  }
  if (entry.readAgain) {
    add('check', 'room temperature', entry.readAgain.temperatureMilli, t);
    add('check', 'dial', entry.readAgain.dialMilli, t);
    add('check', 'branch pressure', entry.readAgain.branchMilli, p);
  }
  add('restored', 'dial put back', entry.dialPutBackMilli, t);
  return readings;
}

type CloseInput = ParsedInputOf<'bench.close'>;
/** `result` is null while the calibration pressure is not known: then nothing was judged. */
type Judged = { entry: BenchEntry; stored: StoredSetpoint; result: CardResult | null };

/** A second window, or a second press, must not make a second record of one visit unawares. */
async function requireNothingNewer(db: BookDb, { deviceId, entries }: CloseInput): Promise<void> {
  const newest = await newestRecords(db, deviceId);
  const entry = entries.find((one) => (newest.get(one.testPointId) ?? null) !== one.seen);
  if (!entry) return;
  const record = await db
    .selectFrom('calibration as c')
    .innerJoin('person as p', 'p.id', 'c.person_id')
    .select(['c.ended_at', 'c.outcome', 'p.initials'])
    .where('c.id', '=', newest.get(entry.testPointId) ?? 0)
    .executeTakeFirst();
  throw new AppError(
    'conflict',
    record
      ? `This setpoint has a record that this card has not seen: “${record.outcome}” by ${record.initials}, closed at ${record.ended_at.slice(0, 16).replace('T', ' ')} UTC.`
      : 'This card has seen a record that is not in the book.',
  );
}

async function judgeAll(
  db: BookDb,
  input: CloseInput,
  controller: ControllerRow,
  today: string,
): Promise<Judged[]> {
  const problems: InputProblem[] = [];
  const fail = (column: string, value: string, reason: string): void => {
    problems.push({ column, value, reason });
  };
  if (controller.retired_on !== null) fail('deviceId', controller.tag, `retired on ${controller.retired_on}`);
  if (input.doneOn > today) fail('doneOn', input.doneOn, 'lies in the future');
  if (controller.in_service_on !== null && input.doneOn < controller.in_service_on)
    fail('doneOn', input.doneOn, `before the device went into service on ${controller.in_service_on}`);
  const person = await db
    .selectFrom('person')
    .select('active')
    .where('id', '=', input.personId)
    .executeTakeFirst();
  if (person?.active !== 1) fail('personId', String(input.personId), 'choose who took the readings');
  const gauges = await db.selectFrom('gauge').select(['id', 'kind']).execute();
  for (const [column, id, kind] of [
    ['pressureGaugeId', input.pressureGaugeId, 'pressure'],
    ['temperatureGaugeId', input.temperatureGaugeId, 'temperature'],
  ] as const)
    if (id !== null && gauges.find((gauge) => gauge.id === id)?.kind !== kind)
      fail(column, String(id), `choose a ${kind} instrument`);
  await requireNothingNewer(db, input);
  const setpoints = await setpointFactsOf(db, controller.id);
  const judged: Judged[] = [];
  for (const [index, entry] of input.entries.entries()) {
    const stored = setpoints.find((one) => one.testPointId === entry.testPointId && one.active);
    const where = `entries.${index}`;
    if (!stored || judged.some((one) => one.stored.testPointId === entry.testPointId)) {
      fail(
        `${where}.testPointId`,
        String(entry.testPointId),
        'not a setpoint of this controller, or given twice',
      );
      continue;
    }
    const setting = cardSettingOf(controller, stored);
    const result = setting ? judgeCard(setting, entry) : null;
    for (const problem of result?.problems ?? problemsWithoutPressure(entry))
      fail(`${where}.${problem.field}`, stored.role, problem.reason);
    judged.push({ entry, stored, result });
  }
  const completing = judged.filter(({ entry }) => completingOutcomes.includes(entry.outcome));
  if (input.entries.length === 2 && completing.length === 2 && judged[0].entry.readAgain === null)
    fail(
      'entries.0.readAgain',
      judged[0].stored.role,
      'read the first setpoint again after the second: adjusting one can disturb the other',
    );
  if (problems.length > 0)
    throw new AppError('invalid_input', 'The card cannot be closed yet.', { problems });
  return judged;
}

/** Derived figures of an outcome: a supply that is not right says nothing of the device. */
function recordFigures({ entry, result }: Judged) {
  const counts = entry.outcome !== 'supply not right' && entry.outcome !== 'no access';
  const found = counts ? (result?.found ?? null) : null;
  const left = entry.outcome === 'held' ? found : counts ? (result?.left ?? null) : null;
  return {
    method: found?.method ?? null,
    error_found_milli: found?.errorMilli ?? null,
    found_relation: found?.relation ?? null,
    verdict_found: found?.verdict ?? null,
    error_left_milli: left?.errorMilli ?? null,
    left_relation: left?.relation ?? null,
    verdict_left: left?.verdict ?? null,
  };
}

/** Closes a card; throws `invalid_input` with every problem by entry and field. */
export async function closeCard({ db, clock }: CallContext, input: CloseInput) {
  const controller = await controllerRow(db, input.deviceId);
  const judged = await judgeAll(db, input, controller, clock.today());
  const endedAt = clock.now();
  const records = [];
  const followUps = [];
  for (const one of judged) {
    const { entry, stored } = one;
    const figures = recordFigures(one);
    const id = await appendCalibration(
      db,
      {
        test_point_id: stored.testPointId,
        done_on: input.doneOn,
        started_at: input.startedAt,
        ended_at: endedAt,
        person_id: input.personId,
        outcome: entry.outcome,
        source: 'bench',
        unit: stored.temperatureUnit,
        method_version: METHOD_VERSION,
        decision_rule: 'simple acceptance',
        ...figures,
        doubt_milli: null,
        pressure_gauge_id: input.pressureGaugeId,
        temperature_gauge_id: input.temperatureGaugeId,
        supply_right: entry.outcome === 'supply not right' || !entry.preconditions.supply ? 0 : 1,
        snapshot_json: JSON.stringify({
          ...snapshotOf(controller.tag, stored),
          preconditions: entry.preconditions,
          preconditionNote: entry.preconditionNote,
          restored: entry.restored,
        }),
        note: entry.note,
      },
      readingsOf(one),
    );
    if (followUpOutcomes.includes(entry.outcome)) {
      const cause = `${entry.outcome}: ${stored.role} setpoint${entry.note ? `, ${entry.note}` : ''}`;
      const followUpId = await openFollowUp(db, {
        device_id: controller.id,
        calibration_id: id,
        cause,
        opened_at: endedAt,
        opened_by: input.personId,
      });
      followUps.push({ id: followUpId, cause });
    }
    records.push({
      calibrationId: id,
      testPointId: stored.testPointId,
      role: stored.role,
      outcome: entry.outcome,
      errorFoundMilli: figures.error_found_milli,
      foundRelation: figures.found_relation,
      verdictFound: figures.verdict_found,
      errorLeftMilli: figures.error_left_milli,
      verdictLeft: figures.verdict_left,
      unit: stored.temperatureUnit,
    });
  }
  await refreshDue(
    db,
    records.map((record) => record.testPointId),
  );
  await db.deleteFrom('bench_draft').where('device_id', '=', controller.id).execute();
  const due = await db
    .selectFrom('test_point')
    .select(['id', 'due_on'])
    .where('device_id', '=', controller.id)
    .execute();
  const head = await chainHead(db);
  return {
    records: records.map((record) => ({
      ...record,
      dueOn: due.find((row) => row.id === record.testPointId)?.due_on ?? null,
    })),
    followUps,
    ledgerSeq: head.seq,
    headHash: head.hash,
  };
}
