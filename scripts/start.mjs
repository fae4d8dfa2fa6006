/** `npm start`: the desktop window where Electron's binary can be had, else the same program in the browser. */
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import {
  buildElectron,
  buildRenderer,
  callerFolder,
  installIfNeeded,
  nodeBinary,
  nodeFlags,
  root,
} from './bootstrap.mjs';

const FETCH_LIMIT_MS = 90_000;

function electronBinary() {
  const folder = path.join(root, 'node_modules', 'electron', 'dist');
  const names = { win32: 'electron.exe', darwin: 'Electron.app/Contents/MacOS/Electron' };
  const binary = path.join(folder, names[process.platform] ?? 'electron');
  return existsSync(binary) ? binary : null;
}

/** A window needs a display, and a sandboxed one does not run as root. */
function canShowWindow() {
  if (process.platform !== 'linux') return true;
  const hasDisplay = Boolean(process.env.DISPLAY || process.env.WAYLAND_DISPLAY);
  return hasDisplay && process.getuid?.() !== 0;
}

/** Fetches Electron's binary once; where that fails it is not tried again until the stamp is removed. */
function fetchElectron() {
  const stamp = path.join(root, '.stamps', 'electron-binary-not-had');
  const installer = path.join(root, 'node_modules', '.bin', 'install-electron');
  if (existsSync(stamp) || !existsSync(installer)) return null;
  console.log('Fetching the desktop window (once)…');
  spawnSync(nodeBinary(), [installer], { cwd: root, stdio: 'ignore', timeout: FETCH_LIMIT_MS });
  const binary = electronBinary();
  if (!binary) {
    mkdirSync(path.dirname(stamp), { recursive: true });
    writeFileSync(stamp, 'The binary could not be fetched; remove this file to try again.\n');
    console.log('The desktop window could not be fetched; the program opens in the browser instead.');
  }
  return binary;
}

installIfNeeded();
buildRenderer();
const args = process.argv.slice(2);
const wantsBrowser = args.includes('--browser');
const binary = wantsBrowser || !canShowWindow() ? null : (electronBinary() ?? fetchElectron());
const options = { cwd: callerFolder(), stdio: 'inherit' };
const serve = path.join(root, 'host', 'serve.ts');
if (binary) buildElectron();
const child = binary
  ? spawn(binary, [root, ...args], options)
  : spawn(nodeBinary(), [...nodeFlags(), serve, ...args.filter((arg) => arg !== '--browser')], options);
for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => child.kill(signal));
child.on('exit', (code, signal) => process.exit(code ?? (signal ? 0 : 1)));
