/**
 * A stand-in for `electron`: recording objects with the few behaviours that the shell relies on, so that the real
 * main, preload and handler code runs without the binary. It decides nothing; the shell's own code does.
 */
import { EventEmitter } from 'node:events';
import os from 'node:os';

type Handler = (...args: never[]) => unknown;

export class FakeWebContents extends EventEmitter {
  url = '';
  windowOpenHandler: ((details: { url: string }) => unknown) | null = null;
  mainFrame = { url: '' };
  getURL(): string {
    return this.url;
  }
  setWindowOpenHandler(handler: (details: { url: string }) => unknown): void {
    this.windowOpenHandler = handler;
  }
  async printToPDF(): Promise<Buffer> {
    return Buffer.from('%PDF-stand-in');
  }
}

export class BrowserWindow extends EventEmitter {
  static all: BrowserWindow[] = [];
  webContents = new FakeWebContents();
  options: unknown;
  shown = false;
  constructor(options: unknown) {
    super();
    this.options = options;
    BrowserWindow.all.push(this);
    app.emit('web-contents-created', {}, this.webContents);
  }
  static getAllWindows(): BrowserWindow[] {
    return BrowserWindow.all;
  }
  static getFocusedWindow(): BrowserWindow | null {
    return BrowserWindow.all[0] ?? null;
  }
  static fromWebContents(contents: FakeWebContents): BrowserWindow | null {
    return BrowserWindow.all.find((window) => window.webContents === contents) ?? null;
  }
  async loadURL(url: string): Promise<void> {
    this.webContents.url = url;
    this.webContents.mainFrame.url = url;
    standIn.loaded.push(url);
    this.emit('ready-to-show');
  }
  show(): void {
    this.shown = true;
  }
  focus(): void {
    standIn.calls.push('focus');
  }
  isMinimized(): boolean {
    return true;
  }
  restore(): void {
    standIn.calls.push('restore');
  }
}

class FakeApp extends EventEmitter {
  requestSingleInstanceLock(): boolean {
    standIn.calls.push('lock');
    return standIn.hasLock;
  }
  enableSandbox(): void {
    standIn.calls.push('enableSandbox');
  }
  async whenReady(): Promise<void> {
    standIn.calls.push('whenReady');
  }
  getPath(name: string): string {
    return name === 'userData' ? standIn.userData : os.tmpdir();
  }
  quit(): void {
    standIn.calls.push('quit');
  }
}

class FakeSession extends EventEmitter {
  permissionRequest: Handler | null = null;
  permissionCheck: Handler | null = null;
  setPermissionRequestHandler(handler: Handler): void {
    this.permissionRequest = handler;
  }
  setPermissionCheckHandler(handler: Handler): void {
    this.permissionCheck = handler;
  }
}

/** What was recorded, and what the dialogs will answer. */
export const standIn = {
  calls: [] as string[],
  loaded: [] as string[],
  opened: [] as string[],
  errors: [] as string[],
  privileges: [] as unknown[],
  schemes: new Map<string, (request: Request) => Promise<Response>>(),
  channels: new Map<string, (event: unknown, input: unknown) => Promise<unknown>>(),
  exposed: new Map<string, Record<string, (...args: unknown[]) => unknown>>(),
  menu: [] as { label?: string; submenu?: { label?: string; click?: () => void }[] }[],
  openAnswer: { canceled: true, filePaths: [] as string[] },
  saveAnswer: { canceled: true, filePath: '' },
  userData: os.tmpdir(),
  hasLock: true,
};

/** Forgets everything between tests. */
export function resetStandIn(userData: string): void {
  Object.assign(standIn, {
    calls: [],
    loaded: [],
    opened: [],
    errors: [],
    privileges: [],
    menu: [],
    userData,
    hasLock: true,
    openAnswer: { canceled: true, filePaths: [] },
    saveAnswer: { canceled: true, filePath: '' },
  });
  standIn.schemes.clear();
  standIn.channels.clear();
  standIn.exposed.clear();
  BrowserWindow.all = [];
  app.removeAllListeners();
}

export const app = new FakeApp();
export const session = { defaultSession: new FakeSession() };
export const protocol = {
  registerSchemesAsPrivileged: (privileges: unknown): void => {
    standIn.calls.push('registerSchemes');
    standIn.privileges.push(privileges);
  },
  handle: (scheme: string, handler: (request: Request) => Promise<Response>): void =>
    void standIn.schemes.set(scheme, handler),
};
export const ipcMain = {
  handle: (channel: string, handler: (event: unknown, input: unknown) => Promise<unknown>): void =>
    void standIn.channels.set(channel, handler),
};
export const shell = { openExternal: async (url: string): Promise<void> => void standIn.opened.push(url) };
export const dialog = {
  showOpenDialog: async () => standIn.openAnswer,
  showSaveDialog: async () => standIn.saveAnswer,
  showErrorBox: (_title: string, message: string): void => void standIn.errors.push(message),
};
export const Menu = {
  buildFromTemplate: (template: typeof standIn.menu) => template,
  setApplicationMenu: (menu: typeof standIn.menu): void => {
    standIn.menu = menu;
  },
};
export const contextBridge = {
  exposeInMainWorld: (name: string, api: Record<string, (...args: unknown[]) => unknown>): void =>
    void standIn.exposed.set(name, api),
};
export const ipcRenderer = {
  invoke: async (channel: string, input: unknown): Promise<unknown> => {
    const [window] = BrowserWindow.all;
    const event = { sender: window.webContents, senderFrame: window.webContents.mainFrame };
    return standIn.channels.get(channel)?.(event, structuredClone(input));
  },
};
