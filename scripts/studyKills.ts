/**
 * Four programs log readings into one book, and each is killed at random moments, again and again: no acknowledged
 * record may be lost, none may be half there, and the chain must be whole. `npm run study:kills -- [KILLS] [SEED]`.
 */
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { openBook } from '../db/book.ts';
import { systemClock } from '../service/clock.ts';
import { createSampleBook } from '../service/sample/createSample.ts';
import { createService } from '../service/service.ts';
import { createRandom } from '../shared/planning/random.ts';

const PROGRAMS = 4;
/** Longest wait between the first acknowledged record and the kill. */
const MOST_MS = 600;

const [kills = 500, seed = 1] = process.argv.slice(2).map(Number);
const root = path.resolve(import.meta.dirname, '..');
const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-kills-'));
const file = path.join(folder, 'kills.book');
await createSampleBook(file);

const acknowledged: number[] = [];
let begun = 0;
let afterFirst = 0;

/** One program's life: it logs until it is killed; what it printed whole was acknowledged. */
async function live(floor: number, life: number, delay: number): Promise<void> {
  const child = spawn(process.execPath, ['tests/support/closeCards.ts', file, String(life), String(floor)], {
    cwd: root,
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let text = '';
  let error = '';
  child.stderr.on('data', (chunk: Buffer) => {
    error += chunk.toString();
  });
  let isArmed = false;
  child.stdout.on('data', (chunk: Buffer) => {
    text += chunk.toString();
    if (!isArmed && text.includes('\n')) {
      isArmed = true;
      setTimeout(() => child.kill('SIGKILL'), delay);
    }
  });
  const signal = await new Promise<NodeJS.Signals | null>((resolve) => {
    child.on('close', (_code, by) => resolve(by));
  });
  if (signal !== 'SIGKILL') throw new Error(`a program ended by itself: ${error}`);
  const ids = text
    .slice(0, text.lastIndexOf('\n') + 1)
    .split('\n')
    .filter(Boolean)
    .map(Number);
  afterFirst += ids.length - 1;
  acknowledged.push(...ids);
}

async function program(floor: number): Promise<void> {
  const random = createRandom(seed * PROGRAMS + floor);
  for (; begun < kills;) {
    begun += 1;
    await live(floor, begun, random.integer(0, MOST_MS));
    if (begun % 50 === 0) process.stderr.write(`${begun} of ${kills} kills\n`);
  }
}

const start = Date.now();
await Promise.all(Array.from({ length: PROGRAMS }, (_, index) => program(index + 1)));
const service = createService({ book: await openBook(file), clock: systemClock });
const report = await service.runJob('records.verify', {});
const held = new Set(
  (await service.book.reader.selectFrom('calibration').select('id').execute()).map((row) => row.id),
);
const lost = acknowledged.filter((id) => !held.has(id));
await service.close();
rmSync(folder, { recursive: true, force: true });
console.log(
  `${begun} kills of ${PROGRAMS} programs in ${Math.round((Date.now() - start) / 1000)} s, seed ${seed}: ` +
    `${acknowledged.length} records acknowledged (${afterFirst} after the first of a life), ${lost.length} lost, ` +
    `${new Set(acknowledged).size === acknowledged.length ? 'none twice' : 'SOME TWICE'}; ` +
    `book ${report.sound ? 'sound' : 'NOT SOUND'}, ${report.entries} entries, ${report.calibrations} records`,
);
for (const problem of report.problems) console.log(`${problem.check}: ${problem.detail}`);
process.exitCode = lost.length === 0 && report.sound ? 0 : 1;
