/** Opens a link outside the program, when it is one that may be opened at all. */

const allowedProtocols = new Set(['https:', 'mailto:']);

/** Answers whether the link was handed to `open`. Anything but a clean https or mailto address is refused. */
export function openExternalLink(address: unknown, open: (url: string) => void): boolean {
  if (typeof address !== 'string' || address.length > 2000 || /[\u0000-\u0020\u007f]/.test(address))
    return false;
  let url: URL;
  try {
    url = new URL(address);
  } catch {
    return false;
  }
  if (!allowedProtocols.has(url.protocol) || url.username !== '' || url.password !== '') return false;
  open(url.href);
  return true;
}
