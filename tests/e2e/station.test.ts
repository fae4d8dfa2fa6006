/** The sheet of an air station in a real Chromium: looked at, walked by keyboard, a test and a leak logged and corrected. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { expectClean, expectNoFaults, openSampleSite, openScreen, photograph } from './support.ts';
import type { SampleSite } from './support.ts';

let site: SampleSite;

beforeAll(async () => {
  site = await openSampleSite();
});

afterAll(async () => {
  await site.close();
});

async function stationId(tag: string): Promise<number> {
  const { id } = await site.service.call('register.find', { tag });
  return id ?? 0;
}

/** The page of a station, with somebody working at it. */
async function openSheet(tag: string, colorScheme: 'light' | 'dark' = 'light') {
  const opened = await openScreen(site, `/register/station/${await stationId(tag)}`, colorScheme);
  await opened.page.getByRole('region', { name: 'What it has to carry' }).waitFor();
  await opened.page.getByLabel('Working as').selectOption({ index: 1 });
  return opened;
}

describe.each(['light', 'dark'] as const)('the sheet of a station, in %s', (colorScheme) => {
  it('says what it carries, how it runs, and how dry its air is, and is clean', async () => {
    const { page, faults } = await openSheet('AS-HALL', colorScheme);
    const carries = page.getByRole('region', { name: 'What it has to carry' });
    await carries.getByText(/It runs 27\.3 % of the time/).waitFor();
    await carries.getByText(/Capacity: 12\.4 scfm, measured 2026-05-18; the register says 14 scfm/).waitFor();
    await page
      .getByText(/the trend is more than chance\. It passes its limit about 20/)
      .first()
      .waitFor();
    await page.getByRole('region', { name: 'Dry and clean enough' }).getByText('-:4:3').waitFor();
    await expectClean(page, faults);
    if (colorScheme === 'light') await photograph(page, 'station');
    await page.context().close();
  });
});

describe('tests and leaks of a station', () => {
  it('are logged with what they come to, and corrected, by keyboard', async () => {
    const { page, faults } = await openSheet('AS-ANNEX');
    await page.getByRole('button', { name: 'Log a test' }).press('Enter');
    const form = page.getByRole('form', { name: 'Test' });
    await form.getByLabel('Kind of test').selectOption('regulated demand');
    // The worked example of the tests: 60 gal from 80 to 60 psi in 12 minutes is 0.909 scfm.
    await form.getByLabel('Volume', { exact: true }).fill('60');
    for (const figure of ['80', '60', '12']) {
      await page.keyboard.press('Tab');
      await page.keyboard.type(figure);
    }
    await form.getByText('Demand: 0.909 scfm').waitFor();
    await form.getByText(/Factor 1: what hangs behind the reducing valve/).waitFor();
    await expectClean(page, faults);
    await photograph(page, 'station-test');
    await page.reload();
    await page.getByRole('button', { name: 'Log a test' }).press('Enter');
    await form.getByText('Demand: 0.909 scfm').waitFor();
    await form.getByRole('button', { name: 'Save the test' }).press('Enter');
    await form.waitFor({ state: 'detached' });
    const table = page.getByRole('region', { name: 'Table of tests' });
    await table.getByRole('row', { name: /regulated demand .* 0\.909 scfm 1\.00/ }).waitFor();
    await expect
      .poll(async () => page.evaluate(() => document.activeElement?.textContent))
      .toBe('Log a test');
    const id = (
      await table
        .getByRole('button', { name: /^Correct test/ })
        .first()
        .textContent()
    )
      ?.split(' ')
      .at(-1);
    await table.getByRole('button', { name: `Correct test ${id}` }).press('Enter');
    await form.getByLabel('Time', { exact: true }).fill('11');
    await form.getByRole('button', { name: 'Save the test' }).press('Enter');
    await form.getByText('say why').first().waitFor();
    await form.getByLabel('Why it is corrected').fill('the watch was read wrongly');
    await form.getByRole('button', { name: 'Save the test' }).press('Enter');
    await table.getByText(`corrected by test ${Number(id) + 1}`).waitFor();
    expectNoFaults(faults.filter((fault) => !fault.includes('400')));
    await page.context().close();
  });

  it('refuse what cannot be, beside the field', async () => {
    const { page } = await openSheet('AS-ANNEX');
    await page.getByRole('button', { name: 'Log a test' }).press('Enter');
    const form = page.getByRole('form', { name: 'Test' });
    await form.getByLabel('Kind of test').selectOption('pump-up');
    await form.getByLabel('Volume', { exact: true }).fill('60');
    await form.getByLabel('Pressure at the start').fill('80');
    await form.getByLabel('Pressure at the end').fill('60');
    await form.getByLabel('Time', { exact: true }).fill('2');
    await form.getByText('lies above that at the start').waitFor();
    await form.getByRole('button', { name: 'Leave unchanged' }).press('Enter');
    await page.context().close();
  });

  it('keep a log of leaks with what they lose, and of repairs', async () => {
    const { page, faults } = await openSheet('AS-HALL');
    await page.getByRole('button', { name: 'Log a leak' }).press('Enter');
    const form = page.getByRole('form', { name: 'Leak' });
    await form.getByLabel('At the device, tag').fill('HM-S');
    await form.getByLabel('Place').fill('tee above the stair');
    await form.getByLabel('Size, across').fill('1/32');
    await form.getByLabel('Pressure behind it').fill('20');
    await form.getByLabel('Coefficient').fill('0.61');
    // 1/32 in, coefficient 0.61, 20 psi: 0.3005 scfm.
    await form.getByText('Loses about 0.3 scfm').waitFor();
    await expectClean(page, faults);
    await photograph(page, 'station-leak');
    await form.getByRole('button', { name: 'Save the leak' }).press('Enter');
    await form.waitFor({ state: 'detached' });
    const log = page.getByRole('region', { name: 'Log of leaks' });
    const row = log.getByRole('row', { name: /tee above the stair/ });
    await row.getByRole('button', { name: /is mended$/ }).press('Enter');
    const dialog = page.getByRole('dialog');
    await dialog.getByLabel('What was done').fill('new tee, soap test good');
    await dialog.getByRole('button', { name: 'Save the repair' }).press('Enter');
    await row.getByText(/^mended 20/).waitFor();
    expectNoFaults(faults);
    await page.context().close();
  });

  it('work out the flow through a hole, and keep it in the address', async () => {
    const { page, faults } = await openSheet('AS-HALL');
    const hole = page.getByRole('region', { name: 'Flow through a hole' });
    await hole.getByLabel('Pressure before it').fill('8');
    await hole.getByLabel('Its coefficient').fill('0.61');
    await hole.getByText('0.19 scfm').waitFor();
    await hole.getByText(/^.*Not choked/).waitFor();
    expect(page.url()).toContain('above=8');
    await hole.getByLabel('Its coefficient').fill('2');
    await hole.getByText('It takes a hole of 0 in and more, a coefficient above 0 and up to 1.').waitFor();
    expectNoFaults(faults);
    await page.context().close();
  });
});

describe('on paper', () => {
  it('every test stands, and no button', async () => {
    const { page } = await openSheet('AS-HALL');
    await page.emulateMedia({ media: 'print' });
    const rows = page.getByRole('region', { name: 'Table of tests' }).locator('tbody tr');
    expect(await rows.count()).toBe(30);
    for (const row of [rows.first(), rows.last()]) expect(await row.isVisible()).toBe(true);
    expect(await page.locator('button:visible').count()).toBe(0);
    await page.context().close();
  });
});

describe('a figure that cannot be read', () => {
  it('is never left out of what is saved', async () => {
    const { page } = await openSheet('AS-HALL');
    await page.getByRole('button', { name: 'Log a test' }).press('Enter');
    const form = page.getByRole('form', { name: 'Test' });
    await form.getByLabel('Kind of test').selectOption('pump-up');
    for (const [label, value] of [
      ['Volume', '60'],
      ['Pressure at the start', '60'],
      ['Pressure at the end', '80'],
      ['Time', '1.5'],
      ['Demand meanwhile, may stay empty', 'abc'],
    ])
      await form.getByLabel(label, { exact: true }).fill(value);
    expect(await form.getByText('Delivers:').count()).toBe(0);
    await form.getByRole('button', { name: 'Save the test' }).press('Enter');
    await form.getByText('Not saved: demand meanwhile cannot be read as a figure.').waitFor();
    await form.getByLabel('Demand meanwhile, may stay empty').fill('1,500');
    await form.getByText(/thousands, or a decimal comma/).waitFor();
    await form.getByRole('button', { name: 'Leave unchanged' }).press('Enter');
    await page.context().close();
  });
});

describe('the steady use of a device', () => {
  it('takes what was measured before its kind', async () => {
    const { page, faults } = await openScreen(site, `/register/${await stationId('TC-S1-01')}`);
    await page.getByLabel('Working as').selectOption({ index: 1 });
    const use = page.getByRole('region', { name: 'Steady air use' });
    await use.getByText(/by its kind/).waitFor();
    await use.getByRole('button', { name: 'Log its measured use' }).press('Enter');
    await use.getByLabel('Steady flow').fill('12,5');
    await use.getByRole('button', { name: 'Save the test' }).press('Enter');
    await use.getByText(/12\.5 scim, measured 20/).waitFor();
    await expectClean(page, faults);
    await page.context().close();
  });
});
