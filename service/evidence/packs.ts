/** The packs that stand beside a book, in a folder of its name. The page names no path: it knows them by their names. */
import { existsSync } from 'node:fs';
import { mkdir, readFile, readdir, stat } from 'node:fs/promises';
import path from 'node:path';
import { AppError } from '../../shared/contract/errors.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';

export function packsFolder(bookFile: string): string {
  return `${path.resolve(bookFile)}.packs`;
}

async function sizeOf(file: string): Promise<number> {
  const own = await stat(file);
  if (!own.isDirectory()) return own.size;
  let bytes = 0;
  for (const name of await readdir(file)) bytes += (await stat(path.join(file, name))).size;
  return bytes;
}

async function madeAtOf(file: string, isZip: boolean): Promise<string> {
  if (!isZip)
    try {
      const { made_at: at } = JSON.parse(await readFile(path.join(file, 'manifest.json'), 'utf8')) as {
        made_at?: string;
      };
      if (typeof at === 'string') return at;
    } catch {
      // Not a pack any more, or not one yet: its folder's time serves.
    }
  return (await stat(file)).mtime.toISOString();
}

/** Newest first. What is being written yet has another name. */
export async function packsBeside(bookFile: string) {
  const folder = packsFolder(bookFile);
  if (!existsSync(folder)) return [];
  const entries = await readdir(folder, { withFileTypes: true });
  const packs = await Promise.all(
    entries
      .filter(
        (one) => /^[\w-]+(?:\.zip)?$/u.test(one.name) && one.isDirectory() !== one.name.endsWith('.zip'),
      )
      .map(async ({ name }) => {
        const file = path.join(folder, name);
        const isZip = name.endsWith('.zip');
        return {
          name,
          as: isZip ? ('zip' as const) : ('folder' as const),
          bytes: await sizeOf(file),
          madeAt: await madeAtOf(file, isZip),
        };
      }),
  );
  return packs.toSorted((a, b) => b.madeAt.localeCompare(a.madeAt) || b.name.localeCompare(a.name));
}

/** The place of a new pack; the folder of packs is made where there is none. */
export async function nextPack(
  bookFile: string,
  { on, as }: { on: PlainDate; as: 'folder' | 'zip' },
): Promise<string> {
  const folder = packsFolder(bookFile);
  await mkdir(folder, { recursive: true });
  for (let count = 1; ; count += 1) {
    const name = path.join(folder, `evidence-${on}-${count}`);
    if (!existsSync(name) && !existsSync(`${name}.zip`)) return as === 'zip' ? `${name}.zip` : name;
  }
}

/** A pack by its name. Throws `not_found`. */
export async function requirePack(
  bookFile: string,
  name: string,
): Promise<{ file: string; as: 'folder' | 'zip' }> {
  const pack = (await packsBeside(bookFile)).find((one) => one.name === name);
  if (!pack) throw new AppError('not_found', 'There is no such pack beside the book any more.');
  return { file: path.join(packsFolder(bookFile), name), as: pack.as };
}
