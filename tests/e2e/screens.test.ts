/** Every screen on the sample site, light and dark: axe finds nothing, nothing is refused by the policy, nothing is said on the console. */
import { AxeBuilder } from '@axe-core/playwright';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  addressOf,
  expectClean,
  expectNoFaults,
  openSampleSite,
  openScreen,
  watchedPage,
} from './support.ts';
import type { SampleSite } from './support.ts';

let site: SampleSite;
const screens = new Map<string, string>();
let busyDay = '';

function pathOf(name: string): string {
  const path = screens.get(name);
  if (path === undefined) throw new RangeError(`there is no screen of the name ${name}`);
  return path;
}

beforeAll(async () => {
  site = await openSampleSite();
  const { roundId } = await site.service.runJob('rounds.draw', { from: '2027-01-01', to: '2027-12-31' });
  const overview = await site.service.call('rounds.overview', { id: roundId });
  const day = overview.days.find((one) => one.forcedMains.length > 0);
  busyDay = overview.days.findLast((one) => one.people.length > 0)?.date ?? '';
  const controller = await site.service.call('register.find', { tag: 'TC-N1-01' });
  const { series } = await site.service.call('drift.ofTag', { tag: 'TC-N1-01' });
  screens.set('due', '/due');
  screens.set('due by main', '/due?group=main&days=365');
  screens.set('round', `/round/${roundId}?day=${day?.date}`);
  screens.set('day sheet', `/round/${roundId}/day/${day?.date}/${day?.people[0].personId}`);
  screens.set('bench', `/bench/${controller.id}`);
  const regulator = await site.service.call('register.find', { tag: 'PRV-HN' });
  const main = await site.service.call('register.find', { tag: 'HM-N' });
  const [gauge] = (await site.service.call('gauges.list', {})).rows;
  screens.set('bench of a regulator', `/bench/${regulator.id}`);
  screens.set('paper', `/paper/main/${main.id}/low`);
  screens.set('paper of a day', `/paper/day/${roundId}/${day?.date}/${day?.people[0].personId}`);
  screens.set('gauges', '/gauges');
  screens.set('trace', `/gauges/${gauge.id}/trace`);
  screens.set('follow-ups', '/follow-ups');
  screens.set('record', `/records/${series[0].points.at(-1)?.calibrationId}`);
  screens.set('register', '/register');
  screens.set('register load', '/register/load');
  screens.set('places', '/register/places');
  screens.set('register new', '/register/new?class=actuator');
  screens.set('device', `/register/${controller.id}`);
  screens.set('drift', `/drift/${series[0].testPointId}`);
  screens.set('drift without a choice', '/drift');
  screens.set('readings load', '/drift/load');
  screens.set('settings', '/settings');
});

afterAll(async () => {
  await site.close();
});

const names = [
  'due',
  'due by main',
  'round',
  'day sheet',
  'bench',
  'bench of a regulator',
  'paper',
  'paper of a day',
  'gauges',
  'trace',
  'follow-ups',
  'record',
  'register',
  'register load',
  'places',
  'register new',
  'device',
  'drift',
  'drift without a choice',
  'readings load',
  'settings',
];

describe('on the sample site', () => {
  it.each(names)('the %s screen is accessible and quiet, in light and in dark', async (name) => {
    const { page, faults } = await openScreen(site, pathOf(name));
    await page.locator('h1').waitFor();
    await page.waitForLoadState('networkidle');
    await expectClean(page, faults);
    await page.emulateMedia({ colorScheme: 'dark' });
    await expectClean(page, faults, { isOtherScheme: true });
    await page.context().close();
  });
});

describe('by keyboard alone', () => {
  it('from the first screen to a device and its retirement dialog, and back out', async () => {
    const context = await site.browser.newContext({ viewport: { width: 1440, height: 900 } });
    const { page, faults } = await watchedPage(context, site.origin);
    await page.goto(site.host.url);
    await page.locator('[data-row]').first().waitFor();
    await page.keyboard.press('Tab');
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Skip to the screen');
    await page.locator('[data-row]').first().focus();
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowDown');
    const tag = await page.evaluate(() => document.activeElement?.querySelector('td')?.textContent);
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { level: 1, name: tag ?? '' }).waitFor();
    await page.getByRole('button', { name: 'Retire' }).focus();
    await page.keyboard.press('Enter');
    const dialog = page.getByRole('dialog', { name: `Retire ${tag}` });
    await dialog.waitFor();
    const inside = () =>
      page.evaluate(() => document.querySelector('[role=dialog]')?.contains(document.activeElement));
    for (let step = 0; step < 6; step += 1) {
      await page.keyboard.press('Tab');
      expect(await inside()).toBe(true);
    }
    const dialogAxe = await new AxeBuilder({ page }).include('[role=dialog]').analyze();
    expect(dialogAxe.violations.map((violation) => violation.id)).toEqual([]);
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    expectNoFaults(faults);
    await context.close();
  });

  it('the round says why a task stands where it stands, moves it, keeps it there, and draws the rest again', async () => {
    const context = await site.browser.newContext({ viewport: { width: 1024, height: 700 } });
    const { page, faults } = await watchedPage(context, site.origin);
    await page.goto(addressOf(site.host.url, pathOf('round')));
    const why = page.getByRole('region', { name: 'Why there?' });
    await why.getByLabel('Tag').fill('TC-E1-03');
    await page.keyboard.press('Enter');
    const task = why.getByRole('region', { name: 'TC-E1-03/occupied', exact: true });
    const before = (await task.getByRole('heading').textContent()) ?? '';
    await task.getByRole('button', { name: 'Move there' }).first().click();
    await expect.poll(() => task.getByRole('heading').textContent()).not.toBe(before);
    await task.getByRole('button', { name: 'Keep it there when drawing again' }).click();
    await task.getByText('kept there').waitFor();
    await task.getByText('Move by hand, or put off').click();
    await task.getByLabel('Date').fill('2027-12-30');
    await task.getByText(/Not possible: window/u).waitFor();
    expect(await task.getByRole('button', { name: 'Move it' }).isDisabled()).toBe(true);
    await task.getByLabel('Where to').selectOption('off');
    await task.getByText('for having no place in this round').waitFor();
    await task.getByRole('button', { name: 'Put it off' }).click();
    await page
      .getByRole('row', { name: /TC-E1-03 .*put off by hand/u })
      .first()
      .waitFor();
    await page.getByRole('button', { name: 'Draw the rest again' }).click();
    await page.getByRole('heading', { name: /What moved/ }).waitFor({ timeout: 60_000 });
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.textContent ?? ''))
      .toMatch(/again from .*draft/u);
    await page.getByText('can still be won').first().waitFor();
    const figures = page.getByRole('region', { name: 'Figures of merit' });
    await figures.getByLabel('Lay beside').selectOption({ index: 1 });
    await figures.getByRole('columnheader', { name: 'Beside it' }).waitFor();
    expect(
      await figures
        .getByRole('row', { name: /Tasks placed/ })
        .getByRole('cell')
        .count(),
    ).toBe(3);
    await page.getByRole('textbox', { name: 'Seed' }).fill('x');
    await page.getByText('a whole number from 0 to').waitFor();
    await page.reload();
    await page.getByRole('heading', { name: /What moved/ }).waitFor();
    await page.getByRole('button', { name: 'Issue', exact: true }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'Not now' }).click();
    await page.getByRole('button', { name: 'Discard the draft' }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'Discard it' }).click();
    await page.getByRole('heading', { name: /What moved/ }).waitFor({ state: 'detached' });
    expectNoFaults(faults);
    await context.close();
  });

  it('a day of the year is chosen and its sheet opened', async () => {
    const context = await site.browser.newContext({ viewport: { width: 1440, height: 900 } });
    const { page } = await watchedPage(context, site.origin);
    await page.goto(addressOf(site.host.url, pathOf('round')));
    await page.getByRole('button', { name: new RegExp(`^${busyDay}:`) }).focus();
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: busyDay }).waitFor();
    await page.keyboard.press('ArrowLeft');
    await page.getByRole('heading', { name: busyDay }).waitFor({ state: 'detached' });
    await page.keyboard.press('ArrowRight');
    await page.getByRole('heading', { name: busyDay }).waitFor();
    await page
      .getByRole('link', { name: /Day sheet of/ })
      .first()
      .focus();
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: /Day sheet/ }).waitFor();
    await context.close();
  });
});

it('a follow-up is closed by somebody, with how it was mended', async () => {
  const context = await site.browser.newContext({ viewport: { width: 1440, height: 900 } });
  const { page, faults } = await watchedPage(context, site.origin);
  const { id } = await site.service.call('register.find', { tag: 'VH-S2-05' });
  await page.goto(addressOf(site.host.url, `/register/${id}`));
  await page.getByRole('button', { name: /Close follow-up/ }).click();
  const dialog = page.getByRole('dialog', { name: 'Close the follow-up' });
  await dialog.getByText('Choose at the top who you are working as').waitFor();
  await page.keyboard.press('Escape');
  await page.getByLabel('Working as').selectOption({ label: 'TB · Tam Birchall' });
  await page.getByRole('button', { name: /Close follow-up/ }).click();
  await dialog.getByLabel('How it was mended').fill('new diaphragm, holds air for ten minutes');
  await dialog.getByRole('button', { name: 'Close it' }).click();
  await page.getByText('Open follow-ups:').waitFor({ state: 'detached' });
  expect(
    (await site.service.call('followUps.list', {})).rows.filter((row) => row.tag === 'VH-S2-05'),
  ).toEqual([]);
  expectNoFaults(faults);
  await context.close();
});

describe('the token', () => {
  it('stays with its tab over a reload; a tab opened without the link is told so', async () => {
    const context = await site.browser.newContext();
    const { page } = await watchedPage(context, site.origin);
    await page.goto(site.host.url);
    await page.locator('h1').waitFor();
    await page.reload();
    await page.getByRole('heading', { level: 1, name: 'Due' }).waitFor();
    const other = await context.newPage();
    await other.goto(`${site.origin}/due`);
    await other.getByRole('heading', { name: 'Open the link that the program printed' }).waitFor();
    expect(await context.cookies()).toEqual([]);
    await context.close();
  });
});

describe('large tables and paper', () => {
  it('the register shows a few dozen rows of all it has, and the last one can be reached', async () => {
    const context = await site.browser.newContext({ viewport: { width: 1440, height: 900 } });
    const { page } = await watchedPage(context, site.origin);
    await page.goto(addressOf(site.host.url, '/register'));
    await page.getByText(/49\d devices/).waitFor();
    expect(await page.locator('tbody tr[data-row]').count()).toBeLessThan(80);
    await page.locator('.data-table').evaluate((frame) => frame.scrollTo(0, frame.scrollHeight));
    await page.getByRole('link', { name: 'ZV-S' }).waitFor();
    await context.close();
  });
  it('the due ledger stands under its mains when asked', async () => {
    const context = await site.browser.newContext({ viewport: { width: 1440, height: 900 } });
    const { page } = await watchedPage(context, site.origin);
    await page.goto(site.host.url);
    await page.getByLabel('Group by').selectOption('main');
    expect(await page.locator('.group-row').allTextContents()).toEqual(
      expect.arrayContaining([expect.stringMatching(/^Main HM-N \d+$/)]),
    );
    await page.locator('[data-row]').first().focus();
    for (let step = 0; step < 30; step += 1) await page.keyboard.press('ArrowDown');
    expect(await page.evaluate(() => (document.activeElement as HTMLElement).dataset.row !== undefined)).toBe(
      true,
    );
    await context.close();
  });
  it('a printed day sheet holds every visit, and none of the buttons', async () => {
    const context = await site.browser.newContext();
    const { page } = await watchedPage(context, site.origin);
    await page.goto(addressOf(site.host.url, pathOf('day sheet')));
    await page.locator('.visit').first().waitFor();
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('button', { name: 'Print' }).isVisible()).toBe(false);
    expect(await page.locator('.boxes').first().isVisible()).toBe(true);
    expect((await page.pdf({ tagged: true, preferCSSPageSize: true })).length).toBeGreaterThan(10_000);
    await context.close();
  });
});
