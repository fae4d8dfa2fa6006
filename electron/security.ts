/** Decisions of the desktop shell that need no window: preferences, what may be navigated to, what may be asked for. */
import path from 'node:path';
import type { BrowserWindowConstructorOptions, WebPreferences } from 'electron';

export const SCHEME = 'app';
export const APP_ORIGIN = `${SCHEME}://main`;
export const START_URL = `${APP_ORIGIN}/due`;

/** Privileges of our scheme; `bypassCSP` and the like stay off. */
export const schemePrivileges = [
  { scheme: SCHEME, privileges: { standard: true, secure: true, supportFetchAPI: true } },
];

/** Web preferences of every window, each hardening stated although most are defaults. */
export function windowPreferences(folder: string): WebPreferences {
  return {
    preload: path.join(folder, 'preload.cjs'),
    nodeIntegration: false,
    nodeIntegrationInWorker: false,
    nodeIntegrationInSubFrames: false,
    contextIsolation: true,
    sandbox: true,
    webviewTag: false,
    navigateOnDragDrop: false,
    spellcheck: false,
  };
}

/** Options of every window. */
export function windowOptions(folder: string): BrowserWindowConstructorOptions {
  return {
    width: 1440,
    height: 900,
    minWidth: 800,
    minHeight: 600,
    show: false,
    backgroundColor: '#f7f1e4',
    webPreferences: windowPreferences(folder),
  };
}

/** True for an address of our own page: the parsed scheme and host decide, never a prefix of the text. */
export function isOwnUrl(address: string): boolean {
  try {
    const url = new URL(address);
    return url.protocol === `${SCHEME}:` && url.host === 'main' && url.username === '' && url.password === '';
  } catch {
    return false;
  }
}

const allowedPermissions = new Set(['clipboard-sanitized-write', 'fullscreen']);

/** Whether the page may have a permission: a short list, and only for our own origin. */
export function isPermissionAllowed(permission: string, requestingUrl: string): boolean {
  return allowedPermissions.has(permission) && isOwnUrl(requestingUrl);
}

/** Whether our page may open a window: only our own screens. */
export function mayOpenWindow(address: string): boolean {
  return (
    isOwnUrl(address) && /^\/(due|round|bench|register|drift|settings)(\/|$)/.test(new URL(address).pathname)
  );
}
