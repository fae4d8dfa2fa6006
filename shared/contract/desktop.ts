/** The few things that the page asks of the desktop: their names, and what the page sees as `window.desktop`. */

export const channels = {
  openBook: 'desktop:open-book',
  newBook: 'desktop:new-book',
  openSample: 'desktop:open-sample',
  printPdf: 'desktop:print-pdf',
} as const;

export type DesktopAnswer = { done: boolean; message: string };

export type DesktopApi = {
  /** Lets the person choose a book in a dialog; the path stays in the main process. */
  openBook: () => Promise<DesktopAnswer>;
  newBook: () => Promise<DesktopAnswer>;
  openSample: () => Promise<DesktopAnswer>;
  /** Saves the page as it prints, where the person says. */
  printPdf: (options: { landscape: boolean }) => Promise<DesktopAnswer>;
};
