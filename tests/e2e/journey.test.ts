/** The main job, end to end: from an empty book and a register file to a drift chart with one more point. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { createBook } from '../../db/book.ts';
import { expectNoFaults, launchBrowser, root, startHostProcess, watchedPage } from './support.ts';
import type { HostProcess } from './support.ts';

const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-journey-'));
const book = path.join(folder, 'riverside.book');
let browser: Browser;
let host: HostProcess;

beforeAll(async () => {
  await (await createBook(book)).close();
  host = await startHostProcess(book, folder);
  browser = await launchBrowser();
});

afterAll(async () => {
  await browser.close();
  await host.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function addCrew(page: Page): Promise<void> {
  await page.getByRole('link', { name: 'Settings' }).click();
  for (const shift of [
    { name: 'early', from: '04:00', to: '05:30', minutes: '90', occupied: false },
    { name: 'day', from: '07:00', to: '15:30', minutes: '390', occupied: true },
  ]) {
    await page.getByRole('button', { name: 'Add a shift' }).click();
    await page.getByLabel('Shift', { exact: true }).fill(shift.name);
    await page.getByLabel('From', { exact: true }).fill(shift.from);
    await page.getByLabel('To', { exact: true }).fill(shift.to);
    await page.getByLabel('Minutes of work').fill(shift.minutes);
    await page.getByLabel('The building is occupied then').setChecked(shift.occupied);
    await page.getByRole('button', { name: 'Save the shift' }).click();
    await page.getByRole('rowheader', { name: shift.name }).waitFor();
  }
  await page.getByRole('button', { name: 'Add a person' }).click();
  const people = page.getByRole('region', { name: 'People' });
  await people.getByLabel('Name').fill('Orla Venn');
  await people.getByLabel('Initials').fill('OV');
  await people.getByLabel('early').check();
  await people.getByLabel('day').check();
  await people.getByRole('button', { name: 'Save the person' }).click();
  await page.getByRole('rowheader', { name: 'OV' }).waitFor();
}

/** Fills one setpoint of the card, found inside, in its own air state. */
async function fillSetpoint(
  page: Page,
  role: string,
  figures: { main: string; dial: string },
): Promise<void> {
  const section = page.getByRole('region', { name: `${role} setpoint` });
  await section.getByLabel('Main pressure at the device').fill(figures.main);
  await section.getByRole('button', { name: 'All of these are so' }).click();
  await section.getByLabel('Dial', { exact: true }).fill('21,5');
  await section.getByLabel('Room', { exact: true }).fill('21,5');
  await section.getByLabel('Branch', { exact: true }).fill('60');
  await section.getByLabel('Branch, dial 5 degrees one way').fill('0');
  await section.getByLabel('Branch, 5 degrees the other way').fill('88');
  await section.getByLabel('Dial put back to').fill(figures.dial);
  for (const words of [
    'Main is back in its natural state',
    'Overrides are released',
    'Isolated valves are open',
  ])
    await section.getByLabel(words).check();
  await section.getByLabel('Outcome').selectOption('held');
}

it('load a register, see it due, draw the round, open a day sheet, log both setpoints, see the drift grow', async () => {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  const { page, faults } = await watchedPage(context, host.origin);
  await page.goto(host.url);
  expect(page.url()).not.toContain('#t=');

  // An empty book says what to do next.
  await page.getByRole('heading', { name: 'This book has no register yet' }).waitFor();
  await page.getByRole('link', { name: 'Load a register from CSV' }).click();

  // The file is metric, semicolons, decimal comma: declared, tried dry, loaded, and loaded again.
  await page.setInputFiles('input[type=file]', path.join(root, 'tests/register/files/riverside-metric.csv'));
  await page.getByRole('button', { name: 'Load', exact: true }).click();
  await page.getByText(/problems?; nothing was changed/).waitFor();
  await page.getByLabel('Pressures').selectOption('kPa');
  await page.getByLabel('Temperatures').selectOption('degC');
  await page.getByLabel('Dates').selectOption('dmy');
  await page.getByLabel('Decimals').selectOption('comma');
  await page.getByRole('button', { name: 'Try without changing anything' }).click();
  await page.getByText('Dry run: 59 rows would be added').waitFor();
  await page.getByRole('button', { name: 'Load', exact: true }).click();
  await page.getByText('59 rows added').waitFor();
  await page.getByRole('button', { name: 'Load', exact: true }).click();
  await page.getByText('nothing was changed').waitFor();

  // It is due.
  await page.getByRole('link', { name: 'Due' }).click();
  await page.getByRole('link', { name: 'TR-0.2' }).first().waitFor();

  await addCrew(page);

  // What it is read with.
  await page.getByRole('link', { name: 'Gauges' }).click();
  for (const [tag, kind, unit, to, accuracy] of [
    ['PG-J', 'Gauge', 'kPa', '200', '0,5'],
    ['TH-J', 'Thermometer', '°C', '50', '0,1'],
  ]) {
    await page.getByRole('button', { name: 'Add an instrument' }).click();
    await page.getByLabel('Tag').fill(tag);
    await page.getByLabel('Kind').selectOption({ label: kind });
    await page.getByLabel('Unit').selectOption({ label: unit });
    await page.getByLabel('Range to').fill(to);
    await page.getByLabel('Accuracy, ±').fill(accuracy);
    await page.getByLabel('Certificate valid until').fill('2099-06-30');
    await page.getByRole('button', { name: 'Save the instrument' }).click();
    await page.getByRole('button', { name: `Edit ${tag}` }).waitFor();
  }

  // The round.
  await page.getByRole('link', { name: 'Round' }).click();
  await page.getByRole('button', { name: 'Draw', exact: true }).click();
  await page.getByRole('heading', { name: 'Days: load against capacity' }).waitFor({ timeout: 30_000 });
  await page
    .getByRole('link', { name: /Day sheet of OV/ })
    .first()
    .click();

  // The day sheet, and its PDF with boxes.
  await page.getByRole('heading', { name: /Day sheet/ }).waitFor();
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: 'PDF with blank boxes' }).click(),
  ]);
  const pdf = path.join(folder, 'sheet.pdf');
  await download.saveAs(pdf);
  expect(execFileSync('pdftotext', [pdf, '-'], { encoding: 'utf8' })).toContain('Day sheet: Orla Venn (OV)');

  // The bench card: first the wrong state, then both setpoints in their own.
  await page.getByRole('link', { name: 'Register' }).click();
  await page.getByLabel('Find').fill('TR-0.2');
  await page.getByRole('link', { name: 'TR-0.2' }).click();
  await page.getByRole('link', { name: 'drift of unoccupied' }).click();
  await page.getByRole('heading', { name: 'No reading yet' }).waitFor();
  await page.getByRole('link', { name: 'TR-0.2' }).click();
  await page.getByRole('link', { name: 'Open bench card' }).click();
  await page.getByLabel('Readings taken by').selectOption({ label: 'OV · Orla Venn' });
  await page.getByLabel('Gauge', { exact: true }).selectOption({ label: 'PG-J' });
  await page.getByLabel('Thermometer', { exact: true }).selectOption({ label: 'TH-J' });
  const occupied = page.getByRole('region', { name: 'occupied setpoint', exact: true });
  await occupied.getByLabel('Main pressure at the device').fill('120');
  await occupied.getByText('wrong state').waitFor();
  expect(await occupied.getByLabel('Branch', { exact: true }).isDisabled()).toBe(true);
  await fillSetpoint(page, 'occupied', { main: '90', dial: '21,5' });
  await occupied.getByText('inside', { exact: true }).first().waitFor();
  await page.getByRole('button', { name: 'Also do the unoccupied setpoint on this visit' }).click();
  await fillSetpoint(page, 'unoccupied', { main: '120', dial: '16' });

  // Not yet: the first one has to be read again.
  await page.getByRole('button', { name: 'Close the card' }).click();
  await page.getByRole('alert').getByText('read the first setpoint again').waitFor();

  // What is typed survives a reload.
  await page.getByText('draft kept').waitFor();
  await page.reload();
  await page.getByText(/draft of .* taken up/).waitFor();
  expect(
    await page
      .getByRole('region', { name: 'unoccupied setpoint' })
      .getByLabel('Dial put back to')
      .inputValue(),
  ).toBe('16');
  const again = page.getByRole('region', { name: 'occupied setpoint', exact: true });
  await again.getByLabel('Room again').fill('21.5');
  await again.getByLabel('Dial again').fill('21.5');
  await again.getByLabel('Branch again').fill('58');
  await page.getByRole('button', { name: 'Close the card' }).click();
  await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();

  // The drift chart has grown by one point for each setpoint.
  await page.getByRole('link', { name: 'Drift of unoccupied' }).click();
  await page.getByRole('img', { name: /Error of TR-0.2 unoccupied/ }).waitFor();
  expect(await page.locator('.drift-chart > svg circle.found').count()).toBe(1);
  expect(await page.getByRole('region', { name: 'Drift figures' }).locator('tbody tr').count()).toBe(1);

  // And the book is sound.
  await page.getByRole('link', { name: 'Settings' }).click();
  await page.getByRole('button', { name: 'Verify the book' }).click();
  await page.getByText(/2 records, \d+ readings/).waitFor();
  await page.getByRole('status').getByText('sound', { exact: true }).waitFor();
  expectNoFaults(faults);
  await context.close();
});

it('an acknowledged card survives a kill of the host, and the book is sound', async () => {
  await host.stop('SIGKILL');
  const out = execFileSync(process.execPath, ['host/cli.ts', 'verify', '--book', book, '--json'], {
    cwd: root,
    encoding: 'utf8',
  });
  expect(JSON.parse(out)).toMatchObject({ sound: true, calibrations: 2 });
  host = await startHostProcess(book, folder);
});
