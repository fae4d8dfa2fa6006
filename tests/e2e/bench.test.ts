/** The bench card in a real Chromium: a changeover controller through both air states, a bound, an adjustment, the keyboard alone. */
import type { Locator, Page } from 'playwright';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { addressOf, expectNoFaults, openSampleSite, watchedPage } from './support.ts';
import type { SampleSite } from './support.ts';

let site: SampleSite;

beforeAll(async () => {
  site = await openSampleSite();
});

afterAll(async () => {
  await site.close();
});

async function openCard(tag: string): Promise<{ page: Page; faults: string[] }> {
  const context = await site.browser.newContext({ viewport: { width: 1024, height: 700 } });
  const watched = await watchedPage(context, site.origin);
  const { id } = await site.service.call('register.find', { tag });
  await watched.page.goto(addressOf(site.host.url, `/bench/${id}`));
  await watched.page.getByLabel('Readings taken by').selectOption({ label: 'TB · Tam Birchall' });
  for (const [kind, tag] of [
    ['Gauge', 'PG-1'],
    ['Thermometer', 'TH-1'],
  ])
    await watched.page.getByLabel(kind, { exact: true }).selectOption({ label: tag });
  return watched;
}

async function fill(section: Locator, figures: Record<string, string>): Promise<void> {
  for (const [label, value] of Object.entries(figures))
    await section.getByLabel(label, { exact: true }).first().fill(value);
}

async function finish(section: Locator, dial: string, outcome: string): Promise<void> {
  await section.getByLabel('Dial put back to').fill(dial);
  for (const words of [
    'Main is back in its natural state',
    'Overrides are released',
    'Isolated valves are open',
  ])
    await section.getByLabel(words).check();
  await section.getByLabel('Outcome').selectOption(outcome);
}

it('a changeover controller: heating held by the dial method, cooling found clipped, adjusted, and read again', async () => {
  const { page, faults } = await openCard('TC-F1-01');
  const heating = page.getByRole('region', { name: 'heating setpoint' });
  const main = 'Main pressure at the device';
  await heating.waitFor().catch(() => undefined);
  if (!(await heating.isVisible()))
    await page.getByRole('button', { name: /Also do the heating setpoint/ }).click();
  const first = (await page.locator('.setpoint-card').first().getAttribute('aria-label')) ?? '';
  if (first.startsWith('cooling'))
    await page
      .getByRole('region', { name: 'cooling setpoint' })
      .getByRole('button', { name: 'Not on this visit' })
      .click();
  await fill(heating, { [main]: '18.1' });
  await heating.getByText('alive in the high state').waitFor();
  await heating.getByRole('button', { name: 'All of these are so' }).click();
  await fill(heating, {
    Room: '72',
    'Dial at calibration pressure': '72.5',
    'Branch, dial 5 degrees one way': '0',
    'Branch, 5 degrees the other way': '17',
  });
  await heating.getByText('error −0.5 °F by M1').waitFor();
  await finish(heating, '70', 'held');

  await page.getByRole('button', { name: 'Also do the cooling setpoint on this visit' }).click();
  const cooling = page.getByRole('region', { name: 'cooling setpoint' });
  await fill(cooling, { [main]: '13' });
  await cooling.getByRole('button', { name: 'All of these are so' }).click();
  // Reverse acting, branch at nothing with the dial at the room: at most -(8 - 0)/2.5 = -3.2 degrees, a bound.
  await fill(cooling, {
    Dial: '72',
    Room: '72',
    Branch: '0',
    'Branch, dial 5 degrees one way': '0,2',
    'Branch, 5 degrees the other way': '13',
  });
  await cooling.getByText('error ≤ −3.2 °F by M3: the branch is clipped, so this is a bound').waitFor();
  await cooling.getByText('The branch is within 1 psi of an end').waitFor();
  await cooling.getByLabel('I adjusted it').check();
  await fill(cooling, {
    'Dial as left': '72',
    'Room as left': '72',
    'Branch as left': '8.5',
    'Dial up': '73',
    'Dial down': '71',
  });
  await cooling.getByText('error +0.2 °F by M3').waitFor();
  const up = cooling.getByLabel('Branch, dial up');
  const down = cooling.getByLabel('Branch, dial down');
  // Reverse acting: raising the dial raises the branch.
  await up.fill('6');
  await down.fill('11');
  await cooling.getByText('direct acting').waitFor();
  await finish(cooling, '75', 'adjusted');
  await fill(heating, { 'Room again': '72', 'Dial again': '72', 'Branch again': '8' });
  await page.getByRole('button', { name: 'Close the card' }).click();
  await page.getByRole('alert').getByText('moves the wrong way for a reverse acting controller').waitFor();
  await up.fill('11');
  await down.fill('6');
  await page.getByRole('button', { name: 'Close the card' }).click();
  await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
  const { series } = await site.service.call('drift.ofTag', { tag: 'TC-F1-01' });
  expect(
    series.map((one) => [
      one.role,
      one.points.at(-1)?.foundMilli,
      one.points.at(-1)?.foundRelation,
      one.points.at(-1)?.leftMilli,
    ]),
  ).toEqual(
    expect.arrayContaining([
      ['heating', -500, '=', -500],
      ['cooling', -3200, '<=', 200],
    ]),
  );
  expect(await site.service.runJob('records.verify', {})).toMatchObject({ sound: true });
  expectNoFaults(faults);
  await page.context().close();
});

it('one setpoint goes from the first field to the close by keyboard alone, in the order of the paper sheet', async () => {
  const { page, faults } = await openCard('TC-W2-05');
  const { keyboard } = page;
  const label = (): Promise<string> =>
    page.evaluate(
      () =>
        (document.activeElement as HTMLInputElement).labels?.[0]?.textContent ??
        document.activeElement?.textContent ??
        '',
    );
  await page.getByLabel('Main pressure at the device').focus();
  const order: string[] = [await label()];
  await keyboard.type('20');
  const typed: Record<string, string> = {
    Dial: '72',
    Room: '72',
    Branch: '5,5',
    'Branch, dial 5 degrees one way': '0',
    'Branch, 5 degrees the other way': '20',
    'Dial put back to': '71',
  };
  for (let step = 0; step < 40; step += 1) {
    await keyboard.press('Tab');
    const here = await label();
    order.push(here);
    if (here in typed) await keyboard.type(typed[here]);
    else if (here === 'All of these are so') await keyboard.press('Enter');
    else if (/restored|natural state|released|are open/.test(here)) await keyboard.press('Space');
    else if (here === 'Outcome') await keyboard.type('Held');
    else if (here === 'Close the card') {
      await keyboard.press('Enter');
      break;
    }
  }
  await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
  const asPaper = [
    'Main pressure at the device',
    'Dial',
    'Room',
    'Branch',
    'Branch, dial 5 degrees one way',
    'Branch, 5 degrees the other way',
    'Dial put back to',
    'Outcome',
    'Close the card',
  ];
  expect(order.filter((one) => asPaper.includes(one))).toEqual(asPaper);
  expectNoFaults(faults);
  await page.context().close();
});

it('what was typed is there again after leaving the card, however it was left, and never lost under another window', async () => {
  const { page, faults } = await openCard('TC-E1-08');
  const main = page.getByLabel('Main pressure at the device');
  const branch = page.getByLabel('Branch', { exact: true });
  await main.fill('16');
  await branch.fill('8.5');
  await page.getByText('draft kept').waitFor();
  await page.getByRole('link', { name: 'Due', exact: true }).click();
  await page.getByRole('heading', { name: 'Due' }).first().waitFor();
  await page.goBack();
  await main.waitFor();
  expect([await main.inputValue(), await branch.inputValue()]).toEqual(['16', '8.5']);
  // Left in the middle of a keystroke: nothing was kept yet.
  await branch.fill('8.6');
  await page.getByRole('link', { name: 'Due', exact: true }).click();
  await page.goBack();
  await main.waitFor();
  expect([await main.inputValue(), await branch.inputValue()]).toEqual(['16', '8.6']);
  await page.reload();
  await main.waitFor();
  expect([await main.inputValue(), await branch.inputValue()]).toEqual(['16', '8.6']);

  const other = await page.context().newPage();
  await other.goto(addressOf(site.host.url, page.url()));
  const otherBranch = other.getByLabel('Branch', { exact: true });
  await otherBranch.waitFor();
  expect(await otherBranch.inputValue()).toBe('8.6');
  await otherBranch.fill('9.1');
  await other.getByText('draft kept').waitFor();
  await branch.fill('5');
  await page.getByText('changed or closed in another window').waitFor();
  await page.getByRole('button', { name: 'Keep what stands here' }).click();
  await page.getByText('draft kept').waitFor();
  expectNoFaults(faults.filter((fault) => !fault.includes('409')));
  await page.context().close();
});

it('a card does not close over a figure that does not read, or a step filled in half, and the way there is a press', async () => {
  const { page, faults } = await openCard('TC-W2-06');
  const only = page.getByRole('region', { name: 'only setpoint' });
  await fill(only, {
    'Main pressure at the device': '20',
    Dial: '72',
    Room: '72',
    Branch: '5.5',
    'Dial at calibration pressure': '75..3',
    'Branch, dial 5 degrees one way': '0',
  });
  await only.getByRole('button', { name: 'All of these are so' }).click();
  await finish(only, '71', 'device failed');
  await page.getByRole('button', { name: 'Close the card' }).click();
  const problems = page.locator('.card-problems');
  await problems.getByText('“75..3” is not a figure').waitFor();
  await problems.getByText('1 of 2 figures: give all, or none').waitFor();
  await problems.getByRole('button', { name: 'Only: full travel' }).click();
  await expect
    .poll(() => page.evaluate(() => (document.activeElement as HTMLInputElement).name))
    .toBe('only-swingOne');
  await fill(only, { 'Dial at calibration pressure': '75.3', 'Branch, 5 degrees the other way': '19' });
  await page.getByRole('button', { name: 'Close the card' }).click();
  await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
  expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Closed and on disk');
  expectNoFaults(faults);
  await page.context().close();
});

it('a second press, or a second window, makes no second record unawares, and leaves no card that cannot be closed', async () => {
  const { page, faults } = await openCard('TC-E1-09');
  const only = page.getByRole('region', { name: 'occupied setpoint', exact: true });
  const other = await page.context().newPage();
  await other.goto(addressOf(site.host.url, page.url()));
  const otherCard = other.getByRole('region', { name: 'occupied setpoint', exact: true });
  await otherCard.getByLabel('Remarks').fill('locked, key with the porter');
  await otherCard.getByLabel('Outcome').selectOption('no access');
  await only.getByLabel('Outcome').selectOption('no access');
  for (const one of [page, other])
    if ((await one.getByLabel('Readings taken by').inputValue()) === '')
      await one.getByLabel('Readings taken by').selectOption({ index: 1 });
  await page.getByRole('button', { name: 'Close the card' }).dblclick();
  await page.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
  await other.getByRole('button', { name: 'Close the card' }).click();
  await other.getByText('has a record that this card has not seen').waitFor();
  await other.getByRole('button', { name: 'Throw this card away' }).click();
  await expect.poll(() => otherCard.getByLabel('Remarks').inputValue()).toBe('');
  await otherCard.getByLabel('Outcome').selectOption('not tested');
  await otherCard.getByLabel('Not ticked because').fill('came back, still locked');
  if ((await other.getByLabel('Readings taken by').inputValue()) === '')
    await other.getByLabel('Readings taken by').selectOption({ index: 1 });
  await other.getByRole('button', { name: 'Close the card' }).click();
  await other.getByRole('heading', { name: 'Closed and on disk' }).waitFor();
  expectNoFaults(faults);
  await page.context().close();
});
