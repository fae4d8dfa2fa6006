/** Every class of card in a real Chromium: a good one that holds, and a failing one that opens a follow-up with its likely causes. */
import { mkdirSync } from 'node:fs';
import path from 'node:path';
import type { Page } from 'playwright';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { expectNoFaults, openSampleSite, watchedPage } from './support.ts';
import type { SampleSite } from './support.ts';

let site: SampleSite;
/** Photographs of the cards for whoever wants to look: `ALMANAC_PHOTOS=DIR npx vitest run --project e2e tests/e2e/cards.test.ts`. */
const photos = process.env.ALMANAC_PHOTOS;

beforeAll(async () => {
  site = await openSampleSite();
  if (photos) mkdirSync(photos, { recursive: true });
});

afterAll(async () => {
  await site.close();
});

type Values = Record<string, string>;
type Walk = {
  name: string;
  tag: string;
  role?: string;
  instruments: Record<string, string>;
  good: Values;
  /** Laid over the good values. */
  bad: Values;
  /** What the failing card says before it is closed. */
  says: string;
  outcome: 'device failed' | 'supply not right';
  /** First of the likely causes; none where there is no symptom. */
  likely: string | null;
};

const gauge = { Gauge: 'PG-1' };
const both = { Gauge: 'PG-1', Thermometer: 'TH-1' };

const walks: Walk[] = [
  {
    name: 'setpoint',
    tag: 'TC-S1-03',
    role: 'occupied',
    instruments: both,
    good: {
      main: '13',
      foundDial: '72',
      foundRoom: '72',
      foundBranch: '8.4',
      swingOne: '0',
      swingOther: '12.9',
      dialBack: '71',
    },
    bad: { foundBranch: '0', swingOther: '0.2' },
    says: 'does not pass both ends of the spring range',
    outcome: 'device failed',
    likely: 'restrictor plugged',
  },
  {
    name: 'humidity controller',
    tag: 'HC-ARCHIVE',
    role: 'only',
    instruments: { Gauge: 'PG-1', Hygrometer: 'HY-1' },
    good: {
      main: '20',
      foundDial: '50',
      foundRoom: '50',
      foundBranch: '8.5',
      swingOne: '0',
      swingOther: '19.9',
      dialBack: '45',
    },
    bad: { foundBranch: '11' },
    says: 'outside',
    outcome: 'device failed',
    likely: null,
  },
  {
    name: 'receiver-controller',
    tag: 'RC-HALL-HW',
    role: 'only',
    instruments: { Gauge: 'PG-3' },
    good: {
      main: '18',
      dial: '140',
      test: '9.06',
      testUp: '9.5',
      outputUp: '12.1',
      testDown: '8.5',
      outputDown: '3.9',
      resetAt1: '30',
      resetSetpoint1: '141',
      resetAt2: '0',
      resetSetpoint2: '179',
      dialBack: '140',
      moves: 'yes',
    },
    bad: { outputUp: '8', outputDown: '8' },
    says: 'the output does not follow the test pressure',
    outcome: 'device failed',
    likely: 'linkage or bimetal loose',
  },
  {
    name: 'single regulator',
    tag: 'PRV-AW',
    instruments: gauge,
    good: { low: '20.2', lowShut: '20.5', lowShutLater: '20.9', reliefLifts: '27.5' },
    bad: { lowShutLater: '22.1' },
    says: 'low: rises 1.6 psi in 5 min',
    outcome: 'device failed',
    likely: 'seat or diaphragm dirty',
  },
  {
    name: 'two-pressure regulator',
    tag: 'PRV-HN',
    instruments: gauge,
    good: {
      outdoor: '55',
      inlet: '80',
      low: '13.1',
      high: '17.9',
      pilot: '18',
      lowShut: '13.4',
      lowShutLater: '13.7',
      highShut: '18.2',
      highShutLater: '18.5',
      reliefLifts: '25.1',
      reliefReseats: '23',
      filterDrop: '2',
      secondsUp: '40',
      secondsDown: '55',
    },
    bad: { reliefLifts: '17.4', reliefReseats: '16' },
    says: 'relief does not lift above the highest setting',
    outcome: 'device failed',
    likely: 'seat or diaphragm dirty',
  },
  {
    name: 'switchover relay',
    tag: 'SR-HN',
    instruments: gauge,
    good: {
      outdoor: '55',
      noIs: 'supply air',
      ncIs: 'exhaust',
      volts: '118',
      click: 'yes',
      hum: 'no',
      sourceOff: '18',
      commonOff: '17.8',
      sourceOn: '0',
      commonOn: '0.1',
      leak: 'no',
      powerLossState: 'high',
    },
    bad: { click: 'no', commonOn: '17.5' },
    says: 'does not shift both ways',
    outcome: 'device failed',
    likely: 'coil open or without voltage',
  },
  {
    name: 'time switch',
    tag: 'TS-HALL',
    instruments: {},
    good: {
      clock: '-2',
      weekday: 'yes',
      daylight: 'yes',
      programme: 'yes',
      holidays: 'yes',
      reserve: 'yes',
      override: 'yes',
    },
    bad: { reserve: 'no' },
    says: 'not so: keeps time through 5 minutes without power',
    outcome: 'device failed',
    likely: 'reserve exhausted',
  },
  {
    name: 'switchover proof of a main',
    tag: 'HM-N',
    instruments: gauge,
    good: {
      outdoor: '55',
      stationLow: '13.1',
      farLow: '12.8',
      stationHigh: '18.2',
      farHigh: '17.9',
      minutesUp: '3.5',
      minutesDown: '6',
      powerLossState: 'high',
      sampled: '5',
      changed: '5',
      farthest: 'yes',
    },
    bad: { farHigh: '16.2', changed: '3' },
    says: 'margins 0.9 psi low, -0.8 psi high against the worst controller',
    outcome: 'supply not right',
    likely: 'crimped or undersized tube',
  },
  {
    name: 'main with one pressure',
    tag: 'AM-W',
    instruments: gauge,
    good: { stationLow: '20.2', farLow: '19.7' },
    bad: { farLow: '18.5' },
    says: '1.7 psi is lost on the way to the far end',
    outcome: 'supply not right',
    likely: 'crimped or undersized tube',
  },
  {
    name: 'transmitter, five up and five down',
    tag: 'TX-HALL-OA',
    instruments: { Gauge: 'PG-3', Thermometer: 'TH-1' },
    good: {
      main: '18',
      reference1up: '-20',
      output1up: '4.2',
      reference2up: '10',
      output2up: '6',
      reference3up: '60',
      output3up: '9.05',
      reference4up: '90',
      output4up: '10.8',
      reference5up: '140',
      output5up: '13.8',
      reference1down: '140',
      output1down: '13.85',
      reference2down: '90',
      output2down: '10.85',
      reference3down: '60',
      output3down: '9.1',
      reference4down: '10',
      output4down: '6.05',
      reference5down: '-20',
      output5down: '4.25',
    },
    bad: { output1up: '4.5', output5up: '14.2' },
    says: 'at 140 °F it should send 13.8 psi',
    outcome: 'device failed',
    likely: 'no field span: replace',
  },
  {
    name: 'actuator',
    tag: 'VH-N1-01',
    instruments: gauge,
    good: {
      normal: 'open',
      load: 'unloaded',
      startUp: '3.2',
      endUp: '7.2',
      endDown: '6.8',
      startDown: '2.7',
      reached: '100',
      holdAtOnce: '8.4',
      holdLater: '8.2',
      linkage: 'yes',
      seat: 'yes',
    },
    bad: { holdLater: '5.1' },
    says: 'loses 3.3 psi in 5 min',
    outcome: 'device failed',
    likely: 'diaphragm torn',
  },
  {
    name: 'air station',
    tag: 'AS-HALL',
    instruments: both,
    good: {
      on1: '3',
      off1: '8',
      on2: '3',
      off2: '7.5',
      on3: '3.2',
      off3: '8.1',
      cutIn: '70',
      cutOut: '90',
      receiver: '85',
      drained: '200',
      oil: 'no',
      autoDrain: 'yes',
      handDrain: 'yes',
      belt: 'yes',
      oilLevel: 'yes',
      intake: 'yes',
      dewPoint: '29',
      dewPressure: '85',
      drop1: '2',
      drop2: '1',
      reducing: 'yes',
      relief: 'yes',
      safetyValve: '2026-05-04',
      standby: 'yes',
    },
    bad: { dewPoint: '44', on1: '9', on2: '9', on3: '9' },
    says: 'runs 53.4 % of the time over 3 cycles',
    outcome: 'device failed',
    likely: 'leaks growing',
  },
];

async function openCard(page: Page, { tag, role, instruments }: Walk): Promise<void> {
  const { id } = await site.service.call('register.find', { tag });
  await page.goto(`${site.origin}/bench/${id}${role ? `?role=${role}` : ''}`);
  await page.getByLabel('Readings taken by').selectOption({ label: 'OV · Orla Venn' });
  for (const [kind, name] of Object.entries(instruments))
    await page.getByLabel(kind, { exact: true }).selectOption({ label: name });
}

async function fillIn(page: Page, { role }: Walk, values: Values): Promise<void> {
  for (const [key, value] of Object.entries(values)) {
    const field = page.locator(`[name="${role ?? 'device'}-${key}"]`);
    if ((await field.evaluate((element) => element.tagName)) === 'SELECT') await field.selectOption(value);
    else await field.fill(value);
  }
}

async function tickAll(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'All of these are so' }).click();
  const last = page.locator('.steps > li').filter({ has: page.getByRole('heading', { name: 'Put back' }) });
  for (const box of await last.locator('input[type=checkbox]').all()) await box.check();
}

async function photograph(page: Page, name: string): Promise<void> {
  if (photos)
    await page.screenshot({ path: path.join(photos, `${name.replace(/\W+/g, '-')}.png`), fullPage: true });
}

it.each(walks)('$name: a good card holds', async (walk) => {
  const context = await site.browser.newContext({ viewport: { width: 1440, height: 900 } });
  const { page, faults } = await watchedPage(context, site.origin);
  await page.goto(site.host.url);
  await openCard(page, walk);
  await fillIn(page, walk, walk.good);
  await tickAll(page);
  await page.getByLabel('Outcome').selectOption('held');
  await photograph(page, `${walk.name} good`);
  await page.getByRole('button', { name: 'Close the card' }).click();
  await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
  expectNoFaults(faults);
  await context.close();
});

it.each(walks)(
  '$name: a failing card says so, and opens a follow-up with its likely causes',
  async (walk) => {
    const context = await site.browser.newContext({
      viewport: { width: 1024, height: 700 },
      colorScheme: 'dark',
    });
    const { page, faults } = await watchedPage(context, site.origin);
    await page.goto(site.host.url);
    await openCard(page, walk);
    await fillIn(page, walk, { ...walk.good, ...walk.bad });
    await tickAll(page);
    await page.getByText(walk.says).first().waitFor();
    await page.getByLabel('Outcome').selectOption('held');
    await page.getByRole('button', { name: 'Close the card' }).click();
    await page.getByRole('alert').getByText('The card cannot be closed yet.').waitFor();
    await photograph(page, `${walk.name} failing`);
    await page.getByLabel('Outcome').selectOption(walk.outcome);
    await page.getByRole('button', { name: 'Close the card' }).click();
    await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
    const { rows } = await site.service.call('followUps.list', {});
    const opened = rows.find((row) => row.tag === walk.tag);
    expect([opened?.cause.startsWith(walk.outcome), opened?.likely[0] ?? null]).toEqual([true, walk.likely]);
    expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
    expectNoFaults(faults);
    await context.close();
  },
);

it('the book is sound after all of them', async () =>
  expect(await site.service.runJob('records.verify', {})).toMatchObject({ sound: true, problems: [] }));
