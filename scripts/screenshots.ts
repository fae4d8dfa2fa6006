/**
 * Photographs every screen on the sample site with a real Chromium. `npm run screenshots` writes the ones that
 * README shows; `npm run screenshots -- --all DIR` writes both sizes, light and dark, to a folder for looking.
 */
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright';
import type { Page } from 'playwright';
import { openBook } from '../db/book.ts';
import { startLoopbackHost } from '../host/server.ts';
import { fixedClock } from '../service/clock.ts';
import { readAssets } from '../service/http/assets.ts';
import { createRequestCore } from '../service/http/handler.ts';
import { createSampleBook } from '../service/sample/createSample.ts';
import { createService } from '../service/service.ts';
import type { Service } from '../service/service.ts';
import { cardOf, closing, heldEntry } from '../tests/support/bench.ts';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');
const NOW = '2026-11-25T09:00:00Z';
const chromiumPath = process.env.ALMANAC_CHROMIUM ?? '/usr/bin/chromium';

/** `isScrolled`: what it is about stands where `prepare` left it, not at the top. */
type Shot = { name: string; path: string; prepare?: (page: Page) => Promise<void>; isScrolled?: true };

async function shotsOf(service: Service): Promise<Shot[]> {
  const { roundId } = await service.runJob('rounds.draw', { from: '2027-01-01', to: '2027-12-31' });
  const overview = await service.call('rounds.overview', { id: roundId });
  const day =
    overview.days.find((one) => one.forcedMains.length > 0) ??
    overview.days.find((one) => one.people.length > 0);
  const person = day?.people[0];
  const controller = await service.call('register.find', { tag: 'TC-N1-01' });
  const series = await service.call('drift.ofTag', { tag: 'TC-N1-01', role: 'occupied' });
  const regulator = await service.call('register.find', { tag: 'PRV-HN' });
  const main = await service.call('register.find', { tag: 'HM-N' });
  const sequenced = await service.call('register.find', { tag: 'TC-E3-02' });
  const { rows: drawer } = await service.call('gauges.list', {});
  const record = await blamedSupply(service);
  return [
    { name: 'due', path: '/due' },
    { name: 'round', path: `/round/${roundId}?day=${day?.date}` },
    {
      name: 'round-why',
      path: `/round/${roundId}?day=${day?.date}`,
      prepare: async (page) => {
        const why = page.getByRole('region', { name: 'Why there?' });
        await why.getByLabel('Tag').fill('TC-E1-03');
        await page.keyboard.press('Enter');
        await why.getByText('Move by hand, or put off').first().click();
        await why.getByLabel('Date').first().fill('2027-07-14');
        await why
          .getByText(/points? (more|fewer)/u)
          .first()
          .waitFor();
        await why.scrollIntoViewIfNeeded();
      },
    },
    { name: 'day-sheet', path: `/round/${roundId}/day/${day?.date}/${person?.personId}` },
    { name: 'bench', path: `/bench/${controller.id}?role=occupied`, prepare: fillBench },
    { name: 'bench-regulator', path: `/bench/${regulator.id}` },
    { name: 'paper', path: `/paper/main/${main.id}/low`, prepare: fillPaper },
    {
      name: 'evidence',
      path: '/evidence?building=HALL',
      prepare: async (page) => {
        await page.getByRole('button', { name: 'Preview' }).click();
        await page.getByRole('region', { name: 'What the pack would hold' }).waitFor();
      },
    },
    {
      name: 'energy',
      path: '/evidence/energy',
      prepare: async (page) => {
        await page.getByRole('button', { name: 'Weigh' }).click();
        await page.getByText(/Mended in order, together/).waitFor();
      },
    },
    { name: 'gauges', path: '/gauges' },
    {
      name: 'trace',
      path: `/gauges/${drawer.find(({ tag }) => tag === 'PG-1')?.id}/trace`,
      prepare: async (page) => {
        await page.getByLabel('It read too high by').fill('0.5');
        await page.getByRole('heading', { name: /with another verdict/ }).waitFor();
      },
    },
    { name: 'follow-ups', path: '/follow-ups' },
    { name: 'record', path: `/records/${record}` },
    {
      name: 'register',
      path: '/register',
      prepare: async (page) => {
        await page.getByRole('button', { name: 'Findings' }).click();
        await page.getByText('■ 2').waitFor();
      },
    },
    { name: 'device', path: `/register/${controller.id}` },
    { name: 'drift', path: `/drift/${series.series[0].testPointId}` },
    {
      name: 'air-tree',
      path: '/register/air?date=2027-01-13&time=10:00',
      prepare: async (page) => {
        await page.getByRole('treeitem').first().waitFor();
        await page.getByRole('tree').press('ArrowRight');
      },
    },
    {
      name: 'station',
      path: '/register/station',
      prepare: async (page) => {
        await page.getByRole('link', { name: 'AS-HALL' }).first().click();
        await page.getByRole('heading', { name: 'Over the years' }).waitFor();
      },
    },
    {
      name: 'sequence',
      path: `/register/${sequenced.id}`,
      isScrolled: true,
      prepare: async (page) => {
        await page.getByRole('region', { name: 'Between the springs' }).waitFor();
        await page.getByRole('heading', { name: 'Steady air use' }).waitFor();
        await page
          .getByRole('heading', { name: 'Sequence of the branch' })
          .evaluate((head) => head.scrollIntoView());
      },
    },
    {
      name: 'findings',
      path: '/register/findings',
      prepare: async (page) => {
        await page.locator('[data-row]').first().waitFor();
      },
    },
    {
      name: 'drift-groups',
      path: '/drift/groups?by=level&kind=setpoint',
      prepare: async (page) => {
        await page.getByRole('heading', { name: 'The twenty furthest out' }).waitFor();
      },
    },
    { name: 'intervals', path: '/drift/intervals', prepare: recommend },
    { name: 'settings', path: '/settings' },
    { name: 'load', path: '/register/load' },
  ];
}

/** Three devices of one main whose supply is not right, and one that is held; answers the record of that one. */
async function blamedSupply(service: Service): Promise<number> {
  for (const tag of ['TC-N1-05', 'TC-N2-05', 'TC-N3-05']) {
    const card = await cardOf(service, tag);
    const entry = heldEntry(card, 'occupied', {
      outcome: 'supply not right',
      values: {
        main: 10_500,
        foundDial: undefined,
        foundRoom: undefined,
        foundBranch: undefined,
        swingOne: undefined,
        swingOther: undefined,
      },
    });
    await service.call('bench.close', closing(card, [entry]));
  }
  const card = await cardOf(service, 'TC-N1-02');
  const entry = heldEntry(card, 'occupied', { values: { foundBranch: 9_600 } });
  return (await service.call('bench.close', closing(card, [entry]))).records[0].calibrationId;
}

async function fillPaper(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'All of these are so' }).click();
  for (const [kind, tag] of [
    ['Gauge', 'PG-1'],
    ['Thermometer', 'TH-1'],
  ])
    await page.getByLabel(kind, { exact: true }).selectOption({ label: tag });
  const rows = [
    ['13', '72', '72', '8.4', '0', '13', '71', 'held'],
    ['13', '72', '72', '4', '0', '13', '71', 'adjusted'],
    ['18', '', '', '', '', '', '', ''],
    ['13', '72', '72', '8.1', '0', '6', '71', 'held'],
  ];
  const fields = ['main', 'foundDial', 'foundRoom', 'foundBranch', 'swingOne', 'swingOther', 'dialBack'];
  for (const [index, row] of rows.entries()) {
    for (const [at, field] of fields.entries())
      if (row[at] !== '') await page.locator(`[name="row${index}-${field}"]`).fill(row[at]);
    if (row[7] !== '') await page.locator(`[name="row${index}-outcome"]`).selectOption(row[7]);
  }
}

async function recommend(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Recommend intervals' }).click();
  await page.getByRole('heading', { name: 'By test point' }).waitFor();
  await page.locator('[data-row]').first().focus();
  await page.keyboard.press('Enter');
  await page.getByRole('region', { name: /^Why, / }).waitFor();
  await page.getByRole('heading', { name: 'By test point' }).evaluate((head) => head.scrollIntoView());
}

async function fillBench(page: Page): Promise<void> {
  await page.getByLabel('Readings taken by').selectOption({ index: 1 });
  await page.getByLabel('Main pressure at the device').fill('13.1');
  const tickAll = page.getByRole('button', { name: 'All of these are so' });
  if (await tickAll.isVisible()) await tickAll.click();
  await page.getByLabel('Dial', { exact: true }).fill('71');
  await page.getByLabel('Room', { exact: true }).fill('72.2');
  await page.getByLabel('Branch', { exact: true }).fill('9.4');
  await page.getByLabel('Branch, dial 5 degrees one way').fill('0');
  await page.getByLabel('Branch, 5 degrees the other way').fill('13.1');
}

async function main(): Promise<void> {
  const all = process.argv.indexOf('--all');
  const target = all >= 0 ? path.resolve(process.argv[all + 1]) : path.join(root, 'docs', 'screenshots');
  mkdirSync(target, { recursive: true });
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-shots-'));
  const file = path.join(folder, 'wexmoor-sample.book');
  await createSampleBook(file);
  const service = createService({ book: await openBook(file), clock: fixedClock(NOW), log: console.error });
  const core = createRequestCore(service, readAssets(path.join(root, 'dist', 'renderer')));
  const host = await startLoopbackHost({ core, report: console.error });
  const browser = await chromium.launch({
    executablePath: chromiumPath,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
  const shown = await shotsOf(service);
  // README shows these; the others are only looked at.
  const unshown = ['settings', 'load', 'bench-regulator', 'trace', 'round-why'];
  const shots = all >= 0 ? shown : shown.filter((shot) => !unshown.includes(shot.name));
  const sizes =
    all >= 0
      ? [
          { width: 1440, height: 900 },
          { width: 1024, height: 700 },
        ]
      : [{ width: 1440, height: 900 }];
  const schemes = all >= 0 ? (['light', 'dark'] as const) : (['light'] as const);
  for (const size of sizes)
    for (const colorScheme of schemes) {
      const context = await browser.newContext({ viewport: size, colorScheme, reducedMotion: 'reduce' });
      const page = await context.newPage();
      page.on('console', (message) => {
        if (message.type() === 'error') console.error(`console: ${message.text()}`);
      });
      await page.goto(host.url);
      for (const shot of shots) {
        await page.goto(`http://127.0.0.1:${host.port}${shot.path}`);
        await page.locator('h1').waitFor();
        await shot.prepare?.(page);
        await page.waitForLoadState('networkidle');
        const suffix = all >= 0 ? `-${size.width}-${colorScheme}` : '';
        if (all < 0 && !shot.isScrolled) await page.evaluate(() => scrollTo(0, 0));
        await page.screenshot({
          path: path.join(target, `${shot.name}${suffix}.png`),
          fullPage: all >= 0 && size.width === 1024,
        });
      }
      await context.close();
    }
  await browser.close();
  await host.close();
  await service.close();
  rmSync(folder, { recursive: true });
}

await main();
