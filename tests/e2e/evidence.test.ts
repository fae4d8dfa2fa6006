/** The evidence screens in a real Chromium: choose, look, write, prove, save; weigh; a baseline; quantities; prices. */
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { expectClean, expectNoFaults, openSampleSite, openScreen, photograph } from './support.ts';
import type { SampleSite } from './support.ts';

let site: SampleSite;

/** A job that was started, or cancelled, from the keyboard leaves the focus where it was. */
async function expectFocusOn(page: Page, button: string): Promise<void> {
  await expect
    .poll(async () =>
      page.getByRole('button', { name: button }).evaluate((own) => own === document.activeElement),
    )
    .toBe(true);
}

beforeAll(async () => {
  site = await openSampleSite();
});

afterAll(async () => {
  await site.close();
});

describe.each(['light', 'dark'] as const)('in %s', (colorScheme) => {
  it('the pack is looked at before it is written, and its gaps stand there', async () => {
    const { page, faults } = await openScreen(site, '/evidence?building=HALL&from=2024-01-01', colorScheme);
    await page.getByRole('button', { name: 'Preview' }).press('Enter');
    const preview = page.getByRole('region', { name: 'What the pack would hold' });
    await preview.getByText('building HALL; 2024-01-01 to the last day.').waitFor();
    await preview.getByText(/Controllers without a served area/).waitFor();
    await expectFocusOn(page, 'Preview');
    await expectClean(page, faults);
    await photograph(page, `evidence-${colorScheme}`);
    // Another choice is another pack: what was counted for the one before is gone.
    await page.getByLabel('Main').selectOption('HM-N');
    expect(await preview.count()).toBe(0);
    expect(new URL(page.url()).searchParams.get('main')).toBe('HM-N');
    expectNoFaults(faults);
    await page.context().close();
  });

  it('errors are weighed, each with its method, its band and its cautions', async () => {
    const { page, faults } = await openScreen(site, '/evidence/energy', colorScheme);
    await page.getByText('Not weighed yet').waitFor();
    await page.getByRole('button', { name: 'Weigh' }).press('Enter');
    await expectFocusOn(page, 'Weigh');
    await page.getByText(/Mended in order, together: .*\$/u).waitFor();
    await page.getByText(/no area, or their building no loss or floor area: no fuel, no money/).waitFor();
    await page.getByRole('heading', { name: 'What limits these figures' }).waitFor();
    await page.getByText('TC-W3-12', { exact: true }).first().waitFor();
    await page.getByRole('row', { name: /TC-W3-12/ }).press('Enter');
    await page
      .getByRole('region', { name: /^Entry/ })
      .getByText(/degree days: monthly means \(Erbs\)/)
      .waitFor();
    await expectClean(page, faults);
    await photograph(page, `energy-${colorScheme}`);
    await page.context().close();
  });

  it('a baseline stands as operated and as intended, and quantities under three options', async () => {
    const { page, faults } = await openScreen(
      site,
      '/evidence/baseline?from=2025-11-01&to=2026-10-31',
      colorScheme,
    );
    await page.getByRole('button', { name: 'Work it out' }).press('Enter');
    await page.getByText(/Non-routine adjustment for drift/).waitFor();
    await page.getByText(/Billed 21,630 therms; as intended/).waitFor();
    await expectClean(page, faults);
    await photograph(page, `baseline-${colorScheme}`);
    await page.getByRole('link', { name: 'Retrofit quantities' }).press('Enter');
    await expect
      .poll(async () => page.evaluate(() => document.activeElement?.textContent))
      .toBe('Retrofit quantities');
    await page.getByRole('button', { name: 'Count' }).press('Enter');
    await page.getByRole('region', { name: 'Quantities' }).waitFor();
    await page.getByLabel('Option').selectOption('full electric');
    const all = page.getByRole('region', { name: 'Quantities' }).getByRole('row', { name: /^All/ });
    expect(await all.innerText()).toContain('275');
    await expectClean(page, faults);
    await photograph(page, `retrofit-${colorScheme}`);
    await page.context().close();
  });
});

describe('a pack', () => {
  it('is written, proved and saved by keyboard alone', async () => {
    const { page, faults } = await openScreen(site, '/evidence?main=HM-F');
    await page.getByText('None yet').waitFor();
    await page.getByRole('button', { name: 'Write as a zip' }).press('Enter');
    await page.getByRole('heading', { name: /evidence-2026-11-25-1\.zip is written/ }).waitFor();
    await page.getByRole('button', { name: 'Prove evidence-2026-11-25-1.zip' }).press('Enter');
    await page.getByText('evidence-2026-11-25-1.zip: sound.').waitFor();
    await expectFocusOn(page, 'Prove evidence-2026-11-25-1.zip');
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save evidence-2026-11-25-1.zip' }).press('Enter'),
    ]);
    expect(download.suggestedFilename()).toBe('evidence-2026-11-25-1.zip');
    const saved = readFileSync(await download.path());
    expect(saved.subarray(0, 2).toString()).toBe('PK');
    await page.getByRole('button', { name: 'Write as a folder' }).press('Enter');
    await page.getByRole('heading', { name: 'evidence-2026-11-25-2 is written' }).waitFor();
    expect(await page.getByRole('button', { name: /^Save evidence/ }).count()).toBe(1);
    await expectClean(page, faults);
    await photograph(page, 'pack-written');
    await page.context().close();
  });

  it('that is cancelled leaves nothing, and a scope that cannot be says why', async () => {
    const { page, faults } = await openScreen(site, '/evidence?tags=NO-SUCH');
    await page.getByRole('button', { name: 'Write as a folder' }).press('Enter');
    await page.getByText(/no device has this tag/).waitFor();
    const before = (await site.service.call('evidence.packs', {})).packs.length;
    await page.getByLabel('Tags').fill('');
    await page.getByRole('button', { name: 'Write as a folder' }).press('Enter');
    await page.getByRole('button', { name: 'Cancel' }).press('Enter');
    await page.getByRole('status').getByText('Cancelled; no pack was written.').waitFor();
    expect(await page.getByRole('alert').count()).toBe(0);
    await expectFocusOn(page, 'Write as a folder');
    expect((await site.service.call('evidence.packs', {})).packs.length).toBe(before);
    expect(faults.filter((fault) => !fault.includes('400'))).toEqual([]);
    await page.context().close();
  });
});

describe('prices and weather', () => {
  it('are set, and without them nothing has money', async () => {
    const { page, faults } = await openScreen(site, '/settings');
    const section = page.getByRole('region', { name: 'Energy' });
    await section.getByLabel('Heat').fill('');
    await section.getByLabel('Electricity').fill('a lot');
    await section.getByRole('button', { name: 'Save prices and weather' }).press('Enter');
    await section.getByText('not a number above zero').waitFor();
    await section.getByLabel('Electricity').fill('');
    await section.getByRole('button', { name: 'Save prices and weather' }).press('Enter');
    await expect
      .poll(async () => (await site.service.call('energy.settings', {})).values.heatPricePerTherm)
      .toBeNull();
    await section.getByLabel('Weather file').setInputFiles({
      name: 'weather.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from('month,mean_temp_degF\n1,23\n2,nonsense\n'),
    });
    await section.getByRole('button', { name: 'Load weather file' }).press('Enter');
    await section
      .getByText(/not a number/)
      .first()
      .waitFor();
    await expectClean(page, faults);
    await photograph(page, 'settings-energy');
    await page.goto(`${site.origin}/evidence/energy`);
    await page.getByRole('button', { name: 'Weigh' }).press('Enter');
    await page.getByText('No price of heat: no money for setpoints.').waitFor();
    expect(await page.getByRole('table').first().innerText()).not.toContain('$');
    expectNoFaults(faults);
    await page.context().close();
  });
});

describe('the files of a round', () => {
  it('are a table at any time, and a calendar for each person once it is issued', async () => {
    const { roundId } = await site.service.runJob('rounds.draw', {
      from: '2027-01-01',
      to: '2027-12-31',
      evaluations: 5_000,
    });
    const { page, faults } = await openScreen(site, `/round/${roundId}`);
    const files = page.getByRole('region', { name: 'Files of the round' });
    await files.getByText(/A draft has no calendars/).waitFor();
    const saved = async (button: string): Promise<string> => {
      const [download] = await Promise.all([
        page.waitForEvent('download'),
        files.getByRole('button', { name: button }).press('Enter'),
      ]);
      expect(readFileSync(await download.path()).length).toBeGreaterThan(1_000);
      return download.suggestedFilename();
    };
    expect(await saved('Save as a workbook')).toBe(`round-${roundId}.xlsx`);
    expect(await saved('Save as CSV')).toBe(`round-${roundId}.csv`);
    const { round } = await site.service.call('rounds.show', { id: roundId });
    await site.service.call('rounds.issue', { id: roundId, version: round.version });
    await page.reload();
    expect(await saved('Calendar of OV')).toBe(`round-${roundId}-OV.ics`);
    await files.scrollIntoViewIfNeeded();
    await expectClean(page, faults);
    await photograph(page, 'round-files');
    await page.context().close();
  });
});
