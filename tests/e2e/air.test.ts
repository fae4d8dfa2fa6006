/** The air tree and the findings of the register in a real Chromium: by keyboard, with what is supposed, accepted and printed. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
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

const openAt = (address: string, colorScheme: 'light' | 'dark' = 'light') =>
  openScreen(site, address, colorScheme);

describe.each(['light', 'dark'] as const)('the air tree, in %s', (colorScheme) => {
  it('shows the site from its stations to its levels, by itself and clean', async () => {
    const { page, faults } = await openAt('/register/air?date=2027-01-13&time=10:00', colorScheme);
    const tree = page.getByRole('tree', { name: 'Air tree' });
    await tree.waitFor();
    await page.getByRole('treeitem', { name: /^HM-N low, 12\.9 psi, main/ }).waitFor();
    await expectClean(page, faults);
    await page.context().close();
  });
});

describe('the air tree', () => {
  it('is walked by keyboard, opened and shut', async () => {
    const { page, faults } = await openAt('/register/air?date=2027-01-13&time=10:00');
    const tree = page.getByRole('tree', { name: 'Air tree' });
    await tree.focus();
    for (const key of ['ArrowRight', 'ArrowDown', 'ArrowRight']) await page.keyboard.press(key);
    const active = page.locator('[aria-selected="true"]');
    expect(await active.locator('title').first().textContent()).toMatch(/^PRV-HF high, 18 psi, regulator/);
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    expect(await active.locator('title').first().textContent()).toMatch(
      /^HALL 1 \d+ devices, group, \d+ below, closed/,
    );
    await page.keyboard.press('Enter');
    expect(await active.getAttribute('aria-expanded')).toBe('true');
    await page.keyboard.press('ArrowRight');
    expect(await active.locator('title').first().textContent()).toMatch(/^TC-F1-01 high, 18 psi, controller/);
    await page.getByRole('region', { name: 'Of the tree, TC-F1-01' }).waitFor();
    expectNoFaults(faults);
    await page.context().close();
  });

  it('is printed whole', async () => {
    const { page } = await openAt('/register/air?date=2027-01-13&time=10:00');
    await page.getByRole('treeitem', { name: /^HM-N low/ }).waitFor();
    const file = path.join(mkdtempSync(path.join(os.tmpdir(), 'almanac-print-')), 'tree.pdf');
    await page.pdf({ path: file, landscape: true });
    const text = execFileSync('pdftotext', ['-layout', file, '-'], { encoding: 'utf8' });
    rmSync(path.dirname(file), { recursive: true });
    for (const tag of ['AS-HALL', 'AS-ANNEX', 'HM-F', 'HM-N', 'HM-S', 'AM-E', 'AM-W', 'ZM-S'])
      expect(text).toContain(tag);
    await page.context().close();
  });

  it('finds a tag, supposes a relay without current and a station lost, and says what follows', async () => {
    const { page, faults } = await openAt('/register/air?date=2027-01-13&time=10:00');
    await page.getByLabel('Find a tag').fill('nothing');
    await page.getByText('no such tag in the tree').waitFor();
    await page.getByLabel('Find a tag').fill('sr-hn');
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Suppose it without current' }).press('Enter');
    const changes = page.getByRole('region', { name: 'What changes' });
    await changes.getByText('45 unoccupied setpoints wake up').waitFor();
    expect(page.url()).toMatch(/off=\d+/);
    await expectClean(page, faults);
    await photograph(page, 'air-supposed');
    await page.getByRole('button', { name: 'Suppose nothing' }).press('Enter');
    await changes.getByText('Nothing is supposed').waitFor();
    await page.getByLabel('Find a tag').fill('AS-HALL');
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Suppose it fails' }).press('Enter');
    await changes
      .getByText(/heating devices open for good: heat/)
      .first()
      .waitFor();
    await page.getByRole('button', { name: 'Open all' }).press('Enter');
    await page
      .getByRole('treeitem', { name: /no air/ })
      .first()
      .waitFor();
    await expectClean(page, faults);
    await photograph(page, 'air-lost');
    await page.context().close();
  });

  it('is moved by the mouse, and draws what comes into the window', async () => {
    const { page, faults } = await openAt('/register/air');
    await page.getByRole('button', { name: 'Open all' }).press('Enter');
    const box = await page.getByRole('tree', { name: 'Air tree' }).boundingBox();
    if (!box) throw new Error('no tree');
    const shown = async (): Promise<string[]> =>
      page.getByRole('treeitem').evaluateAll((items) => items.map(({ id }) => id));
    const before = await shown();
    expect(before.length).toBeLessThan(450);
    for (let times = 0; times < 4; times += 1) {
      await page.mouse.move(box.x + 300, box.y + 300);
      await page.mouse.down();
      await page.mouse.move(box.x + 300, box.y + 20, { steps: 4 });
      await page.mouse.up();
    }
    const after = await shown();
    expect(after.some((id) => !before.includes(id))).toBe(true);
    expectNoFaults(faults);
    await page.context().close();
  });
});

describe('the sequence of a branch', () => {
  it('stands on the page of its controller, on paper and as measured', async () => {
    const { id } = await site.service.call('register.find', { tag: 'TC-N3-01' });
    const { page, faults } = await openAt(`/register/${id}`);
    const sequence = page.getByRole('region', { name: 'Sequence' });
    await sequence.getByText('VH-N3-01 and VK-N3-01').waitFor();
    await sequence.getByText('gap 0.3 psi, 0.12 degrees').waitFor();
    await sequence.getByLabel('Degrees by the setpoint').selectOption('unoccupied');
    await expectClean(page, faults);
    await sequence.scrollIntoViewIfNeeded();
    await photograph(page, 'sequence');
    await page.context().close();
  });
});

describe('findings', () => {
  it.each(['light', 'dark'] as const)('are listed with figures and advice, in %s', async (colorScheme) => {
    const { page, faults } = await openAt('/register/findings', colorScheme);
    await page.getByText('Its transmitter span was last read').first().waitFor();
    await page.locator('[data-row]').first().focus();
    await page.keyboard.press('Enter');
    await page.getByRole('region', { name: 'Finding, TX-HALL-OA' }).waitFor();
    await expectClean(page, faults);
    if (colorScheme === 'light') await photograph(page, 'findings');
    await page.context().close();
  });

  it('are accepted with who and why, and opened again', async () => {
    const { page, faults } = await openAt('/register/findings?show=stop');
    await page.getByLabel('Working as').selectOption({ label: 'OV · Orla Venn' });
    await page.getByText('Its transmitter span was last read').first().waitFor();
    await page.locator('[data-row]').first().focus();
    await page.keyboard.press('Enter');
    const panel = page.getByRole('region', { name: 'Finding, TX-HALL-OA' });
    expect(await panel.getByRole('button', { name: 'Accept' }).isDisabled()).toBe(true);
    await panel.getByLabel('Why it is accepted').fill('a better gauge is ordered');
    await panel.getByRole('button', { name: 'Accept' }).press('Enter');
    await panel.getByText(/Accepted by OV on .*: a better gauge is ordered/).waitFor();
    await panel.getByLabel('Why it is opened again').fill('it has come');
    await panel.getByRole('button', { name: 'Open again' }).press('Enter');
    await panel.getByLabel('Why it is accepted').waitFor();
    expectNoFaults(faults);
    await page.context().close();
  });

  it('stand on the page of their device', async () => {
    const { id } = await site.service.call('register.find', { tag: 'TC-E3-02' });
    const { page, faults } = await openAt(`/register/${id}`);
    await page
      .getByRole('region', { name: 'Findings' })
      .getByText(/of dead band/)
      .first()
      .waitFor();
    await expectClean(page, faults);
    await page.context().close();
  });
});
