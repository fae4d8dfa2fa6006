/** Opens the zip of a pack, by the library yauzl. A name that leads out of the folder is refused. */
import { createWriteStream } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import { openPromise } from 'yauzl';
import { AppError } from '../../shared/contract/errors.ts';

/** Answers the folder in which the files of the pack stand. Throws `file_unreadable`. */
export async function unzipInto(file: string, folder: string): Promise<string> {
  let at = path.basename(file);
  try {
    const zip = await openPromise(file, { lazyEntries: true });
    let directory: string | null = null;
    const inside = path.join(folder, 'pack');
    await mkdir(inside);
    for await (const entry of zip.eachEntry()) {
      const parts = entry.fileName.split('/');
      const name = parts.pop() ?? '';
      const own = parts.join('/');
      // One folder, whatever its name: what stands in another would be proved by nothing.
      if (parts.length > 1 || (directory !== null && own !== directory))
        throw new Error(`it holds ${entry.fileName.slice(0, 80)} beside the folder of the pack`);
      directory = own;
      // Other programs note the folder itself.
      if (name === '') continue;
      if (!/^\w[\w.-]*$/u.test(name))
        throw new Error(`it holds ${entry.fileName.slice(0, 80)}, which no pack has`);
      at = name;
      const target = createWriteStream(path.join(inside, name), { flags: 'wx' });
      await pipeline(await zip.openReadStreamPromise(entry), target).catch((error: unknown) => {
        if ((error as NodeJS.ErrnoException).code === 'EEXIST') throw new Error('it stands twice in the zip');
        throw error;
      });
    }
    return inside;
  } catch (error) {
    throw new AppError(
      'file_unreadable',
      `${at} cannot be read out of ${path.basename(file)}: ${(error as Error).message}`,
    );
  }
}
