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
    let inside = folder;
    for await (const entry of zip.eachEntry()) {
      const [directory, name, ...deeper] = entry.fileName.split('/');
      if (
        name === undefined ||
        name === '' ||
        deeper.length > 0 ||
        !/^[\w-]+$/u.test(directory) ||
        !/^[\w.-]+$/u.test(name)
      )
        throw new Error(`it holds ${entry.fileName.slice(0, 80)}, which no pack has`);
      at = name;
      inside = path.join(folder, directory);
      await mkdir(inside, { recursive: true });
      await pipeline(await zip.openReadStreamPromise(entry), createWriteStream(path.join(inside, name)));
    }
    return inside;
  } catch (error) {
    throw new AppError(
      'file_unreadable',
      `${at} cannot be read out of ${path.basename(file)}: ${(error as Error).message}`,
    );
  }
}
