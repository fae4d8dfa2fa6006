/** Puts the decisions of security.ts on Electron's objects. Each function takes the object it hardens. */
import type { App, Session, WebContents } from 'electron';
import { openExternalLink } from './externalLinks.ts';
import { isOwnUrl, isPermissionAllowed, mayOpenWindow, windowOptions } from './security.ts';

/** Denies every permission that is not listed, both when asked for and when checked. */
export function hardenSession(session: Session): void {
  session.setPermissionRequestHandler((contents, permission, callback, details) => {
    callback(isPermissionAllowed(permission, details.requestingUrl ?? contents.getURL()));
  });
  session.setPermissionCheckHandler((_contents, permission, requestingOrigin) =>
    isPermissionAllowed(permission, requestingOrigin),
  );
  session.on('will-download', (event, _item, contents) => {
    if (!isOwnUrl(contents.getURL())) event.preventDefault();
  });
}

/** Keeps a page on our own origin, opens only our own windows, and never a webview. */
export function hardenContents(
  contents: WebContents,
  setup: { folder: string; openExternal: (url: string) => void },
): void {
  contents.on('will-navigate', (event) => {
    if (!isOwnUrl(event.url)) event.preventDefault();
  });
  contents.on('will-redirect', (event) => {
    if (!isOwnUrl(event.url)) event.preventDefault();
  });
  contents.on('will-frame-navigate', (event) => {
    if (!isOwnUrl(event.url)) event.preventDefault();
  });
  contents.on('will-attach-webview', (event) => event.preventDefault());
  contents.setWindowOpenHandler(({ url }) => {
    if (mayOpenWindow(url))
      return { action: 'allow', overrideBrowserWindowOptions: windowOptions(setup.folder) };
    openExternalLink(url, setup.openExternal);
    return { action: 'deny' };
  });
}

/** Sandboxes every page there will be, and hardens each as it is made. Call before the app is ready. */
export function hardenApp(app: App, setup: { folder: string; openExternal: (url: string) => void }): void {
  app.enableSandbox();
  app.on('web-contents-created', (_event, contents) => hardenContents(contents, setup));
}
