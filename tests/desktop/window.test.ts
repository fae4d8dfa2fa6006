/** The real desktop window, where Electron's binary is there: `npm run test:desktop`. Not part of a run without it. */
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { _electron } from 'playwright';
import { expect, it } from 'vitest';
import { createSampleBook } from '../../service/sample/createSample.ts';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../..');

it('opens a book in a sandboxed window on our own scheme, and answers calls there', async () => {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'almanac-window-'));
  const made = path.join(folder, 'made.book');
  await createSampleBook(made);
  const file = path.join(folder, 'window.book');
  copyFileSync(made, file);
  const app = await _electron.launch({ args: [root, '--book', file], cwd: root });
  const page = await app.firstWindow();
  await page.getByText('Wexmoor Civic Hall and Annex').waitFor();
  expect(new URL(page.url()).protocol).toBe('app:');
  expect(
    await page.evaluate(() => [
      typeof (globalThis as { require?: unknown }).require,
      Object.keys((globalThis as never as { desktop: object }).desktop).sort(),
    ]),
  ).toEqual(['undefined', ['newBook', 'openBook', 'openSample', 'printPdf']]);
  await page.getByRole('link', { name: 'Round' }).click();
  await page.getByRole('button', { name: 'Draw', exact: true }).click();
  await page.getByRole('heading', { name: 'Days: load against capacity' }).waitFor();
  await app.close();
  rmSync(folder, { recursive: true, force: true });
});
