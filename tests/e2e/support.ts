/** A real Chromium against a real host, with everything a page must not do collected on the side. */
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright';
import type { Browser, BrowserContext, Page } from 'playwright';
import { expect } from 'vitest';

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
