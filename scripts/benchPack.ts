/**
 * `npm run bench:pack`: an evidence pack of a large book: how long it takes, and how much memory at most. Inputs by seed.
 * `-- --readings N` (400,000 unless said; four million takes some twenty minutes to fill), `--points N` test points.
 * `--book FILE` keeps the book there, and takes it when it is there already.
 * The pack is written, broken off once, and proved, each in a process of its own, which says its own peak.
 */
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { createBook, openBook, streamBook, writeBook } from '../db/book.ts';
import type { BookDb } from '../db/book.ts';
import { refreshDerived } from '../db/derived.ts';
import { appendCalibrations } from '../db/records.ts';
import type { NewRecord } from '../db/records.ts';
import { checkPack } from '../service/evidence/check.mjs';
import { wholeSite } from '../service/evidence/scope.ts';
import { writePack } from '../service/evidence/writePack.ts';
import { AppError } from '../shared/contract/errors.ts';
import { addDays } from '../shared/dates/plainDate.ts';
import { createRandom } from '../shared/planning/random.ts';
import { addController, startLargeBook } from './largeBook.ts';
import type { LargeBook } from './largeBook.ts';
import { METHOD_VERSION } from '../shared/trade/words.ts';

const READINGS_A_RECORD = 3;
const PIECE = 2_000;
const NOW = '2026-11-25T09:00:00Z';

function option(name: string, start: number): number {
  const index = process.argv.indexOf(name);
  return index > 0 ? Number(process.argv[index + 1]) : start;
}

const SNAPSHOT = JSON.stringify({
  tag: 'TC',
  kind: 'setpoint',
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

type Fill = { points: number; visits: number };

/** Test points from one to another, each with its history and its entries in the chain. */
async function fillPiece(
  db: BookDb,
  book: LargeBook,
  { from, to, visits }: { from: number; to: number; visits: number },
): Promise<void> {
  const random = createRandom(from + 1);
  const ids: number[] = [];
  const records: NewRecord[] = [];
  for (let at = from; at < to; at += 1) {
    const { device, point } = await addController(db, book, at);
    ids.push(device);
    const start = random.integer(0, 364);
    for (let visit = 0; visit < visits; visit += 1) {
      const error = random.integer(-900, 900);
      records.push({
        calibration: {
          test_point_id: point,
          done_on: addDays('2013-01-01', start + visit * 365),
          ended_at: '2026-01-01T10:00:00Z',
          person_id: book.person,
          outcome: 'held',
          source: 'sample',
          unit: 'degF',
          method: 'M2',
          method_version: METHOD_VERSION,
          decision_rule: 'simple acceptance',
          error_found_milli: error,
          found_relation: '=',
          verdict_found: 'inside',
          error_left_milli: error,
          left_relation: '=',
          verdict_left: 'inside',
          supply_right: 1,
          snapshot_json: SNAPSHOT,
        },
        readings: [
          { phase: 'found', quantity: 'main pressure', value_milli: 20_000, unit: 'psi' },
          { phase: 'found', quantity: 'room temperature', value_milli: 71_000 + error, unit: 'degF' },
          { phase: 'found', quantity: 'branch pressure', value_milli: 8_000 - error, unit: 'psi' },
        ],
      });
    }
  }
  for (let start = 0; start < records.length; start += 500)
    await appendCalibrations(db, records.slice(start, start + 500));
  await refreshDerived(db, ids);
}

async function fill(file: string, { points, visits }: Fill): Promise<void> {
  const book = await createBook(file);
  const places = await writeBook(book, startLargeBook);
  for (let from = 0; from < points; from += PIECE)
    await writeBook(book, (db) =>
      fillPiece(db, places, { from, to: Math.min(points, from + PIECE), visits }),
    );
  await book.close();
}

const seconds = (since: number): string => `${((performance.now() - since) / 1000).toFixed(1)} s`;
const peak = (): string => `${Math.round(process.resourceUsage().maxRSS / 1024)} MB at most`;

/** Runs in a process of its own: `--child write|cancel|check BOOK FOLDER`. */
async function child(what: string, file: string, folder: string): Promise<void> {
  const start = performance.now();
  if (what === 'check') {
    const { sound, records } = await checkPack(folder);
    console.log(`proof: ${sound ? 'sound' : 'NOT SOUND'}, ${records} records, ${seconds(start)}, ${peak()}`);
    return;
  }
  const book = await openBook(file);
  let [asked, steps] = [0, 0];
  let last = '';
  const told: string[] = [];
  const least = what === 'cancel' ? 200 : Number.POSITIVE_INFINITY;
  try {
    const { files } = await streamBook(book, async (db) =>
      writePack(
        db,
        { folder, scope: wholeSite, madeAt: NOW },
        {
          progress: (_done, _total, step) => {
            steps += 1;
            if (step !== last) told.push(`${last} ${Math.round(process.resourceUsage().maxRSS / 1024)}`);
            last = step;
          },
          cancelled: () => (asked += 1) > least,
        },
      ),
    );
    const bytes = files.reduce((sum, one) => sum + one.bytes, 0);
    const rows = files.find(({ name }) => name === 'readings.csv')?.rows;
    if (process.argv.includes('--steps')) console.log(`peak by step, MB: ${told.join('; ')}`);
    console.log(
      `written: ${rows} rows of readings, ${(bytes / 1e6).toFixed(0)} MB, ${steps} steps told, ${seconds(start)}, ${peak()}`,
    );
  } catch (error) {
    if (!(error instanceof AppError) || error.code !== 'cancelled') throw error;
    console.log(
      `broken off: ${seconds(start)}; left in the folder: ${readdirSync(path.dirname(folder)).filter((name) => name.startsWith('pack')).length} entries`,
    );
  }
  await book.close();
}

function run(...args: string[]): void {
  process.stdout.write(
    execFileSync(
      process.execPath,
      [
        '--max-semi-space-size=8',
        fileURLToPath(import.meta.url),
        '--child',
        ...args,
        ...process.argv.filter((one) => one === '--steps'),
      ],
      {
        encoding: 'utf8',
      },
    ),
  );
}

async function main(): Promise<void> {
  const at = process.argv.indexOf('--child');
  if (at > 0) return child(process.argv[at + 1], process.argv[at + 2], process.argv[at + 3]);
  const readings = option('--readings', 400_000);
  const points = option('--points', Math.max(1, Math.round(readings / READINGS_A_RECORD / 13)));
  const visits = Math.ceil(readings / READINGS_A_RECORD / points);
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-pack-'));
  const kept = process.argv.indexOf('--book');
  const file = kept > 0 ? process.argv[kept + 1] : path.join(folder, 'bench.book');
  const start = performance.now();
  const isNew = !existsSync(file);
  if (isNew) await fill(file, { points, visits });
  const held = isNew
    ? `${points} test points, ${points * visits} records, ${points * visits * READINGS_A_RECORD} readings, filled in ${seconds(start)}`
    : 'as it was kept';
  console.log(`book: ${held}, ${(statSync(file).size / 1e6).toFixed(0)} MB`);
  const pack = path.join(folder, 'pack');
  run('cancel', file, pack);
  run('write', file, pack);
  if (existsSync(pack)) run('check', file, pack);
  rmSync(folder, { recursive: true });
}

await main();
