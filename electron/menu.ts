/** The desktop's menu, as a plain template. */
import type { MenuItemConstructorOptions } from 'electron';

export type MenuActions = {
  openBook: () => void;
  newBook: () => void;
  openSample: () => void;
  printPdf: () => void;
};

/** The same menu on every platform, with the application menu where the platform wants one. */
export function menuTemplate(actions: MenuActions, platform: string): MenuItemConstructorOptions[] {
  return [
    ...(platform === 'darwin' ? [{ role: 'appMenu' as const }] : []),
    {
      label: 'Book',
      submenu: [
        { label: 'Open a book…', accelerator: 'CmdOrCtrl+O', click: actions.openBook },
        { label: 'New book…', accelerator: 'CmdOrCtrl+N', click: actions.newBook },
        { label: 'Open the sample site', click: actions.openSample },
        { type: 'separator' },
        { label: 'Save this screen as PDF…', accelerator: 'CmdOrCtrl+P', click: actions.printPdf },
        { type: 'separator' },
        { role: platform === 'darwin' ? 'close' : 'quit' },
      ],
    },
    { role: 'editMenu' },
    {
      label: 'View',
      submenu: [
        { role: 'reload' },
        { type: 'separator' },
        { role: 'resetZoom' },
        { role: 'zoomIn' },
        { role: 'zoomOut' },
        { type: 'separator' },
        { role: 'togglefullscreen' },
      ],
    },
    { role: 'windowMenu' },
  ];
}
