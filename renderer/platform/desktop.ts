/** The desktop's own abilities, where there is a desktop. */
import type { DesktopApi } from '../../shared/contract/desktop.ts';

declare global {
  var desktop: DesktopApi | undefined;
}

/** The bridge of the desktop shell; undefined in a browser. */
export function desktopApi(): DesktopApi | undefined {
  return globalThis.desktop;
}
