/**
 * The built renderer as a fixed list of files, read once: a request looks a path up, and no path is ever
 * computed from a request.
 */
import { readFileSync, readdirSync, statSync } from 'node:fs';
import path from 'node:path';

export type Asset = { bytes: Uint8Array<ArrayBuffer>; mediaType: string };
export type Assets = ReadonlyMap<string, Asset>;

const mediaTypes: Record<string, string> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.json': 'application/json; charset=utf-8',
};

/** Reads every file below a folder, keyed by its URL path. Files of other kinds are left out. */
export function readAssets(folder: string): Assets {
  const assets = new Map<string, Asset>();
  for (const entry of readdirSync(folder, { recursive: true }) as string[]) {
    const file = path.join(folder, entry);
    const mediaType = mediaTypes[path.extname(entry)];
    if (!mediaType || !statSync(file).isFile()) continue;
    assets.set(`/${entry.split(path.sep).join('/')}`, {
      bytes: new Uint8Array(readFileSync(file)),
      mediaType,
    });
  }
  return assets;
}
