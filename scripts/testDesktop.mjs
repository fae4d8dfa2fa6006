/**
 * Drives the real desktop window with Playwright, where Electron's binary is there. Where it is not, says so:
 * `not run` is never `passed`.
 */
import { existsSync } from 'node:fs';
import path from 'node:path';
import { buildElectron, buildRenderer, root, run } from './bootstrap.mjs';

const names = { win32: 'electron.exe', darwin: 'Electron.app/Contents/MacOS/Electron' };
if (!existsSync(path.join(root, 'node_modules', 'electron', 'dist', names[process.platform] ?? 'electron'))) {
  console.log('desktop window: not run: no Electron binary');
  process.exit(0);
}
buildRenderer();
buildElectron();
process.exit(run([path.join('node_modules', 'vitest', 'vitest.mjs'), 'run', '--project', 'desktop']) ? 0 : 1);
