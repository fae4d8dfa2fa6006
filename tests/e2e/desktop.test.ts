/**
 * The built page in a real Chromium against the real desktop shell on the stand-in: its scheme handler answers the
 * page's requests, and the built preload is the page's bridge. What this cannot show is Electron itself.
 */
import { copyFileSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import vm from 'node:vm';
import type { Browser } from 'playwright';
import { afterAll, beforeAll, expect, inject, it } from 'vitest';
import type { ElectronModules } from '../../electron/desktop.ts';
import { startDesktop } from '../../electron/desktop.ts';
import * as electron from '../electron/standIn.ts';
import { launchBrowser, root } from './support.ts';

/** Chromium knows no `app:` scheme without Electron; a secure origin stands for it. */
const STAND_IN_ORIGIN = 'https://main.app.test';
const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-desktop-'));
let browser: Browser;

beforeAll(async () => {
  copyFileSync(inject('sampleFile'), path.join(folder, 'wexmoor-sample.book'));
  electron.resetStandIn(folder);
  await startDesktop(electron as never as ElectronModules, {
    folder: path.join(root, 'dist/electron'),
    rendererFolder: path.join(root, 'dist/renderer'),
    workerUrl: new URL('../../dist/electron/worker.js', import.meta.url),
    argv: ['electron', '.'],
    platform: 'linux',
  });
  vm.runInNewContext(readFileSync(path.join(root, 'dist/electron/preload.cjs'), 'utf8'), {
    require: () => electron,
    Object,
  });
  browser = await launchBrowser();
});

afterAll(async () => {
  await browser.close();
  electron.app.emit('before-quit', { preventDefault: () => {} });
  rmSync(folder, { recursive: true, force: true });
});

it('shows the sample site, draws a round in the built worker, and opens another book by the bridge', async () => {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  const page = await context.newPage();
  const faults: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') faults.push(message.text());
  });
  await context.route(`${STAND_IN_ORIGIN}/**`, async (route) => {
    const request = route.request();
    const url = request.url().replace(STAND_IN_ORIGIN, 'app://main');
    const answer = await electron.standIn.schemes.get('app')?.(
      new Request(url, {
        method: request.method(),
        headers: await request.allHeaders(),
        body: request.postDataBuffer() ?? undefined,
      } as RequestInit),
    );
    if (!answer) throw new Error('no handler');
    await route.fulfill({
      status: answer.status,
      headers: Object.fromEntries(answer.headers),
      body: Buffer.from(await answer.arrayBuffer()),
    });
  });
  const bridge = electron.standIn.exposed.get('desktop') ?? {};
  for (const name of Object.keys(bridge))
    await page.exposeFunction(`bridge_${name}`, (input: unknown) => bridge[name](input));
  await page.addInitScript((names: string[]) => {
    const api = Object.fromEntries(
      names.map((name) => [
        name,
        (input: unknown) =>
          (globalThis as never as Record<string, (input: unknown) => unknown>)[`bridge_${name}`](input),
      ]),
    );
    Object.defineProperty(globalThis, 'desktop', { value: Object.freeze(api) });
  }, Object.keys(bridge));

  await page.goto(`${STAND_IN_ORIGIN}/due`);
  await page.getByText('Wexmoor Civic Hall and Annex').waitFor();
  await page.getByRole('link', { name: 'Round' }).click();
  await page.getByRole('button', { name: 'Draw', exact: true }).click();
  await page.getByRole('heading', { name: 'Days: load against capacity' }).waitFor({ timeout: 30_000 });

  const made = path.join(folder, 'made.book');
  electron.standIn.saveAnswer = { canceled: false, filePath: made };
  await page.getByRole('link', { name: 'Settings' }).click();
  await page.getByRole('button', { name: 'New book' }).click();
  await expect.poll(() => electron.standIn.loaded.length).toBe(2);
  await page.goto(`${STAND_IN_ORIGIN}/due`);
  await page.getByRole('heading', { name: 'This book has no register yet' }).waitFor();
  expect(faults).toEqual([]);
  await context.close();
});
