/**
 * `npm run bench:tree`: how smoothly the air tree of 5,000 devices is moved in a real Chromium: frames while it is dragged,
 * and the worst of them. `-- --devices N` for another number. Printed, never asserted.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright';
import { createBook } from '../db/book.ts';
import { startLoopbackHost } from '../host/server.ts';
import { fixedClock } from '../service/clock.ts';
import { readAssets } from '../service/http/assets.ts';
import { createRequestCore } from '../service/http/handler.ts';
import { createService } from '../service/service.ts';
import type { Service } from '../service/service.ts';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');
const at = process.argv.indexOf('--devices');
const DEVICES = at > 0 ? Number(process.argv[at + 1]) : 5_000;
const MAINS = 20;
const DRAGS = 12;

/** A register of one station, mains, and controllers with two valves each. */
function registerCsv(): string {
  const columns =
    'class,tag,building,level,in_service_on,pressure_unit,temperature_unit,fed_by,regulator_kind,main_kind,low_pressure,controller_kind,actuator_kind,normal_position,spring_start,spring_end,duty';
  const rows = [
    'building,,B,,,,,,,,,,,,,,',
    ...Array.from({ length: 10 }, (_, level) => `level,,B,${level + 1},,,,,,,,,,,,,`),
    'air_station,AS,B,1,2000-01-01,,degF,,,,,,,,,,',
  ];
  for (let main = 0; main < MAINS; main += 1) {
    rows.push(`regulator,PRV-${main},B,1,2000-01-01,psi,,AS,single,,18,,,,,,`);
    rows.push(`main,M-${main},B,,2000-01-01,psi,,PRV-${main},,single,18,,,,,,`);
  }
  const controllers = Math.floor((DEVICES - 1 - 2 * MAINS) / 3);
  for (let index = 0; index < controllers; index += 1) {
    const place = `B,${(Math.floor(index / MAINS) % 10) + 1},2000-01-01,psi,degF`;
    rows.push(`controller,TC-${index},${place},M-${index % MAINS},,,,single,,,,,`);
    rows.push(`actuator,VH-${index},${place.replace('degF', '')},TC-${index},,,,,valve,open,3,7,hot water`);
    rows.push(
      `actuator,VK-${index},${place.replace('degF', '')},TC-${index},,,,,valve,closed,8,13,chilled water`,
    );
  }
  return `${columns}\n${rows.join('\n')}\n`;
}

async function fill(service: Service): Promise<void> {
  const report = await service.runJob('register.load', {
    files: [{ name: 'register.csv', base64: Buffer.from(registerCsv()).toString('base64') }],
    style: { pressure: 'psi', temperature: 'degF', dates: 'ymd', decimals: 'point', encoding: 'utf-8' },
    dryRun: false,
  });
  if (report.problems.length > 0) throw new Error(JSON.stringify(report.problems.slice(0, 3)));
}

async function main(): Promise<void> {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-bench-'));
  const book = await createBook(path.join(folder, 'tree.book'));
  const service = createService({ book, clock: fixedClock('2026-11-25T09:00:00Z'), log: console.error });
  await fill(service);
  const core = createRequestCore(service, readAssets(path.join(root, 'dist', 'renderer')));
  const host = await startLoopbackHost({ core, report: console.error });
  const browser = await chromium.launch({
    executablePath: process.env.ALMANAC_CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
  const page = await browser.newPage({ viewport: { width: 1440, height: 900 } });
  await page.goto(host.url);
  await page.goto(`${new URL(host.url).origin}/register/air`);
  const started = performance.now();
  await page.getByRole('button', { name: 'Open all' }).click();
  await page.getByRole('treeitem').first().waitFor();
  console.log(`opened all of ${DEVICES} devices in ${(performance.now() - started).toFixed(0)} ms`);
  const box = await page.getByRole('tree').boundingBox();
  if (!box) throw new Error('no tree');
  await page.evaluate(() => {
    const held = window as unknown as { frames: number[] };
    held.frames = [];
    const tick = (time: number): void => {
      held.frames.push(time);
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  });
  for (let drag = 0; drag < DRAGS; drag += 1) {
    const [from, to] = drag % 2 === 0 ? [480, 20] : [20, 460];
    await page.mouse.move(box.x + 500, box.y + from);
    await page.mouse.down();
    await page.mouse.move(box.x + 500, box.y + to, { steps: 40 });
    await page.mouse.up();
  }
  const frames = await page.evaluate(() => (window as unknown as { frames: number[] }).frames);
  const gaps = frames.slice(1).map((time, index) => time - frames[index]);
  const total = frames[frames.length - 1] - frames[0];
  const sorted = gaps.toSorted((a, b) => a - b);
  console.log(
    `dragged ${DRAGS} times: ${((1000 * gaps.length) / total).toFixed(1)} frames a second, 99 of 100 within ${sorted[Math.floor(0.99 * sorted.length)].toFixed(1)} ms, worst ${sorted[sorted.length - 1].toFixed(1)} ms`,
  );
  await browser.close();
  await host.close();
  await service.close();
  rmSync(folder, { recursive: true });
}

await main();
