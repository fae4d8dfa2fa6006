/** The page's bridge: one frozen object of named functions, nothing of Electron itself. */
import { contextBridge, ipcRenderer } from 'electron';
import { channels } from '../shared/contract/desktop.ts';
import type { DesktopApi } from '../shared/contract/desktop.ts';

const desktop = {
  openBook: () => ipcRenderer.invoke(channels.openBook, {}),
  newBook: () => ipcRenderer.invoke(channels.newBook, {}),
  openSample: () => ipcRenderer.invoke(channels.openSample, {}),
  printPdf: (options) => ipcRenderer.invoke(channels.printPdf, { landscape: options.landscape === true }),
} satisfies DesktopApi;

contextBridge.exposeInMainWorld('desktop', Object.freeze(desktop));
