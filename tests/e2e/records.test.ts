/** The auditor's and the manager's half in a real Chromium: a correction, an instrument that was wrong, one cause for three, a device replaced. */
import type { Page } from 'playwright';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { cardOf, closing, heldEntry } from '../support/bench.ts';
import { expectNoFaults, openSampleSite, watchedPage } from './support.ts';
import type { SampleSite } from './support.ts';

let site: SampleSite;

beforeAll(async () => {
  site = await openSampleSite();
});

afterAll(async () => {
  await site.close();
});

async function openPage(path: string): Promise<{ page: Page; faults: string[] }> {
  const context = await site.browser.newContext({ viewport: { width: 1440, height: 900 } });
  const watched = await watchedPage(context, site.origin);
  await watched.page.goto(site.host.url);
  await watched.page.getByLabel('Working as').selectOption({ label: 'OV · Orla Venn' });
  await watched.page.goto(`${site.origin}${path}`);
  return watched;
}

async function closed(tag: string, change: Parameters<typeof heldEntry>[2] = {}): Promise<number> {
  const card = await cardOf(site.service, tag);
  const done = await site.service.call('bench.close', closing(card, [heldEntry(card, 'occupied', change)]));
  return done.records[0].calibrationId;
}

it('a record is corrected: the old figures are laid out, both records stay, the earlier struck through', async () => {
  const wrong = await closed('TC-N1-02', { values: { foundBranch: 9_600 } });
  const { page, faults } = await openPage(`/records/${wrong}`);
  await page.getByRole('link', { name: 'Correct this record' }).click();
  const card = page.getByRole('region', { name: 'occupied setpoint' });
  expect(await card.getByLabel('Branch', { exact: true }).inputValue()).toBe('9.6');
  await card.getByLabel('Branch', { exact: true }).fill('8.6');
  await page.getByRole('button', { name: 'Write the correction' }).click();
  await page.getByRole('alert').getByText('say why the record is corrected').waitFor();
  await page.getByLabel('Why it is corrected').fill('8.6 on the sheet, typed 9.6');
  await page.getByRole('button', { name: 'Write the correction' }).click();
  await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
  await page.getByRole('link', { name: /^Record \d+$/ }).click();
  await page.getByText('Takes the place of').waitFor();
  await page.getByText('−0.24 °F').first().waitFor();
  await page.getByRole('link', { name: `record ${wrong}` }).click();
  await page.getByText('Corrected by').waitFor();
  expect(await page.getByRole('link', { name: 'Correct this record' }).count()).toBe(0);
  await page.getByRole('link', { name: 'TC-N1-02' }).click();
  const row = page.getByRole('region', { name: 'Records' }).locator('tr.struck').first();
  await row.getByText('corrected by record').waitFor();
  expectNoFaults(faults);
  await page.context().close();
});

it('an instrument turns out wrong: its records are re-stated, and those that change are followed up in one step', async () => {
  await closed('TC-N1-03', { values: { foundBranch: 10_300 } });
  const { page, faults } = await openPage('/gauges');
  await page.getByRole('link', { name: 'Found wrong: trace PG-1' }).click();
  await page.getByLabel('It read too high by').fill('-0,4');
  await page.getByLabel('In doubt since').fill('2026-11-25');
  // e = -(10.3 - 8)/2.5 = -0.92; the truth was 10.7: -1.08, outside.
  const row = page.getByRole('row').filter({ hasText: 'TC-N1-03' });
  await row.getByText('−0.92 °F, inside').first().waitFor();
  await row.getByText('−1.08 °F, outside').first().waitFor();
  const button = page.getByRole('button', { name: /Note the fault and open \d+ follow-ups?/ });
  await button.click();
  await page.getByRole('heading', { name: 'Noted and on disk' }).waitFor();
  await page.getByRole('link', { name: 'To the follow-ups' }).click();
  await page.getByText('PG-1 was −0.4 psi off').first().waitFor();
  expectNoFaults(faults);
  await page.context().close();
});

it('a gauge gets its certificate, and a grade', async () => {
  const { page, faults } = await openPage('/gauges');
  await page.getByRole('button', { name: 'Certificate for PG-2' }).click();
  const form = page.getByRole('heading', { name: 'Certificate of PG-2' }).locator('..');
  await form.getByLabel('Number').fill('WX-5001');
  await form.getByLabel('Issued on').fill('2026-11-24');
  await form.getByLabel('Valid until').fill('2026-11-24');
  await form.getByRole('button', { name: 'Save the certificate' }).click();
  await form.getByText('a certificate ends after it was issued').first().waitFor();
  await form.getByLabel('Valid until').fill('2027-11-24');
  await form.getByLabel('Doubt it states, U').fill('0.05');
  await form.getByRole('button', { name: 'Save the certificate' }).click();
  await page.getByRole('row').filter({ hasText: 'PG-2' }).getByText('until 2027-11-24').waitFor();
  await page.getByRole('button', { name: 'Edit PG-2' }).click();
  await page.getByLabel('Accuracy given as').selectOption({ label: 'Grade' });
  await page.getByLabel('Grade', { exact: true }).selectOption('B');
  await page.getByRole('button', { name: 'Save the instrument' }).click();
  await page.getByText('grade B (±0.9 psi)').waitFor();
  await page.getByRole('row').filter({ hasText: 'PG-2' }).getByText('✗ regulator low 0.5×').waitFor();
  // The refusal is told by the browser, too.
  expectNoFaults(faults.filter((fault) => !fault.includes('400')));
  await page.context().close();
});

it('three devices of one main that blame the supply become one follow-up, assigned, and closed by a record', async () => {
  for (const tag of ['TC-S1-01', 'TC-S1-02', 'TC-S2-03'])
    await closed(tag, {
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
  const { page, faults } = await openPage('/follow-ups');
  const cause = page.getByRole('region', { name: 'One cause on HM-S' });
  await cause.getByText('3 devices on main HM-S say that the supply is not right').waitFor();
  await cause.getByLabel('One follow-up for HM-S, on').selectOption({ label: 'main HM-S' });
  await cause.getByRole('button', { name: 'Make it one follow-up' }).click();
  await cause.waitFor({ state: 'detached' });
  const { rows } = await site.service.call('followUps.list', {});
  const one = rows.find((row) => row.tag === 'HM-S');
  if (!one) throw new Error('no follow-up on the main');
  await page.getByText('switchover relay not shifting').first().waitFor();
  await page
    .getByLabel(`Who sees to ${one.id}`, { exact: true })
    .selectOption({ label: 'TB · Tam Birchall' });
  await expect
    .poll(
      async () =>
        (await site.service.call('followUps.list', {})).rows.find((row) => row.id === one.id)?.assignedTo
          ?.initials,
    )
    .toBe('TB');
  await page.getByLabel(`What ended ${one.id}`, { exact: true }).fill('pilot tube was off');
  await page.getByRole('button', { name: `Close ${one.id}`, exact: true }).click();
  await page.getByLabel(`What ended ${one.id}`, { exact: true }).waitFor({ state: 'detached' });
  const left = (await site.service.call('followUps.list', {})).rows.filter(
    (row) => row.main === 'HM-S' && row.cause.startsWith('supply'),
  );
  expect(left).toEqual([]);
  expectNoFaults(faults);
  await page.context().close();
});

it('a failed controller is replaced under its own tag, and its first card is taken on the new one', async () => {
  const { id } = await site.service.call('register.find', { tag: 'TC-E2-02' });
  const { page, faults } = await openPage(`/register/${id}`);
  await page.getByRole('button', { name: 'Replace' }).click();
  const dialog = page.getByRole('dialog', { name: 'Replace TC-E2-02' });
  await dialog.getByLabel('Why it was replaced').fill('relay stuck');
  await dialog.getByRole('button', { name: 'Replace it' }).click();
  await page.getByText('in the place of').waitFor();
  await page.getByRole('link', { name: 'TC-E2-02-OUT1' }).click();
  await page.getByText('Replaced on 2026-11-25 by').waitFor();
  await page.getByRole('link', { name: 'TC-E2-02', exact: true }).click();
  await page.getByRole('link', { name: 'Open bench card' }).click();
  await page.getByText('never taken').first().waitFor();
  expectNoFaults(faults);
  await page.context().close();
});

it('the book is sound after all of it', async () =>
  expect(await site.service.runJob('records.verify', {})).toMatchObject({ sound: true, problems: [] }));
