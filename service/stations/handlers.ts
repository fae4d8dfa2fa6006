/** Use cases of the air stations: the sheet, tests, leaks, and what a device takes while nothing moves. */
import { airNetwork } from '../../db/airNetwork.ts';
import { airTestsOf, appendLeakMended } from '../../db/airRecords.ts';
import type { BookDb } from '../../db/book.ts';
import { gaugeTags, instrumentsOn } from '../../db/gauges.ts';
import { measuredCapacities } from '../../db/stationFacts.ts';
import { idsAbove } from '../../db/supplyPath.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import { bleedKindOfNode } from '../../shared/register/air/stationUse.ts';
import { airTestProblems } from '../../shared/trade/air/airTests.ts';
import type { AirTestReading } from '../../shared/trade/air/airTests.ts';
import { bleedDefaults } from '../../shared/trade/air/budget.ts';
import { diameterInches } from '../../shared/trade/air/leaks.ts';
import { convertPressure, formatMilli, toMilli } from '../../shared/units/units.ts';
import type { PressureUnit } from '../../shared/units/units.ts';
import type { Instrument } from '../../shared/cards/instruments.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import type { CallContext, GroupHandlers } from '../context.ts';
import type { AirSnapshot } from './facts.ts';
import { stationSheet, testViews } from './sheet.ts';
import { writeAirTest, writeLeak } from './write.ts';

/** Beyond these a leak of the log is a slip of the pen. */
const MOST_LEAK_PSI = 300;
const MOST_LEAK_INCHES = 2;

type Recorder = { deviceId: number; day: string; dayColumn: string; mayBeGone?: boolean };

/** Who writes, of what, on which day: refused where one of them cannot be. */
async function requireRecorder(
  { db, clock, personId }: CallContext,
  { deviceId, day, dayColumn, mayBeGone = false }: Recorder,
) {
  if (personId === null) refuseField('person', '', 'choose who did it');
  const device = await db
    .selectFrom('device')
    .select(['tag', 'class', 'in_service_on', 'retired_on'])
    .where('id', '=', deviceId)
    .executeTakeFirst();
  if (!device) throw new AppError('not_found', 'There is no such device in the book.');
  if (day > clock.today()) refuseField(dayColumn, day, 'lies in the future');
  if (device.in_service_on !== null && day < device.in_service_on)
    refuseField(dayColumn, day, `before ${device.tag} went into service on ${device.in_service_on}`);
  if (!mayBeGone && device.retired_on !== null && day > device.retired_on)
    refuseField(dayColumn, day, `after ${device.tag} was retired on ${device.retired_on}`);
  const person = await db
    .selectFrom('person')
    .select(['name', 'initials'])
    .where('id', '=', personId)
    .executeTakeFirstOrThrow();
  return { personId, device, names: { tag: device.tag, person: person.name, initials: person.initials } };
}

/** Capacity of a day and altitude of the station that feeds a device, or of itself. */
async function stationFigures(
  db: BookDb,
  deviceId: number,
  day: PlainDate,
): Promise<Omit<AirSnapshot, 'names'>> {
  const above = await idsAbove(db, deviceId);
  const stations = await db
    .selectFrom('air_station as s')
    .select(['s.device_id', 's.capacity_scfm_milli', 's.altitude_ft'])
    .where('s.device_id', 'in', above)
    .orderBy('s.device_id')
    .execute();
  const [station] = stations;
  if (!station) return { capacityMilli: null, altitudeFt: 0 };
  const measured = (await measuredCapacities(db, day)).get(station.device_id);
  return {
    capacityMilli: measured ? toMilli(measured.value) : station.capacity_scfm_milli,
    altitudeFt: station.altitude_ft ?? 0,
  };
}

/** A pressure instrument of the day, on whose scale every pressure of the test lies. */
function requireGauge(
  instruments: readonly Instrument[],
  { gaugeId, doneOn, readings }: { gaugeId: number; doneOn: PlainDate; readings: readonly AirTestReading[] },
): void {
  const gauge = instruments.find(({ id, kind }) => id === gaugeId && kind === 'pressure');
  if (!gauge) refuseField('gaugeId', String(gaugeId), `choose a pressure instrument in use on ${doneOn}`);
  const unit = gauge.unit as PressureUnit;
  for (const { quantity, valueMilli, unit: own } of readings)
    if (own === 'psi' || own === 'kPa') {
      const milli = convertPressure(valueMilli, own, unit);
      if (milli > gauge.rangeHighMilli + 0.5 || milli < gauge.rangeLowMilli - 0.5)
        refuseField(
          'gaugeId',
          gauge.tag,
          `${gauge.tag} reads from ${formatMilli(gauge.rangeLowMilli)} to ${formatMilli(gauge.rangeHighMilli)} ${unit}: ${quantity} lies beyond`,
        );
    }
}

/** What would be logged a second time: the same test of the same day, standing. */
async function requireNew(
  db: BookDb,
  {
    deviceId,
    kind,
    doneOn,
    readings,
  }: { deviceId: number; kind: string; doneOn: PlainDate; readings: readonly AirTestReading[] },
): Promise<void> {
  const own = JSON.stringify(readings.map(({ quantity, valueMilli, unit }) => [quantity, valueMilli, unit]));
  for (const test of await airTestsOf(db, deviceId))
    if (
      test.kind === kind &&
      test.done_on === doneOn &&
      test.replacedBy === null &&
      own === JSON.stringify(test.readings.map((one) => [one.quantity, one.value_milli, one.unit]))
    )
      throw new AppError('conflict', `This very test is logged already, as test ${test.id}.`);
}

type Corrects = { id: number; reason: string } | null;

/** A correction names a standing entry of the same device. */
async function requireCorrected(
  db: BookDb,
  table: 'air_test' | 'leak',
  { deviceId, corrects }: { deviceId: number; corrects: Corrects },
): Promise<void> {
  if (corrects === null) return;
  const row = await db.selectFrom(table).select('device_id').where('id', '=', corrects.id).executeTakeFirst();
  if (!row) throw new AppError('not_found', 'There is no such entry to correct.');
  if (table === 'air_test' && row.device_id !== deviceId)
    throw new AppError('conflict', 'The entry to correct is of another device.');
  const by = await db
    .selectFrom(table)
    .select('id')
    .where('replaces_id', '=', corrects.id)
    .executeTakeFirst();
  if (by) throw new AppError('conflict', 'It was corrected already: correct the newer entry.');
}

export const stationHandlers: GroupHandlers<'stations'> = {
  list: async ({ db }) => ({
    stations: await db
      .selectFrom('device')
      .select(['id', 'tag', 'name', 'retired_on as retiredOn'])
      .where('class', '=', 'air_station')
      .orderBy('retired_on')
      .orderBy('tag')
      .execute(),
  }),

  sheet: async ({ db, clock }, { deviceId }) => stationSheet(db, deviceId, clock.today()),

  bleed: async ({ db }, { deviceId }) => {
    const node = (await airNetwork(db, [deviceId])).nodes.get(deviceId);
    const device = await db.selectFrom('device').select('id').where('id', '=', deviceId).executeTakeFirst();
    if (!device) throw new AppError('not_found', 'There is no such device in the book.');
    // What is retired takes nothing; what was measured of it stands.
    const kind = node ? bleedKindOfNode(node) : null;
    return {
      kind,
      byKind: kind && bleedDefaults[kind],
      sheet: node?.ownBleed?.sheet ?? null,
      measured: node?.ownBleed?.measured ?? null,
      tests: testViews(await airTestsOf(db, deviceId), await gaugeTags(db)),
    };
  },

  addTest: async (context, { deviceId, kind, doneOn, gaugeId, readings, note, corrects }) => {
    const { db, clock } = context;
    const { personId, device, names } = await requireRecorder(context, {
      deviceId,
      day: doneOn,
      dayColumn: 'doneOn',
    });
    if ((kind === 'bleed of a device') === (device.class === 'air_station'))
      refuseField('kind', kind, `no test of ${device.tag}`);
    const problems = airTestProblems(kind, readings);
    if (problems.length > 0)
      throw new AppError('invalid_input', 'Some fields need another value.', {
        problems: problems.map(({ quantity, reason }) => ({
          column: quantity,
          value: String(readings.find((one) => one.quantity === quantity)?.valueMilli ?? ''),
          reason,
        })),
      });
    if (gaugeId !== null) requireGauge(await instrumentsOn(db, doneOn), { gaugeId, doneOn, readings });
    if (corrects === null) await requireNew(db, { deviceId, kind, doneOn, readings });
    await requireCorrected(db, 'air_test', { deviceId, corrects });
    const snapshot = { names, ...(await stationFigures(db, deviceId, doneOn)) };
    const record = { deviceId, personId, on: doneOn, at: clock.now(), note, snapshot, corrects };
    const { id } = await writeAirTest(db, record, { kind, gaugeId, readings });
    return { id };
  },

  addLeak: async (context, { deviceId, place, foundOn, note, corrects, mended, ...size }) => {
    const { db, clock } = context;
    const { personId, names } = await requireRecorder(context, {
      deviceId,
      day: foundOn,
      dayColumn: 'foundOn',
    });
    if (convertPressure(size.pressureMilli, size.pressureUnit, 'psi') > MOST_LEAK_PSI * 1000)
      refuseField(
        'pressureMilli',
        String(size.pressureMilli),
        `at most ${MOST_LEAK_PSI} psi stand behind a leak here`,
      );
    const inches = diameterInches(size);
    if (inches > MOST_LEAK_INCHES)
      refuseField(
        'diameterMicro',
        String(size.diameterMicro),
        `at most ${MOST_LEAK_INCHES} in across: that is an open pipe`,
      );
    await requireCorrected(db, 'leak', { deviceId, corrects });
    if (mended !== null && corrects === null)
      refuseField('mended', mended.on, 'log the leak first, and then that it is mended');
    if (mended !== null && mended.on < foundOn)
      refuseField('mended.on', mended.on, `before it was found on ${foundOn}`);
    if (mended !== null && mended.on > clock.today())
      refuseField('mended.on', mended.on, 'lies in the future');
    const snapshot = { names, ...(await stationFigures(db, deviceId, foundOn)) };
    const record = { deviceId, personId, on: foundOn, at: clock.now(), note, snapshot, corrects };
    const id = await writeLeak(db, record, { place, size });
    if (mended !== null)
      await appendLeakMended(db, {
        leak_id: id,
        mended_on: mended.on,
        person_id: personId,
        note: mended.note,
        at: clock.now(),
      });
    const stations = await db
      .selectFrom('device')
      .select('tag')
      .where('class', '=', 'air_station')
      .where('id', 'in', await idsAbove(db, deviceId))
      .orderBy('tag')
      .execute();
    return { id, stations: stations.map(({ tag }) => tag) };
  },

  mendLeak: async (context, { leakId, mendedOn, note }) => {
    const { db, clock } = context;
    const leak = await db
      .selectFrom('leak as k')
      .leftJoin('leak_mended as m', 'm.leak_id', 'k.id')
      .leftJoin('leak as by', 'by.replaces_id', 'k.id')
      .select(['k.device_id', 'k.found_on', 'm.id as mended', 'by.id as replacedBy'])
      .where('k.id', '=', leakId)
      .executeTakeFirst();
    if (!leak) throw new AppError('not_found', 'There is no such leak in the log.');
    if (leak.mended !== null) throw new AppError('conflict', 'It is noted as mended already.');
    if (leak.replacedBy !== null) throw new AppError('conflict', 'It was corrected: mend the newer entry.');
    if (mendedOn < leak.found_on)
      refuseField('mendedOn', mendedOn, `before it was found on ${leak.found_on}`);
    const { personId } = await requireRecorder(context, {
      deviceId: leak.device_id,
      day: mendedOn,
      dayColumn: 'mendedOn',
      mayBeGone: true,
    });
    return {
      id: await appendLeakMended(db, {
        leak_id: leakId,
        mended_on: mendedOn,
        person_id: personId,
        note,
        at: clock.now(),
      }),
    };
  },
};
