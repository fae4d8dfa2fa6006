/** The real main, preload and handler code on the stand-in: from the lock to a call through the scheme. */
import { copyFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeEach, describe, expect, inject, it, vi } from 'vitest';
import type { ElectronModules } from '../../electron/desktop.ts';
import { startDesktop } from '../../electron/desktop.ts';
import { temporaryFolder } from '../support/books.ts';
import * as electron from './standIn.ts';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../..');
const { standIn } = electron;

async function start(argv: string[] = ['electron', '.']): Promise<void> {
  await startDesktop(electron as never as ElectronModules, {
    folder: path.join(root, 'dist/electron'),
    rendererFolder: path.join(root, 'dist/renderer'),
    workerUrl: new URL('../../service/jobs/worker.ts', import.meta.url),
    argv,
    platform: 'linux',
  });
}

async function preload(): Promise<
  Record<string, (...args: unknown[]) => Promise<{ done: boolean; message: string }>>
> {
  vi.resetModules();
  const { standIn: fresh } = await import('./standIn.ts');
  await import('../../electron/preload.ts');
  return fresh.exposed.get('desktop') as never;
}

function call(name: string, input: unknown): Promise<Response> {
  const handler = standIn.schemes.get('app');
  if (!handler) throw new Error('no handler');
  return handler(
    new Request(`app://main/api/${name}`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(input),
    }),
  );
}

async function quit(): Promise<void> {
  electron.app.emit('before-quit', { preventDefault: () => {} });
  await vi.waitFor(() => expect(standIn.calls).toContain('quit'));
}

beforeEach(() => {
  const userData = temporaryFolder();
  electron.resetStandIn(userData);
  copyFileSync(inject('sampleFile'), path.join(userData, 'wexmoor-sample.book'));
});

describe('a first start', () => {
  it('takes the lock, registers the scheme and the sandbox before ready, then opens one window on our page', async () => {
    await start();
    expect(standIn.calls.slice(0, 4)).toEqual(['lock', 'registerSchemes', 'enableSandbox', 'whenReady']);
    expect(standIn.loaded).toEqual(['app://main/due']);
    expect(electron.BrowserWindow.all).toHaveLength(1);
    expect([
      electron.BrowserWindow.all[0].shown,
      electron.BrowserWindow.all[0].webContents.windowOpenHandler !== null,
    ]).toEqual([true, true]);
    expect([...standIn.channels.keys()].sort()).toEqual([
      'desktop:new-book',
      'desktop:open-book',
      'desktop:open-sample',
      'desktop:print-pdf',
    ]);
    await quit();
  });
  it('serves the page with the strict policy, and calls, through the scheme', async () => {
    await start();
    const page = await standIn.schemes.get('app')?.(new Request('app://main/due'));
    expect([
      page?.status,
      page?.headers.get('content-security-policy')?.startsWith("default-src 'none'"),
      page?.headers.get('cross-origin-opener-policy'),
    ]).toEqual([200, true, null]);
    const answer = await (await call('settings.book', {})).json();
    expect(answer).toMatchObject({ ok: true, data: { isSample: true } });
    const { jobId } = (
      (await (await call('rounds.draw', { from: '2027-01-01', to: '2027-03-31' })).json()) as {
        data: { jobId: string };
      }
    ).data;
    await vi.waitFor(
      async () =>
        expect(await (await call('jobs.status', { jobId })).json()).toMatchObject({
          data: { state: 'done' },
        }),
      { timeout: 20_000 },
    );
    await quit();
  });
  it('a second start finds the lock taken, and leaves', async () => {
    standIn.hasLock = false;
    await start();
    expect([standIn.calls, standIn.loaded]).toEqual([['lock', 'quit'], []]);
  });
});

describe('books', () => {
  it('a book named on the command line is opened, and remembered', async () => {
    const file = path.join(standIn.userData, 'other.book');
    copyFileSync(inject('sampleFile'), file);
    await start(['electron', '.', '--book', file]);
    expect(await (await call('settings.book', {})).json()).toMatchObject({
      data: { fileName: 'other.book' },
    });
    expect(readFileSync(path.join(standIn.userData, 'last-book.txt'), 'utf8')).toBe(file);
    await quit();
  });
  it('one that cannot be opened is said so, and the sample site stands in', async () => {
    const file = path.join(standIn.userData, 'bad.book');
    writeFileSync(file, 'nothing of a book');
    await start(['electron', '.', '--book', file]);
    expect(standIn.errors).toEqual([expect.stringContaining('not a book')]);
    expect(await (await call('settings.book', {})).json()).toMatchObject({
      data: { fileName: 'wexmoor-sample.book' },
    });
    expect(readFileSync(file, 'utf8')).toBe('nothing of a book');
    await quit();
  });
  it('the menu opens, makes and cancels; the page is loaded anew', async () => {
    await start();
    const items = standIn.menu.flatMap((menu) => menu.submenu ?? []);
    const click = (label: string): void => items.find((item) => item.label?.startsWith(label))?.click?.();
    click('Open a book');
    await vi.waitFor(() => expect(standIn.loaded).toHaveLength(1));
    const file = path.join(standIn.userData, 'made.book');
    standIn.saveAnswer = { canceled: false, filePath: file };
    click('New book');
    await vi.waitFor(() => expect(standIn.loaded).toHaveLength(2));
    expect([existsSync(file), await (await call('settings.book', {})).json()]).toMatchObject([
      true,
      { data: { fileName: 'made.book', devices: 0 } },
    ]);
    await quit();
  });
  it('a second start with a book brings the window forward and opens it', async () => {
    await start();
    const file = path.join(standIn.userData, 'second.book');
    copyFileSync(inject('sampleFile'), file);
    electron.app.emit('second-instance', {}, ['electron', '--book', file], '/');
    await vi.waitFor(() => expect(standIn.loaded).toHaveLength(2));
    expect(standIn.calls).toEqual(expect.arrayContaining(['restore', 'focus']));
    await quit();
  });
});

describe('the preload', () => {
  it('exposes four named functions, frozen, and nothing of Electron', async () => {
    const desktop = await preload();
    expect([Object.keys(desktop).sort(), Object.isFrozen(desktop)]).toEqual([
      ['newBook', 'openBook', 'openSample', 'printPdf'],
      true,
    ]);
  });
  it('the built file asks for electron and for nothing else', () => {
    const text = readFileSync(path.join(root, 'dist/electron/preload.cjs'), 'utf8');
    expect([...text.matchAll(/require\("([^"]+)"\)/g)].map((match) => match[1])).toEqual(['electron']);
    expect(text).not.toMatch(/\bimport\s/);
  });
});

it('main.ts starts the desktop with Electron’s own objects', async () => {
  vi.resetModules();
  const fresh = await import('./standIn.ts');
  fresh.resetStandIn(standIn.userData);
  fresh.standIn.hasLock = false;
  await import('../../electron/main.ts');
  await vi.waitFor(() => expect(fresh.standIn.calls).toEqual(['lock', 'quit']));
});
