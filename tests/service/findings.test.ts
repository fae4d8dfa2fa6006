/**
 * Findings on the sample register: what stands there is known and true, one by one; and each of 28 faults that is planted is
 * found where it was planted, and nowhere else.
 */
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import type { Insertable } from 'kysely';
import { beforeAll, describe, expect, inject, it, onTestFinished } from 'vitest';
import { airNetwork } from '../../db/airNetwork.ts';
import { openBook, writeBook } from '../../db/book.ts';
import { appendAirTest } from '../../db/airRecords.ts';
import type { NewAirTest } from '../../db/airRecords.ts';
import type { Book, BookDb } from '../../db/book.ts';
import type { BookTables } from '../../db/schema.ts';
import { AIR_METHOD_VERSION } from '../../shared/trade/air/airTests.ts';
import { findingsOf } from '../../shared/register/findings/index.ts';
import type { TestPointKind } from '../../shared/trade/words.ts';
import type { Finding } from '../../shared/register/findings/finding.ts';
import { fixedClock } from '../../service/clock.ts';
import { createService } from '../../service/service.ts';
import { sampleFile, sampleService } from '../support/books.ts';

const TODAY = '2026-11-25';
const at = ({ severity, code, tag, about }: Finding): string =>
  [severity, code, tag, about].filter((word) => word !== '').join(' ');

async function tagId(db: BookDb, tag: string): Promise<number> {
  return (await db.selectFrom('device').select('id').where('tag', '=', tag).executeTakeFirstOrThrow()).id;
}

type Plant = (db: BookDb) => Promise<void>;
const set =
  <
    T extends
      'regulator' | 'switchover_relay' | 'main' | 'controller' | 'actuator' | 'air_station' | 'time_switch',
  >(
    table: T,
    tag: string,
    values: Partial<Insertable<BookTables[T]>>,
  ): Plant =>
  async (db) => {
    await db
      .updateTable(table as 'main')
      .set(values as object)
      .where('device_id', '=', await tagId(db, tag))
      .execute();
  };
const both =
  (...plants: Plant[]): Plant =>
  async (db) => {
    for (const plant of plants) await plant(db);
  };
/** A pressure as it was read today, in psi or kPa of its test point, whatever the register says. */
const readsPressure =
  (tag: string, kind: TestPointKind, value: number, error: { gauge?: string } = {}): Plant =>
  async (db) => {
    const point = await db
      .selectFrom('test_point')
      .select(['id', 'unit', 'nominal_milli'])
      .where('device_id', '=', await tagId(db, tag))
      .where('kind', '=', kind)
      .executeTakeFirstOrThrow();
    const nominal = point.nominal_milli ?? 0;
    const gauge = await db
      .selectFrom('gauge')
      .select('id')
      .where('tag', '=', error.gauge ?? 'PG-1')
      .executeTakeFirstOrThrow();
    await db
      .insertInto('calibration')
      .values({
        test_point_id: point.id,
        done_on: TODAY,
        ended_at: `${TODAY}T09:00:00Z`,
        person_id: 1,
        outcome: 'held',
        source: 'bench',
        unit: point.unit,
        method: 'read',
        method_version: 'planted',
        decision_rule: 'simple acceptance',
        error_found_milli: Math.round(value * 1000) - nominal,
        found_relation: '=',
        pressure_gauge_id: gauge.id,
        supply_right: 1,
        snapshot_json: JSON.stringify({ nominalMilli: nominal }),
      })
      .execute();
  };
/** A spring as it was read today. */
const spring = (tag: string, start: number, end: number): Plant =>
  both(readsPressure(tag, 'spring start', start / 1000), readsPressure(tag, 'spring end', end / 1000));
const setpoint =
  (tag: string, role: 'occupied' | 'only', values: Partial<Insertable<BookTables['setpoint']>>): Plant =>
  async (db) => {
    const point = await db
      .selectFrom('test_point')
      .select('id')
      .where('device_id', '=', await tagId(db, tag))
      .where('role', '=', role)
      .executeTakeFirstOrThrow();
    await db.updateTable('setpoint').set(values).where('test_point_id', '=', point.id).execute();
  };
/** A controller with a heating and a cooling valve that nobody has measured. */
const fresh =
  (heating: [number, number], cooling: [number, number], inServiceOn = '2026-06-01'): Plant =>
  async (db) => {
    const main = await tagId(db, 'AM-W');
    const add = async (tag: string, kind: 'controller' | 'actuator', from: number): Promise<number> => {
      const { id } = await db
        .insertInto('device')
        .values({
          tag,
          class: kind,
          in_service_on: inServiceOn,
          pressure_unit: 'psi',
          temperature_unit: 'degF',
          main_id: main,
        })
        .returning('id')
        .executeTakeFirstOrThrow();
      await db
        .insertInto('supplies')
        .values({ from_id: from, to_id: id, port: 'air', position: 0 })
        .execute();
      return id;
    };
    const controller = await add('TC-NEW', 'controller', main);
    await db
      .insertInto('controller')
      .values({ device_id: controller, controller_kind: 'single', pipes: '2' })
      .execute();
    const point = await db
      .insertInto('test_point')
      .values({ device_id: controller, kind: 'setpoint', role: 'only', unit: 'degF', nominal_milli: 70_000 })
      .returning('id')
      .executeTakeFirstOrThrow();
    await db
      .insertInto('setpoint')
      .values({
        test_point_id: point.id,
        role: 'only',
        action: 'direct',
        dial_milli: 70_000,
        throttling_range_milli: 4_000,
        output_low_milli: 3_000,
        output_high_milli: 13_000,
        calibration_basis: 'output midpoint',
      })
      .execute();
    for (const [tag, normal, duty, [start, end]] of [
      ['VH-NEW', 'open', 'hot water', heating],
      ['VK-NEW', 'closed', 'chilled water', cooling],
    ] as const) {
      const id = await add(tag, 'actuator', controller);
      await db
        .insertInto('actuator')
        .values({
          device_id: id,
          actuator_kind: 'valve',
          normal_position: normal,
          duty,
          spring_start_milli: start,
          spring_end_milli: end,
        })
        .execute();
    }
  };
const reads =
  (degF: number, psi: number): Plant =>
  async (db) => {
    const station = await tagId(db, 'AS-HALL');
    const point = await db
      .selectFrom('test_point')
      .select('id')
      .where('device_id', '=', station)
      .where('kind', '=', 'dew point')
      .executeTakeFirstOrThrow();
    const person = await db.selectFrom('person').select('id').executeTakeFirstOrThrow();
    const { id } = await db
      .insertInto('calibration')
      .values({
        test_point_id: point.id,
        done_on: '2026-10-01',
        ended_at: '2026-10-01T09:00:00Z',
        person_id: person.id,
        outcome: 'held',
        source: 'bench',
        unit: 'degF',
        method_version: 'cards 1',
        decision_rule: 'simple acceptance',
        supply_right: 1,
        snapshot_json: '{}',
      })
      .returning('id')
      .executeTakeFirstOrThrow();
    for (const [position, quantity, value, unit] of [
      [0, 'dew point', degF, 'degF'],
      [1, 'pressure of the dew point', psi, 'psi'],
    ] as const)
      await db
        .insertInto('reading')
        .values({ calibration_id: id, position, phase: 'found', quantity, value_milli: value * 1000, unit })
        .execute();
  };

/** A test of today, with a flow, or with readings of its own. */
const tested =
  (
    tag: string,
    kind: NewAirTest['kind'],
    {
      scfm = null,
      share = null,
      readings = [],
    }: { scfm?: number | null; share?: number | null; readings?: [string, number, string][] },
  ): Plant =>
  async (db) => {
    await appendAirTest(
      db,
      {
        device_id: await tagId(db, tag),
        kind,
        done_on: TODAY,
        person_id: 1,
        pressure_gauge_id: null,
        method_version: AIR_METHOD_VERSION,
        flow_scim_milli: scfm === null ? null : scfm * 1_728_000,
        share_ppm: share === null ? null : share * 1_000_000,
        replaces_id: null,
        snapshot_json: '{}',
        at: `${TODAY}T10:00:00Z`,
      },
      readings.map(([quantity, value_milli, unit]) => ({ quantity, value_milli, unit })),
    );
  };

/** What stands in the sample, looked at one by one. */
const standing = [
  // A gauge of 0.075 psi for a tolerance of 0.12 psi.
  'stop gauge-coarse TX-HALL-OA transmitter span',
  'stop gauge-coarse TX-HALL-OA transmitter zero',
  // Heating and cooling valves of 3 to 8 and 8 to 13 psi whose newest readings lie under half a psi apart.
  'look abutting TC-E3-02 VH-E3-02 VK-E3-02',
  'look abutting TC-N3-01 VH-N3-01 VK-N3-01',
  'look abutting TC-N4-05 VH-N4-05 VK-N4-05',
  'look abutting TC-S3-10 VH-S3-10 VK-S3-10',
  'look abutting TC-W1-12 VH-W1-12 VK-W1-12',
  'look abutting TC-W3-11 VH-W3-11 VK-W3-11',
  'look abutting TC-W3-12 VH-W3-12 VK-W3-12',
  // Calibrated to 8 psi, the middle of the output, with one valve whose spring was read to end at 7.2 and 7.4 psi.
  'look calibration-pressure TC-N4-02 occupied',
  'look calibration-pressure TC-N4-02 unoccupied',
  'look calibration-pressure TC-S3-04 occupied',
  'look calibration-pressure TC-S3-04 unoccupied',
];

let book: Book;
beforeAll(async () => {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-'));
  const file = path.join(folder, 'sample.book');
  copyFileSync(inject('sampleFile'), file);
  book = await openBook(file);
  // Against a tolerance of half a psi: one and a half times as good, and three times.
  await writeBook(book, async (db) => {
    for (const [tag, accuracy_milli] of [
      ['PG-COARSE', 333],
      ['PG-FAIR', 167],
    ] as const)
      await db
        .insertInto('gauge')
        .values({
          tag,
          kind: 'pressure',
          unit: 'psi',
          range_low_milli: 0,
          range_high_milli: 30_000,
          accuracy_form: 'absolute',
          accuracy_milli,
        })
        .execute();
  });
  return async () => {
    await book.close();
    rmSync(folder, { recursive: true });
  };
});

/** What a planted fault adds; the book is as it was after. */
async function added(plant: Plant): Promise<{ added: string[]; gone: string[] }> {
  let found: string[] = [];
  const undone = new Error('undone');
  await book.writer
    .transaction()
    .execute(async (db) => {
      await plant(db);
      found = findingsOf(await airNetwork(db), TODAY).map(at);
      throw undone;
    })
    .catch((error: unknown) => {
      if (error !== undone) throw error;
    });
  return {
    added: found.filter((one) => !standing.includes(one)),
    gone: standing.filter((one) => !found.includes(one)),
  };
}

const onMain = async (main: string): Promise<string[]> =>
  (
    await book.reader
      .selectFrom('device as d')
      .innerJoin('device as m', 'm.id', 'd.main_id')
      .select('d.tag')
      .where('m.tag', '=', main)
      .where('d.class', '=', 'controller')
      .orderBy('d.id')
      .execute()
  ).map(({ tag }) => tag);

describe('the sample register', () => {
  it('has the findings that stand in it, and no other', async () =>
    expect(findingsOf(await airNetwork(book.reader), TODAY).map(at)).toEqual(standing));

  const stores = (code: string) => async () => (await onMain('ZM-S')).map((tag) => `stop ${code} ${tag}`);
  const faults: [string, Plant, string[] | (() => Promise<string[]>)][] = [
    [
      'a controller that nothing feeds',
      async (db) =>
        void (await db
          .deleteFrom('supplies')
          .where('to_id', '=', await tagId(db, 'TC-Z1-01'))
          .execute()),
      ['stop supply-orphan TC-Z1-01'],
    ],
    [
      'a regulator fed by its own relay',
      async (db) =>
        void (await db
          .insertInto('supplies')
          .values({
            from_id: await tagId(db, 'SR-HS'),
            to_id: await tagId(db, 'PRV-HS-LO'),
            port: 'air',
            position: 9,
          })
          .execute()),
      ['stop supply-loop PRV-HS-LO', 'stop supply-loop SR-HS'],
    ],
    [
      'two-setpoint controllers on a main of one pressure',
      set('main', 'ZM-S', { main_kind: 'single' }),
      stores('main-kind'),
    ],
    [
      'a main whose pressures mean cooling and heating under occupied and unoccupied setpoints',
      set('main', 'ZM-S', { low_means: 'cooling', high_means: 'heating' }),
      stores('main-meaning'),
    ],
    [
      'a low main above the rated figure',
      readsPressure('ZM-S', 'main low', 13.6),
      stores('low-above-rating'),
    ],
    [
      'a low main that is half a psi above the rated figure by one reading',
      readsPressure('ZM-S', 'main low', 13.5),
      [],
    ],
    [
      'a high main below the rated figure',
      readsPressure('ZM-S', 'main high', 17.4),
      stores('high-below-rating'),
    ],
    [
      'a changeover measured above the high main',
      set('controller', 'TC-Z1-01', { trip_rising_milli: 18_300, trip_falling_milli: 14_500 }),
      ['stop trip-margin TC-Z1-01'],
    ],
    [
      'a changeover measured close to the low main',
      set('controller', 'TC-Z1-02', { trip_rising_milli: 16_500, trip_falling_milli: 13_600 }),
      ['look trip-margin TC-Z1-02'],
    ],
    [
      'a spring that ends above the low main',
      spring('VK-N1-02', 9_000, 14_000),
      ['stop stroke-short VK-N1-02 low'],
    ],
    [
      'a spring that ends above both pressures',
      spring('VK-N1-02', 12_000, 19_000),
      ['stop stroke-short VK-N1-02 low', 'stop stroke-short VK-N1-02 high'],
    ],
    [
      'a controller that acts the other way',
      setpoint('TC-N1-01', 'occupied', { action: 'reverse' }),
      async () => {
        const tags = ['VH-N1-01', 'VK-N1-01'];
        return tags.map((tag) => `stop action-mismatch ${tag} occupied`);
      },
    ],
    [
      'heating and cooling that overlap as measured',
      spring('VK-N1-01', 6_000, 11_000),
      ['stop overlap TC-N1-01 VH-N1-01 VK-N1-01'],
    ],
    [
      'a point that was read with too coarse a gauge, and one with a gauge that is only just good enough',
      both(
        readsPressure('VK-N1-02', 'spring end', 12.6, { gauge: 'PG-COARSE' }),
        readsPressure('VK-N1-02', 'spring start', 8, { gauge: 'PG-FAIR' }),
      ),
      ['stop gauge-coarse VK-N1-02 spring end', 'look gauge-coarse VK-N1-02 spring start'],
    ],
    [
      'a time switch whose holidays end in thirty days',
      async (db) => {
        const clock = await tagId(db, 'TS-ANNEX');
        await db
          .deleteFrom('holiday')
          .where('time_switch_id', '=', clock)
          .where('on_date', '>', '2026-12-25')
          .execute();
      },
      ['look time-switch-gap TS-ANNEX holidays'],
    ],
    [
      'a station that runs two fifths of the time',
      tested('AS-HALL', 'hour meter', { share: 0.4 }),
      ['look air-budget AS-HALL run share'],
    ],
    [
      'a station that runs nearly all the time',
      tested('AS-HALL', 'hour meter', { share: 0.95 }),
      ['stop air-budget AS-HALL run share'],
    ],
    [
      'heating and cooling that overlap on paper',
      fresh([3_000, 9_000], [8_000, 13_000]),
      ['look overlap TC-NEW VH-NEW VK-NEW'],
    ],
    [
      'springs that abut on paper',
      fresh([3_000, 8_000], [8_000, 13_000]),
      ['look abutting TC-NEW VH-NEW VK-NEW'],
    ],
    [
      'a calibration pressure below every spring',
      setpoint('TC-N1-01', 'occupied', { calibration_basis: 'stated', calibration_pressure_milli: 1_000 }),
      ['look calibration-pressure TC-N1-01 occupied'],
    ],
    [
      'a stated calibration pressure that is missing',
      setpoint('TC-N1-01', 'occupied', { calibration_basis: 'stated', calibration_pressure_milli: null }),
      ['not checked calibration-pressure TC-N1-01 occupied'],
    ],
    [
      'ports that make no arrangement',
      set('switchover_relay', 'SR-HN', {
        no_port: 'supply air',
        nc_port: 'low regulator',
        power_loss_state: 'high',
      }),
      ['stop relay-ports SR-HN'],
    ],
    [
      'a state that the ports do not give',
      set('switchover_relay', 'SR-HF', { energised_state: 'high' }),
      ['stop relay-ports SR-HF'],
    ],
    [
      'a pilot that pilots nothing',
      async (db) =>
        void (await db
          .deleteFrom('supplies')
          .where('port', '=', 'pilot')
          .where('from_id', '=', await tagId(db, 'SR-AE'))
          .execute()),
      ['stop relay-ports SR-AE'],
    ],
    [
      'an unwanted state on power loss',
      set('switchover_relay', 'SR-HN', { power_loss_state: 'low' }),
      ['look relay-fail-state SR-HN'],
    ],
    [
      'a state on power loss that nobody settled',
      set('switchover_relay', 'SR-HN', { power_loss_state: null }),
      ['not checked relay-fail-state SR-HN'],
    ],
    [
      'a relay that nothing drives',
      set('switchover_relay', 'SR-HF', { driven_kind: null }),
      ['stop relay-undriven SR-HF'],
    ],
    [
      'a relief at the highest setting',
      set('regulator', 'PRV-HN', { relief_pressure_milli: 18_000 }),
      ['stop relief-low PRV-HN'],
    ],
    [
      'a relief that nobody noted',
      set('regulator', 'PRV-HN', { relief_pressure_milli: null }),
      ['not checked relief-low PRV-HN'],
    ],
    [
      'a station that is a little small',
      tested('AS-HALL', 'pump-up', { scfm: 4.5 }),
      ['look air-budget AS-HALL'],
    ],
    [
      'a station that is much too small',
      tested('AS-HALL', 'pump-up', { scfm: 2 }),
      ['stop air-budget AS-HALL'],
    ],
    [
      'one device that bleeds as much as half of the station',
      tested('TC-N1-02', 'bleed of a device', { scfm: 5 }),
      ['stop air-budget AS-HALL'],
    ],
    ['air too wet for the coldest place', reads(36, 80), ['stop air-quality AS-HALL']],
    [
      'oil in the air',
      tested('AS-HALL', 'air quality', { readings: [['oil', 1_300, 'mg/m3']] }),
      ['stop air-quality AS-HALL oil'],
    ],
    [
      'rust in the air',
      tested('AS-ANNEX', 'air quality', { readings: [['largest particle', 41_000, 'um']] }),
      ['stop air-quality AS-ANNEX particles'],
    ],
    [
      'a time switch without holidays, and one without a state at other times',
      both(
        async (db) =>
          void (await db
            .deleteFrom('holiday')
            .where('time_switch_id', '=', await tagId(db, 'TS-ANNEX'))
            .execute()),
        set('time_switch', 'TS-HALL', { rest_state: null }),
      ),
      ['look time-switch-gap TS-ANNEX holidays', 'look time-switch-gap TS-HALL programme'],
    ],
    [
      'a controller that was never read',
      fresh([3_000, 7_000], [8_000, 13_000], '2019-01-01'),
      ['look no-history TC-NEW setpoint only'],
    ],
  ];
  it.each(faults)('%s is found, and nothing is invented', async (_words, plant, wanted) => {
    const answer = await added(plant);
    const expected = typeof wanted === 'function' ? await wanted() : wanted;
    expect(answer.added.toSorted()).toEqual(expected.toSorted());
  });
  it('air that is dry enough for a place that nobody noted is not called right', async () => {
    const dry = await added(reads(20, 80));
    expect([dry.added, dry.gone]).toEqual([[], []]);
    // Free air of -4 °F is 39 °F at 100 psi.
    const free = await added(reads(-4, 0));
    expect(free.added).toEqual(['not checked air-quality AS-HALL']);
    const unknown = await added(
      both(reads(20, 80), set('air_station', 'AS-HALL', { coldest_place_milli: null })),
    );
    expect(unknown.added).toEqual(['not checked air-quality AS-HALL']);
  });
  it('oil at its limit, and a particle at its, are right', async () => {
    const edge = await added(
      tested('AS-HALL', 'air quality', {
        readings: [
          ['oil', 1_200, 'mg/m3'],
          ['largest particle', 40_000, 'um'],
        ],
      }),
    );
    expect([edge.added, edge.gone]).toEqual([[], []]);
  });
});

describe('a branch', () => {
  it('of what is retired moves nothing; of what is not there is refused', async () => {
    const service = await sampleService();
    const { id } = await service.call('register.find', { tag: 'TC-N1-01' });
    expect((await service.call('air.branch', { deviceId: id ?? 0 })).actuators.map(({ tag }) => tag)).toEqual(
      ['VH-N1-01', 'VK-N1-01'],
    );
    const page = await service.call('register.device', { id: id ?? 0 });
    await service.call('register.retire', { id: page.id, version: page.version, on: TODAY, why: 'gone' });
    expect((await service.call('air.branch', { deviceId: page.id })).actuators).toEqual([]);
    await expect(service.call('air.branch', { deviceId: 999_999 })).rejects.toMatchObject({
      code: 'not_found',
    });
  });
});

describe('accepted findings', () => {
  it('are kept with who and why, and come back when a figure changes or their time is over', async () => {
    const service = await sampleService();
    const list = async () => (await service.runJob('findings.list', {})).findings;
    const wanted = (await list()).find(({ tag }) => tag === 'TC-E3-02');
    if (!wanted) throw new Error('not found');
    const { code, deviceId, about, figures } = wanted;
    const person = await service.book.reader.selectFrom('person').select('id').executeTakeFirstOrThrow();
    const by = person.id;
    await expect(
      service.call('findings.accept', { code, deviceId, about, figures, until: null, why: 'known' }),
    ).rejects.toMatchObject({ code: 'invalid_input' });
    await service.call(
      'findings.accept',
      { code, deviceId, about, figures, until: '2026-12-31', why: 'known' },
      by,
    );
    const accepted = (await service.call('findings.ofDevice', { deviceId })).findings[0];
    expect(accepted).toMatchObject({ cameBack: false, accepted: { why: 'known', until: '2026-12-31' } });
    expect((await list()).find(({ tag }) => tag === 'TC-E3-02')?.accepted?.why).toBe('known');
    expect((await service.runJob('records.verify', {})).problems).toEqual([]);
    // The same figure read again on another day is the same figure; another one brings it back.
    const valve = await service.call('air.branch', { deviceId });
    const cooling = valve.actuators.find(({ tag }) => tag === 'VK-E3-02');
    const [from, to] = [cooling?.start.measured?.value ?? 0, cooling?.end.measured?.value ?? 0];
    await writeBook(service.book, spring('VK-E3-02', from * 1000, to * 1000));
    expect((await list()).find(({ tag }) => tag === 'TC-E3-02')).toMatchObject({
      accepted: { why: 'known' },
      cameBack: false,
    });
    await writeBook(service.book, readsPressure('VK-E3-02', 'spring start', from - 0.1));
    expect((await list()).find(({ tag }) => tag === 'TC-E3-02')).toMatchObject({
      accepted: null,
      cameBack: true,
    });
    await expect(
      service.call('findings.accept', { code, deviceId, about, figures, until: null, why: 'again' }, by),
    ).rejects.toMatchObject({ code: 'conflict' });
  });
  it('hold on their last day, and come back on the next', async () => {
    const file = sampleFile();
    const on = async (day: string) => {
      const service = createService({ book: await openBook(file), clock: fixedClock(`${day}T09:00:00Z`) });
      onTestFinished(() => service.close());
      return service;
    };
    const today = await on(TODAY);
    const [{ code, deviceId, about, figures }] = (await today.runJob('findings.list', {})).findings;
    await today.call(
      'findings.accept',
      { code, deviceId, about, figures, until: '2026-12-31', why: 'known' },
      1,
    );
    const first = async (day: string) => (await (await on(day)).runJob('findings.list', {})).findings[0];
    expect(await first('2026-12-31')).toMatchObject({ code, cameBack: false, accepted: { why: 'known' } });
    expect(await first('2027-01-01')).toMatchObject({ code, cameBack: true, accepted: null });
  });
  it('a later edit of the register does not move what was read', async () => {
    const service = await sampleService();
    const { id } = await service.call('register.find', { tag: 'TC-N3-01' });
    const springOf = async () =>
      (await service.call('air.branch', { deviceId: id ?? 0 })).actuators.find(
        ({ tag }) => tag === 'VK-N3-01',
      );
    const before = await springOf();
    const valve = await service.call('register.find', { tag: 'VK-N3-01' });
    const page = await service.call('register.device', { id: valve.id ?? 0 });
    await service.call(
      'register.save',
      {
        rowClass: 'actuator',
        cells: { ...page.values, spring_start: '9', spring_end: '13' },
        version: page.version,
        why: 'read from the plate',
      },
      1,
    );
    const after = await springOf();
    expect(after?.start).toEqual({ ...before?.start, nominal: 9 });
    expect(after?.end).toEqual({ ...before?.end, nominal: 13 });
  });
  it('are opened again by hand', async () => {
    const service = await sampleService();
    const person = await service.book.reader.selectFrom('person').select('id').executeTakeFirstOrThrow();
    const by = person.id;
    const { findings } = await service.runJob('findings.list', {});
    const { code, deviceId, about, figures } = findings[0];
    await service.call(
      'findings.accept',
      { code, deviceId, about, figures, until: null, why: 'the only one there is' },
      by,
    );
    await service.call('findings.reopen', { code, deviceId, about, why: 'a better gauge came' }, by);
    expect((await service.runJob('findings.list', {})).findings[0]).toMatchObject({
      accepted: null,
      cameBack: false,
    });
    await expect(
      service.call('findings.reopen', { code, deviceId, about, why: 'twice' }, by),
    ).rejects.toMatchObject({ code: 'conflict' });
  });
});
