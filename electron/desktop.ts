/**
 * The desktop shell as one function over Electron's objects, so that tests can drive it without the binary.
 * Order matters: lock, scheme and sandbox before ready; hardening before the first window.
 */
import { writeFile } from 'node:fs/promises';
import path from 'node:path';
import type * as Electron from 'electron';
import { z } from 'zod';
import { readAssets } from '../service/http/assets.ts';
import { bookOfArgv } from './argv.ts';
import { channels } from '../shared/contract/desktop.ts';
import type { DesktopAnswer } from '../shared/contract/desktop.ts';
import { createDesktopBook } from './desktopBook.ts';
import { hardenApp, hardenSession } from './harden.ts';
import { handleTrusted } from './ipc.ts';
import { menuTemplate } from './menu.ts';
import { createSchemeHandler } from './scheme.ts';
import { SCHEME, START_URL, schemePrivileges, windowOptions } from './security.ts';

export type ElectronModules = Pick<
  typeof Electron,
  'app' | 'BrowserWindow' | 'dialog' | 'ipcMain' | 'Menu' | 'protocol' | 'session' | 'shell'
>;

export type DesktopSetup = {
  /** Folder of the built main process, with preload.cjs beside it. */
  folder: string;
  rendererFolder: string;
  workerUrl: URL;
  argv: readonly string[];
  platform: string;
};

const bookFilter = [{ name: 'Books', extensions: ['book'] }];
const cancelled: DesktopAnswer = { done: false, message: '' };

/** Starts the desktop. Answers when the first window is asked for, or at once when another one is running. */
export async function startDesktop(electron: ElectronModules, setup: DesktopSetup): Promise<void> {
  const { app, BrowserWindow, dialog, ipcMain, Menu, protocol, session, shell } = electron;
  if (!app.requestSingleInstanceLock()) {
    app.quit();
    return;
  }
  protocol.registerSchemesAsPrivileged(schemePrivileges);
  hardenApp(app, { folder: setup.folder, openExternal: (url) => void shell.openExternal(url) });
  await app.whenReady();
  hardenSession(session.defaultSession);

  const book = createDesktopBook({
    userData: app.getPath('userData'),
    assets: readAssets(setup.rendererFolder),
    workerUrl: setup.workerUrl,
    log: (line) => console.error(line),
  });
  protocol.handle(SCHEME, createSchemeHandler(book.core));
  const named = bookOfArgv(setup.argv, process.cwd());
  const opened = named === null ? await book.openLast() : await book.open(named);
  if (!opened.done) {
    dialog.showErrorBox('This book cannot be opened', opened.message);
    await book.openSample();
  }

  const reloadAll = (): void => {
    for (const window of BrowserWindow.getAllWindows()) void window.loadURL(START_URL);
  };
  const showFailure = (answer: DesktopAnswer): DesktopAnswer => {
    if (answer.done) reloadAll();
    else if (answer.message !== '') dialog.showErrorBox('This book cannot be opened', answer.message);
    return answer;
  };
  // Since Electron 43 dialogs start in the downloads folder unless told: the last folder is remembered here.
  let lastFolder = app.getPath('documents');
  const openBook = async (): Promise<DesktopAnswer> => {
    const chosen = await dialog.showOpenDialog({
      title: 'Open a book',
      defaultPath: lastFolder,
      filters: bookFilter,
      properties: ['openFile'],
    });
    const [file] = chosen.filePaths;
    if (chosen.canceled || file === undefined) return cancelled;
    lastFolder = path.dirname(file);
    return showFailure(await book.open(file));
  };
  const newBook = async (): Promise<DesktopAnswer> => {
    const chosen = await dialog.showSaveDialog({
      title: 'New book',
      defaultPath: path.join(lastFolder, 'site.book'),
      filters: bookFilter,
    });
    if (chosen.canceled || chosen.filePath === '') return cancelled;
    lastFolder = path.dirname(chosen.filePath);
    return showFailure(await book.create(chosen.filePath));
  };
  const openSample = async (): Promise<DesktopAnswer> => showFailure(await book.openSample());
  const printPdf = async (window: Electron.BrowserWindow, landscape: boolean): Promise<DesktopAnswer> => {
    const chosen = await dialog.showSaveDialog({
      title: 'Save as PDF',
      defaultPath: path.join(lastFolder, 'almanac.pdf'),
      filters: [{ name: 'PDF', extensions: ['pdf'] }],
    });
    if (chosen.canceled || chosen.filePath === '') return cancelled;
    lastFolder = path.dirname(chosen.filePath);
    const bytes = await window.webContents.printToPDF({
      landscape,
      preferCSSPageSize: true,
      generateTaggedPDF: true,
    });
    await writeFile(chosen.filePath, bytes);
    return { done: true, message: `${path.basename(chosen.filePath)} is saved.` };
  };

  const nothing = z.object({}).strict();
  handleTrusted(ipcMain, channels.openBook, { schema: nothing, run: openBook });
  handleTrusted(ipcMain, channels.newBook, { schema: nothing, run: newBook });
  handleTrusted(ipcMain, channels.openSample, { schema: nothing, run: openSample });
  handleTrusted(ipcMain, channels.printPdf, {
    schema: z.object({ landscape: z.boolean() }).strict(),
    run: async ({ landscape }, event) => {
      const window = BrowserWindow.fromWebContents(event.sender);
      return window ? printPdf(window, landscape) : cancelled;
    },
  });

  const createWindow = async (): Promise<void> => {
    const window = new BrowserWindow(windowOptions(setup.folder));
    window.once('ready-to-show', () => window.show());
    await window.loadURL(START_URL);
  };
  const focused = (): Electron.BrowserWindow | undefined =>
    BrowserWindow.getFocusedWindow() ?? BrowserWindow.getAllWindows()[0];
  Menu.setApplicationMenu(
    Menu.buildFromTemplate(
      menuTemplate(
        {
          openBook: () => void openBook(),
          newBook: () => void newBook(),
          openSample: () => void openSample(),
          printPdf: () => {
            const window = focused();
            if (window) void printPdf(window, false);
          },
        },
        setup.platform,
      ),
    ),
  );
  app.on('second-instance', (_event, argv, workingFolder) => {
    const window = focused();
    if (window) {
      if (window.isMinimized()) window.restore();
      window.focus();
    }
    const file = bookOfArgv(argv, workingFolder);
    if (file !== null) void book.open(file).then(showFailure);
  });
  app.on('window-all-closed', () => app.quit());
  let isClosed = false;
  app.on('before-quit', (event) => {
    if (isClosed) return;
    event.preventDefault();
    void book.close().then(() => {
      isClosed = true;
      app.quit();
    });
  });
  await createWindow();
}
