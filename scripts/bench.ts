/**
 * `npm run bench`: how long the hot paths take, on inputs made by seed. Prints figures and ratios; asserts nothing.
 * Book size: `npm run bench -- --setpoints N --visits M` (20,000 unless said, with 8 readings each); `--drift-only` leaves
 * out what is not of the drift book.
 */
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';
import { createBook, openBook, writeBook } from '../db/book.ts';
import type { BookDb } from '../db/book.ts';
import { refreshDerived } from '../db/derived.ts';
import { fixedClock } from '../service/clock.ts';
import { createSampleBook } from '../service/sample/createSample.ts';
import { allFields } from '../service/bench/cardRecord.ts';
import { columnOfField } from '../service/records/readingColumns.ts';
import { addController, startLargeBook } from './largeBook.ts';
import { createService } from '../service/service.ts';
import type { Service } from '../service/service.ts';
import { addDays } from '../shared/dates/plainDate.ts';
import { createRandom } from '../shared/planning/random.ts';
import { drawRound } from '../shared/planning/drawRound.ts';
import type { PlanInstance } from '../shared/planning/instance.ts';
import { plainStyle } from '../shared/register/row.ts';
import { METHOD_VERSION } from '../shared/trade/words.ts';

const NOW = '2026-11-25T09:00:00Z';
function option(name: string, start: number): number {
  const index = process.argv.indexOf(name);
  return index > 0 ? Number(process.argv[index + 1]) : start;
}
const setpoints = option('--setpoints', 20_000);
const VISITS = option('--visits', 8);
const isDriftOnly = process.argv.includes('--drift-only');
const CARDS = 20_000;

async function timed<T>(name: string, work: () => Promise<T> | T, repeat = 5): Promise<T> {
  const times: number[] = [];
  let result: T | undefined;
  for (let i = 0; i < repeat; i += 1) {
    const start = performance.now();
    result = await work();
    times.push(performance.now() - start);
  }
  times.sort((a, b) => a - b);
  console.log(
    `${name.padEnd(58)} median ${times[Math.floor(times.length / 2)].toFixed(1).padStart(9)} ms   worst ${times[times.length - 1].toFixed(1).padStart(9)} ms`,
  );
  return result as T;
}

/** What a record of a setpoint keeps, as a readings file makes it. */
const SNAPSHOT = JSON.stringify({
  kind: 'setpoint',
  role: 'only',
  action: 'direct',
  dialMilli: 71_000,
  throttlingRangeMilli: 4_000,
  outputLowMilli: 3_000,
  outputHighMilli: 13_000,
  calibrationPressureMilli: 8_000,
  toleranceMilli: 1_000,
  pressureUnit: 'psi',
  temperatureUnit: 'degF',
});

/** A station and a regulator above a main, so that findings have a path to follow. */
async function feedMain(db: BookDb, main: number): Promise<void> {
  const device = async (tag: string, kind: 'air_station' | 'regulator'): Promise<number> =>
    (
      await db
        .insertInto('device')
        .values({ tag, class: kind, pressure_unit: 'psi', in_service_on: '1970-01-01' })
        .returning('id')
        .executeTakeFirstOrThrow()
    ).id;
  const station = await device('AS', 'air_station');
  await db
    .insertInto('air_station')
    .values({ device_id: station, capacity_scfm_milli: 90_000_000 })
    .execute();
  const regulator = await device('PRV', 'regulator');
  await db
    .insertInto('regulator')
    .values({
      device_id: regulator,
      regulator_kind: 'single',
      low_pressure_milli: 20_000,
      relief_pressure_milli: 25_000,
    })
    .execute();
  for (const [from, to] of [
    [station, regulator],
    [regulator, main],
  ])
    await db.insertInto('supplies').values({ from_id: from, to_id: to, port: 'air', position: 0 }).execute();
}

/** A large book, written straight into the tables: controllers on one main, with their histories. */
async function fill(db: BookDb): Promise<void> {
  const random = createRandom(7);
  const book = await startLargeBook(db);
  const { person, main } = book;
  await feedMain(db, main);
  const ids: number[] = [];
  for (let i = 0; i < setpoints; i += 1) {
    const { device, point } = await addController(db, book, i);
    ids.push(device);
    const start = random.integer(0, 364);
    const rows = Array.from({ length: VISITS }, (_, visit) => {
      const error = random.integer(-900, 900);
      return {
        test_point_id: point,
        done_on: addDays('2018-12-01', start + Math.floor((visit * 365 * 8) / VISITS)),
        ended_at: '2026-01-01T10:00:00Z',
        person_id: person,
        outcome: 'held' as const,
        source: 'sample' as const,
        unit: 'degF' as const,
        method: 'typed' as const,
        method_version: METHOD_VERSION,
        decision_rule: 'simple acceptance' as const,
        error_found_milli: error,
        found_relation: '=' as const,
        verdict_found: 'inside' as const,
        error_left_milli: error,
        left_relation: '=' as const,
        verdict_left: 'inside' as const,
        supply_right: 1 as const,
        snapshot_json: SNAPSHOT,
      };
    });
    await db.insertInto('calibration').values(rows).execute();
  }
  await refreshDerived(db, ids);
}

/** A planning instance of n tasks on four mains over a year, with three persons. */
function instanceOf(n: number): PlanInstance {
  const random = createRandom(n);
  const slots = Array.from({ length: 500 }, (_, slot) => ({
    day: Math.floor(slot / 2),
    occupied: slot % 2 === 1,
    period: Math.floor(slot / 10),
  }));
  return {
    slots,
    crews: ['A', 'B', 'C'].map((id) => ({
      id,
      regular: slots.map((slot) => (slot.occupied ? 270 : 120)),
      overtime: slots.map(() => 30),
    })),
    mains: ['m0', 'm1', 'm2', 'm3'].map((id) => ({
      id,
      natural: slots.map((slot) => (slot.occupied ? ('L' as const) : ('H' as const))),
      switchMin: 12,
    })),
    tasks: Array.from({ length: n }, (_, task) => {
      const due = random.integer(0, 249);
      return {
        id: `t${task}`,
        min: random.integer(8, 20),
        weight: random.integer(1, 6),
        due,
        earliest: Math.max(0, due - 45),
        latest: due + 60,
        main: `m${task % 4}`,
        state: task % 2 === 0 ? ('L' as const) : ('H' as const),
        building: `b${task % 3}`,
        floor: `f${task % 12}`,
        room: `r${task % 400}`,
      };
    }),
    travel: { building: 8, floor: 2 },
    cost: { switchover: 20, switchoverOccupied: 20, overtime: 2, walk: 1 },
  };
}

/** Rows of whole cards for a readings file: setpoints of one main, found inside, on days without a record. */
async function cardRows(service: Service, count: number): Promise<string> {
  const random = createRandom(11);
  const { id } = await service.call('register.find', { tag: 'HM-N' });
  const scope = { kind: 'main', mainId: id ?? 0, airState: 'low' } as const;
  const { rows } = await service.call('paper.sheet', { scope });
  const [{ facts }] = rows;
  const figures: Record<string, () => string> = {
    main: () => '13',
    foundDial: () => '72',
    foundRoom: () => '72',
    foundBranch: () => (random.integer(70, 90) / 10).toFixed(1),
    swingOne: () => '0',
    swingOther: () => '13',
    dialBack: () => '71',
  };
  const fields = allFields(facts).filter(({ key }) => key in figures);
  const held = new Set(
    (await service.book.reader.selectFrom('calibration').select(['test_point_id', 'done_on']).execute()).map(
      (row) => `${row.test_point_id} ${row.done_on}`,
    ),
  );
  const lines: string[] = [];
  for (let day = NOW.slice(0, 10); lines.length < count; day = addDays(day, -1))
    for (const row of rows)
      if (lines.length < count && !held.has(`${row.points[0].testPointId} ${day}`))
        lines.push(
          [
            row.tag,
            'card',
            row.key,
            day,
            'IM',
            'held',
            'PG-1',
            'TH-1',
            ...fields.map(({ key }) => figures[key]()),
          ].join(','),
        );
  const columns = fields.map((field) => columnOfField(field)).join(',');
  return `tag,kind,role,done_on,person,outcome,pressure_gauge,reference_gauge,${columns}\n${lines.join('\n')}\n`;
}

/** Cards by file, and the check of the book that they make: every record recomputed from its readings. */
async function timeCards(folder: string): Promise<void> {
  const file = path.join(folder, 'cards.book');
  await createSampleBook(file);
  const service = createService({ book: await openBook(file), clock: fixedClock(NOW) });
  const memory = (): string => `${(process.memoryUsage().rss / 1e6).toFixed(0)} MB`;
  const text = await cardRows(service, CARDS);
  const loaded = await timed(
    `load ${CARDS} rows of whole cards`,
    () =>
      service.runJob('records.load', {
        files: [{ name: 'cards.csv', base64: Buffer.from(text).toString('base64') }],
        style: { ...plainStyle, encoding: 'utf-8' },
        dryRun: false,
      }),
    1,
  );
  if (loaded.problems.length > 0) throw new Error(JSON.stringify(loaded.problems[0]));
  console.log(`memory after the load: ${memory()}`);
  const report = await timed('verify that book', () => service.runJob('records.verify', { anchor: null }), 1);
  console.log(`${report.entries} entries, sound: ${report.sound}; memory: ${memory()}`);
  await service.close();
}

/** The drift book: one history with its statistics, a group of all, and a plain scan of the same rows beside them. */
async function timeDrift(service: Service): Promise<void> {
  const scan = await took('plain scan of all records, the same columns', () =>
    service.book.reader
      .selectFrom('calibration')
      .select((eb) => [
        eb.fn.max('test_point_id').as('a'),
        eb.fn.max('done_on').as('b'),
        eb.fn.max('error_found_milli').as('c'),
        eb.fn.max('error_left_milli').as('d'),
      ])
      .execute(),
  );
  const one = await took('one drift series with its statistics', () =>
    service.call('drift.ofTag', { tag: 'TC-000123' }),
  );
  const group = await took(
    'group of all, by main, in a worker',
    () => inWorker(service, 'drift.group', { by: 'main' }),
    3,
  );
  const intervals = await took(
    'intervals of all, in a worker',
    () => inWorker(service, 'intervals.recommend', {}),
    1,
  );
  await took('findings of all, in a worker', () => inWorker(service, 'findings.list', {}), 3);
  console.log(
    `against the plain scan: one series ${(one / scan).toFixed(3)}, group ${(group / scan).toFixed(1)}, intervals ${(intervals / scan).toFixed(1)} times; memory ${(process.memoryUsage().rss / 1e6).toFixed(0)} MB`,
  );
}

/** Starts a job as the screens do, in a worker of its own, and waits for its end. */
async function inWorker(
  service: Service,
  name: 'drift.group' | 'intervals.recommend' | 'findings.list',
  input: object,
): Promise<void> {
  const { jobId } = (await service.call(name, input as never)) as { jobId: string };
  for (;;) {
    const { state, error } = await service.call('jobs.status', { jobId });
    if (state === 'done') return;
    if (state !== 'running') throw new Error(error?.message ?? state);
    await delay(5);
  }
}

/** As `timed`; answers the median, ms. */
async function took(name: string, work: () => Promise<unknown>, repeat = 5): Promise<number> {
  const times: number[] = [];
  await timed(
    name,
    async () => {
      const start = performance.now();
      await work();
      times.push(performance.now() - start);
    },
    repeat,
  );
  return times.toSorted((a, b) => a - b)[Math.floor(times.length / 2)];
}

async function main(): Promise<void> {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-bench-'));
  const file = path.join(folder, 'bench.book');
  const book = await createBook(file);
  console.log(`book: ${setpoints} setpoints, ${setpoints * VISITS} records`);
  await timed('fill the book', () => writeBook(book, fill), 1);
  await book.close();
  console.log(`file: ${(statSync(file).size / 1e6).toFixed(0)} MB`);
  const service = createService({ book: await openBook(file), clock: fixedClock(NOW) });
  await timeDrift(service);
  if (isDriftOnly) {
    await service.close();
    rmSync(folder, { recursive: true });
    return;
  }
  await timed('due summary', () => service.call('due.summary', {}));
  await timed('due ledger, 90 days', () => service.call('due.ledger', {}));
  await timed('due ledger, first 200 rows', () => service.call('due.ledger', { limit: 200 }));
  await timed('register, first page of 500', () => service.call('register.list', {}));
  await timed('register, full-text find', () => service.call('register.list', { find: 'TC-0019' }));
  await timed('one device page', async () =>
    service.call('register.device', {
      id: (await service.call('register.find', { tag: 'TC-000123' })).id ?? 0,
    }),
  );
  await service.close();
  await timeCards(folder);
  rmSync(folder, { recursive: true });
  for (const n of [100, 1000, 5000])
    await timed(`draw a round of ${n} tasks`, () => drawRound(instanceOf(n), { seed: 1 }), n > 1000 ? 1 : 3);
}

await main();
