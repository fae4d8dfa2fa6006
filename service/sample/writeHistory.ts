/** Writes the sample site's eight years of records, test point by test point. */
import { appendCalibration, appendReplacement, openFollowUp } from '../../db/records.ts';
import type { NewReading } from '../../db/records.ts';
import type { CalibrationTable } from '../../db/schema.ts';
import { addDays } from '../../shared/dates/plainDate.ts';
import { errorOf, foundVerdict, leftVerdict } from '../../shared/trade/setpointCard.ts';
import type { FoundReadings } from '../../shared/trade/setpointCard.ts';
import { completingOutcomes } from '../../shared/trade/words.ts';
import type { Outcome } from '../../shared/trade/words.ts';
import { fromMilli, toMilli } from '../../shared/units/units.ts';
import { setpointFactsOfRow } from '../../shared/trade/cardSetting.ts';
import { setpointFactsOf, snapshotOf } from '../bench/setpointFacts.ts';
import type { StoredSetpoint } from '../bench/setpointFacts.ts';
import { drawBehaviour, simulateReading, visitDates, yearlyDrift } from './history.ts';
import type { SimulatedReading } from './history.ts';
import { recordBase } from './recorder.ts';
import type { DevicePoint, Recorder } from './recorder.ts';
import { writeStationHistory } from './stationHistory.ts';

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
  const facts = setpointFactsOfRow(stored, stored.pressureUnit);
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
        {
          device_id: deviceId,
          new_device_id: null,
          on_date: date,
          calibration_id: id,
          reason: 'controller replaced',
        },
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

/** Supply devices, transmitters and actuators: values against their nominal, every year or two. */
async function writeDeviceHistory(
  recorder: Recorder,
  point: DevicePoint,
  days: readonly string[],
): Promise<void> {
  const { db, random } = recorder;
  const step = point.unit === 'kPa' ? 500 : 100;
  // A main moves less than what hangs on it.
  const unitStep = point.deviceClass === 'main' ? step / 4 : step;
  let drift = 0;
  const tolerance = point.tolerance ?? 500;
  for (const date of days) {
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

/** What was put in later has no past. */
const FIRST_OF_THIS_YEAR = '2026-01-01';

/** Histories of all controllers, then of all other devices. */
export async function writeHistory(recorder: Recorder, progress: (text: string) => void): Promise<void> {
  const { db } = recorder;
  const controllers = await db
    .selectFrom('device as d')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['d.id', 'd.tag', 'm.tag as main'])
    .innerJoin('controller as c', 'c.device_id', 'd.id')
    .where('c.controller_kind', 'not in', ['receiver', 'humidity'])
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
    .where('d.in_service_on', '<', FIRST_OF_THIS_YEAR)
    .orderBy('d.tag')
    .orderBy('tp.id')
    .execute();
  // All test points of a device are measured on one visit.
  const daysOfDevice = new Map<number, string[]>();
  for (const [index, point] of points.entries()) {
    if (index % 50 === 0) progress(`history of other devices ${index}/${points.length}`);
    const isSupply = ['air_station', 'regulator', 'switchover_relay', 'time_switch', 'main'].includes(
      point.deviceClass,
    );
    let days = daysOfDevice.get(point.deviceId);
    if (!days) {
      const isHalfYearly = point.kind === 'clock' || point.kind === 'dew point';
      const dayOfYear = isSupply ? 12 + (index % 6) : dayFor(point.main, '', Math.floor(index / 2));
      const step = point.deviceClass === 'actuator' ? 2 : 1;
      days = (isHalfYearly ? [0, 182] : [0])
        .flatMap((shift) => visitDates(dayOfYear + shift, step, recorder.random, false))
        .map((visit) => visit.date)
        .sort();
      daysOfDevice.set(point.deviceId, days);
    }
    await (point.kind === 'dew point' ? writeStationHistory : writeDeviceHistory)(recorder, point, days);
  }
}
