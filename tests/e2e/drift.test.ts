/** The drift book in a real Chromium: series of every length and kind, groups small and large, intervals recommended and accepted. */
import { mkdirSync } from 'node:fs';
import path from 'node:path';
import type { Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { plainFileStyle, upload } from '../support/books.ts';
import { atEverySize, expectClean, expectNoFaults, openSampleSite, openScreen } from './support.ts';
import type { SampleSite } from './support.ts';

let site: SampleSite;
const points = new Map<string, number>();
/** Photographs for whoever wants to look: `ALMANAC_PHOTOS=DIR npx vitest run --project e2e tests/e2e/drift.test.ts`. */
const photos = process.env.ALMANAC_PHOTOS;

/** As found by year; `>` before a figure is a bound, an arrow after it what was left, `x` a replacement. */
const histories: Record<string, string> = {
  'TC-Y-02': '0.1 0.4',
  'TC-Y-04': '0.1 0.2 0.4 0.5',
  'TC-Y-06': '-0.1 -0.2 -0.4 -0.5 -0.7 -0.8',
  'TC-Y-15': '0.1 0.3 0.2 0.6 0.5 0.9 0.8 0.9 1.0>0.1 0.3 0.4 0.6 0.7 0.9 0.9',
  'TC-Y-NEW': '0.1 0.4 0.9 1.6>0x 0.2 0.4',
  'TC-Y-BOUND': '>=2.5 >=2.5 >=2.5 >=2.5 >=2.5',
  'TC-Y-STUCK': '0.3 0.3 0.3 0.3 0.3 0.3',
};

function readingsFile(): string {
  const lines = Object.entries(histories).flatMap(([tag, text]) => {
    const visits = text.split(' ');
    return visits.map((word, index) => {
      const isBound = word.startsWith('>=');
      const [found, left = found] = (isBound ? word.slice(2) : word).replace('x', '').split('>');
      const outcome = left === found || isBound ? 'held' : 'adjusted';
      const year = 2026 - visits.length + index;
      return `${tag},only,${year}-04-1${index % 10},OV,${isBound ? 'device failed' : outcome},${found},${isBound ? '>=' : '='},${isBound ? '' : left},${word.endsWith('x') ? 'yes' : ''}`;
    });
  });
  return `tag,role,done_on,person,outcome,error_found,found_relation,error_left,replaced\n${lines.join('\n')}\n`;
}

beforeAll(async () => {
  site = await openSampleSite();
  if (photos) mkdirSync(photos, { recursive: true });
  const register = Object.keys(histories).flatMap((tag) => [
    `controller,${tag},,ANNEX,1,W1-01,1990-01-01,psi,degF,AM-W,single,,,,,,`,
    `setpoint,${tag},only,,,,,psi,degF,,,direct,70,4,3,13,output midpoint`,
  ]);
  const loaded = await site.service.runJob('register.load', {
    files: [
      upload(
        'register.csv',
        `class,tag,role,building,level,room,in_service_on,pressure_unit,temperature_unit,fed_by,controller_kind,action,dial,throttling_range,output_low,output_high,calibration_basis\n${register.join('\n')}\n`,
      ),
    ],
    style: plainFileStyle,
    dryRun: false,
  });
  expect(loaded.problems).toEqual([]);
  const readings = await site.service.runJob('records.load', {
    files: [upload('past.csv', readingsFile())],
    style: plainFileStyle,
    dryRun: false,
  });
  expect(readings.problems).toEqual([]);
  for (const tag of Object.keys(histories)) {
    const { series } = await site.service.call('drift.ofTag', { tag });
    points.set(tag, series[0].testPointId);
  }
});

afterAll(async () => {
  await site.close();
});

async function photograph(page: Page, name: string): Promise<void> {
  if (!photos) return;
  await atEverySize(page, async (end) => {
    await page.locator('.data-table, .table-frame').last().scrollIntoViewIfNeeded();
    await page.screenshot({ path: path.join(photos, `${name}-${end}.png`) });
    await page.screenshot({ path: path.join(photos, `${name}-${end}-whole.png`), fullPage: true });
  });
}

const openAt = (address: string, colorScheme: 'light' | 'dark' = 'light') =>
  openScreen(site, address, colorScheme);

describe.each(['light', 'dark'] as const)('one test point, in %s', (colorScheme) => {
  it.each([
    ['TC-Y-02', /^Last drift \+0\.30 °F; 2 readings are too few for a trend\.$/, 0],
    ['TC-Y-04', /0\.14 °F a year warmer.*with fewer than five this is a number, not a trend/, 0],
    [
      'TC-Y-06',
      /0\.1\d °F a year colder.*more than chance.*(leaves|will have left) tolerance about 202\d/,
      2,
    ],
    ['TC-Y-15', /by what it moved between adjustments, over 15 readings.*(be there|seen to) by/, 0],
    ['TC-Y-NEW', /2 readings are too few for a trend/, 0],
    [
      'TC-Y-BOUND',
      /^Every reading is only a bound \(5\): how far it is off is not known\. It stands outside its tolerance now\.$/,
      0,
    ],
    ['TC-Y-STUCK', /it would have stayed where it was, over 6 readings/, 2],
  ])('%s says no more than its readings allow', async (tag, words, bands) => {
    const { page, faults } = await openAt(`/drift/${points.get(tag)}`, colorScheme);
    await page.getByRole('heading', { name: new RegExp(tag) }).waitFor();
    expect(await page.locator('.lead').textContent()).toMatch(words);
    expect(await page.locator('svg .reading-band, svg .mean-band').count()).toBeGreaterThanOrEqual(bands);
    const control = page.getByRole('button', { name: 'Show the control chart' });
    if (await control.isVisible()) await control.press('Enter');
    await expectClean(page, faults);
    if (colorScheme === 'light') await photograph(page, `drift-${tag}`);
    await page.context().close();
  });
});

describe('groups', () => {
  it.each([
    ['/drift/groups?by=kind', 'setpoint', 'groups-kind'],
    [
      '/drift/groups?by=person&kind=setpoint&compareFrom=2019-01-01&compareTo=2021-12-31&from=2024-01-01&to=2026-12-31',
      'OV',
      'groups-person',
    ],
    // Of one point; and of three points beside some 350.
    ['/drift/groups?by=kind&kind=transmitter+zero', 'transmitter zero', 'groups-one'],
    ['/drift/groups?by=age&kind=setpoint', '20 to 30 years', 'groups-age'],
  ])('%s', async (address, row, name) => {
    const { page, faults } = await openAt(address);
    await page.getByRole('heading', { name: 'The twenty furthest out' }).waitFor();
    await page
      .getByRole('rowheader', { name: new RegExp(row) })
      .first()
      .waitFor();
    await expectClean(page, faults);
    await photograph(page, name);
    await page.context().close();
  });

  it('asks again when another key is chosen, and keeps the choice in the address', async () => {
    const { page, faults } = await openAt('/drift/groups');
    await page.getByRole('rowheader', { name: 'HM-N' }).waitFor();
    await page.getByLabel('By', { exact: true }).selectOption('level');
    await page.getByRole('rowheader', { name: 'HALL 2' }).waitFor();
    expect(page.url()).toContain('by=level');
    expectNoFaults(faults);
    await page.context().close();
  });
});

it('intervals are recommended, explained, taken one by one and together, and written', async () => {
  const { page, faults } = await openAt('/drift/intervals');
  await page.getByLabel('Working as').selectOption({ label: 'OV · Orla Venn' });
  await page.getByRole('button', { name: 'Recommend intervals' }).click();
  await page.getByRole('heading', { name: 'By test point' }).waitFor();
  await page.locator('[data-row]').first().focus();
  await page.keyboard.press('Enter');
  await page.getByRole('region', { name: /^Why, / }).waitFor();
  await expectClean(page, faults);
  await photograph(page, 'intervals');
  await page.getByLabel('Show', { exact: true }).selectOption('shorter');
  await page.getByRole('button', { name: /^Take all \d+ shown$/ }).click();
  const accept = page.getByRole('button', { name: /^Accept \d+$/ });
  expect(await accept.isDisabled()).toBe(true);
  await page.getByLabel('Why these are taken').fill('they creep');
  await accept.click();
  await page.getByText(/\d+ intervals written; due dates moved with them/).waitFor();
  const report = await site.service.runJob('records.verify', {});
  expect(report.problems).toEqual([]);
  expectNoFaults(faults);
  await page.context().close();
});
