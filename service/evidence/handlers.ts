/** Packs that stand beside the book. */
import { AppError } from '../../shared/contract/errors.ts';
import type { GroupHandlers } from '../context.ts';
import { packsBeside, requirePack } from './packs.ts';

export const evidenceHandlers: GroupHandlers<'evidence'> = {
  packs: async ({ book }) => ({ packs: await packsBeside(book.file) }),

  download: async ({ book }, { name }) => {
    const { file, as } = await requirePack(book.file, name);
    if (as !== 'zip')
      throw new AppError('conflict', 'This pack is a folder beside the book; only a zip is one file.');
    return { fileName: name, mediaType: 'application/zip', bytes: new Uint8Array(), path: file };
  },
};
