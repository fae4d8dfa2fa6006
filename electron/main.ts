/** Entry of the desktop shell. */
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { BrowserWindow, Menu, app, dialog, ipcMain, protocol, session, shell } from 'electron';
import { startDesktop } from './desktop.ts';

const folder = path.dirname(fileURLToPath(import.meta.url));

void startDesktop(
  { app, BrowserWindow, dialog, ipcMain, Menu, protocol, session, shell },
  {
    folder,
    rendererFolder: path.join(folder, '..', 'renderer'),
    workerUrl: new URL('./worker.js', import.meta.url),
    argv: process.argv,
    platform: process.platform,
  },
);
