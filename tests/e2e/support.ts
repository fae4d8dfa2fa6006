/** A real Chromium against a real host, with everything a page must not do collected on the side. */
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import { AxeBuilder } from '@axe-core/playwright';
import { chromium } from 'playwright';
import type { Browser, BrowserContext, Page } from 'playwright';
import { expect, inject } from 'vitest';
import { openBook } from '../../db/book.ts';
import { startLoopbackHost } from '../../host/server.ts';
import type { LoopbackHost } from '../../host/server.ts';
import { fixedClock } from '../../service/clock.ts';
import { readAssets } from '../../service/http/assets.ts';
import { createRequestCore } from '../../service/http/handler.ts';
import { createService } from '../../service/service.ts';
import type { Service } from '../../service/service.ts';
import { NOW } from '../support/books.ts';

export const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../..');
export const chromiumPath = process.env.ALMANAC_CHROMIUM ?? '/usr/bin/chromium';

/** Chromium without its own errands on the network. */
export function launchBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: chromiumPath,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
}

export type HostProcess = {
  url: string;
  origin: string;
  child: ChildProcess;
  stop: (signal?: NodeJS.Signals) => Promise<void>;
};

/** The loopback shell as its own process, the way `npm start` runs it. */
export async function startHostProcess(book: string, dataFolder: string): Promise<HostProcess> {
  const child = spawn(process.execPath, ['host/serve.ts', '--book', book, '--no-open'], {
    cwd: root,
    env: { ...process.env, ALMANAC_DATA: dataFolder },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const exited = new Promise<void>((resolve) => {
    child.on('exit', () => resolve());
  });
  let text = '';
  for await (const chunk of child.stdout) {
    text += String(chunk);
    if (/is open at \S+\n/.test(text)) break;
  }
  const url = /is open at (\S+)/.exec(text)?.[1] ?? '';
  return {
    url,
    origin: new URL(url).origin,
    child,
    stop: async (signal = 'SIGTERM') => {
      child.kill(signal);
      await exited;
    },
  };
}

/** A path of the page with the token of its host's link, which the page takes from any address. */
export function addressOf(hostUrl: string, path: string): string {
  const address = new URL(path, hostUrl);
  address.hash = new URL(hostUrl).hash;
  return address.href;
}

export type Watched = { page: Page; faults: string[] };

/** A page whose console errors, policy violations and requests elsewhere are all collected as faults. */
export async function watchedPage(context: BrowserContext, origin: string): Promise<Watched> {
  const faults: string[] = [];
  const page = await context.newPage();
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning')
      faults.push(`console ${message.type()}: ${message.text()}`);
  });
  page.on('pageerror', (error) => faults.push(`page error: ${error.message}`));
  page.on('request', (request) => {
    const url = request.url();
    if (!url.startsWith(origin) && !url.startsWith('blob:') && !url.startsWith('data:'))
      faults.push(`request to ${url}`);
  });
  await page.addInitScript(() => {
    addEventListener('securitypolicyviolation', (event) =>
      console.error(`policy violation: ${event.violatedDirective} ${event.blockedURI}`),
    );
  });
  return { page, faults };
}

export function expectNoFaults(faults: readonly string[]): void {
  expect(faults).toEqual([]);
}

export type SampleSite = {
  browser: Browser;
  host: LoopbackHost;
  service: Service;
  origin: string;
  close: () => Promise<void>;
};

/** The sample site behind a real host in this process, at a fixed time, and a browser to look at it. */
export async function openSampleSite(): Promise<SampleSite> {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-site-'));
  const file = path.join(folder, 'sample.book');
  copyFileSync(inject('sampleFile'), file);
  const service = createService({
    book: await openBook(file),
    clock: fixedClock(NOW),
    checkAnswers: true,
    log: console.error,
  });
  const core = createRequestCore(service, readAssets(path.join(root, 'dist/renderer')));
  const host = await startLoopbackHost({ core, report: console.error });
  const browser = await launchBrowser();
  return {
    browser,
    host,
    service,
    origin: `http://127.0.0.1:${host.port}`,
    close: async () => {
      await browser.close();
      await host.close();
      await service.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/**
 * Nothing for axe, nothing beyond the window, nothing said on the console. A page that was looked at already and stands in the
 * other scheme of colours now is asked for what depends on colours.
 */
export async function expectClean(
  page: Page,
  faults: readonly string[],
  { isOtherScheme = false }: { isOtherScheme?: boolean } = {},
): Promise<void> {
  // Our pages have no frames: what other frames need, a second page each time, is left out.
  const axe = new AxeBuilder({ page }).setLegacyMode();
  const result = await (
    isOtherScheme
      ? axe.withRules(['color-contrast', 'link-in-text-block'])
      : axe.withTags(['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'])
  ).analyze();
  expect(
    result.violations.map(
      (violation) => `${violation.id}: ${violation.nodes.map((node) => node.target.join(' ')).join('; ')}`,
    ),
  ).toEqual([]);
  expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
  expectNoFaults(faults);
}

/** A page of the site at an address, 1024 by 700, with what it says on the console. */
export async function openScreen(
  site: SampleSite,
  address: string,
  colorScheme: 'light' | 'dark' = 'light',
): Promise<{ page: Page; faults: string[] }> {
  const context = await site.browser.newContext({
    viewport: { width: 1024, height: 700 },
    colorScheme,
    reducedMotion: 'reduce',
  });
  const { page, faults } = await watchedPage(context, site.origin);
  await page.goto(addressOf(site.host.url, address));
  return { page, faults };
}

/** Calls `shoot` at both sizes, light and dark, with the end of a file's name. */
export async function atEverySize(page: Page, shoot: (end: string) => Promise<void>): Promise<void> {
  for (const [width, height] of [
    [1440, 900],
    [1024, 700],
  ])
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.setViewportSize({ width, height });
      await page.emulateMedia({ colorScheme });
      await shoot(`${width}-${colorScheme}`);
    }
}

/** Photographs for whoever wants to look: `ALMANAC_PHOTOS=DIR npx vitest run --project e2e tests/e2e/…`. */
export async function photograph(page: Page, name: string): Promise<void> {
  const folder = process.env.ALMANAC_PHOTOS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await atEverySize(page, async (end) => {
    await page.screenshot({ path: path.join(folder, `${name}-${end}.png`), fullPage: true });
  });
}
