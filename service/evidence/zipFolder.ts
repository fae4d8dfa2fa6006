/** A folder as a zip, by the library yazl: streamed, beyond 4 GB as well, every file with the time that is given. */
import { createWriteStream } from 'node:fs';
import { readdir } from 'node:fs/promises';
import path from 'node:path';
import { finished } from 'node:stream/promises';
import { ZipFile } from 'yazl';
import { AppError } from '../../shared/contract/errors.ts';
import type { JobHooks } from '../context.ts';

/** Writes `target` anew. Throws `cancelled`; who asked removes what there is of it. */
export async function zipFolder(
  folder: string,
  { target, inside, at }: { target: string; inside: string; at: Date },
  hooks: JobHooks,
): Promise<void> {
  const names = (await readdir(folder)).toSorted();
  const zip = new ZipFile();
  for (const name of names)
    zip.addFile(path.join(folder, name), `${inside}/${name}`, { mtime: at, mode: 0o100644 });
  zip.end();
  const out = createWriteStream(target, { flags: 'wx' });
  let bytes = 0;
  zip.on('error', (error: Error) => out.destroy(error));
  zip.outputStream.on('data', (piece: Buffer) => {
    bytes += piece.length;
    hooks.progress(bytes, bytes + 1, 'zip');
    if (hooks.cancelled()) out.destroy(new AppError('cancelled', 'Cancelled; no pack was written.'));
  });
  zip.outputStream.pipe(out);
  await finished(out);
}
