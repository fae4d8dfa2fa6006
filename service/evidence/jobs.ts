/** The long work on packs: preview, writing, proof. */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { streamBook } from '../../db/book.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { PackProof } from '../../shared/contract/evidence.ts';
import type { JobHandler, JobHooks } from '../context.ts';
import { checkPack } from './check.mjs';
import { nextPack, requirePack } from './packs.ts';
import { previewPack } from './preview.ts';
import { asOfDay, lastDayOf } from './scope.ts';
import { unzipInto } from './unzip.ts';
import { writePack } from './writePack.ts';

/** As the pack itself tells it: as of its own day, not of today. */
export const previewJob: JobHandler<'evidence.preview'> = async ({ book: { reader } }, scope, hooks) =>
  previewPack(reader, scope, asOfDay(scope, (await lastDayOf(reader)).on), hooks);

export const writeJob: JobHandler<'evidence.write'> = async ({ book, clock }, { scope, as }, hooks) => {
  const folder = await nextPack(book.file, { on: clock.today(), as });
  return streamBook(book, async (db) => writePack(db, { folder, scope, madeAt: clock.now(), as }, hooks));
};

/** Proves a pack, whether it is a folder or a zip; a zip is opened beside everything else, and taken away again. */
export async function provePack(file: string, as: 'folder' | 'zip', hooks: JobHooks): Promise<PackProof> {
  if (as === 'folder') return checkPack(file) as Promise<PackProof>;
  const folder = await mkdtemp(path.join(tmpdir(), 'evidence-'));
  try {
    hooks.progress(0, 2, 'opening the zip');
    const inside = await unzipInto(file, folder).catch((error: unknown) => error);
    if (inside instanceof AppError && inside.code === 'file_unreadable')
      return {
        sound: false,
        problems: [{ file: path.basename(file), detail: inside.message }],
        more: 0,
        files: 0,
        records: 0,
        drifts: 0,
        head: '',
        entries: 0,
      };
    if (typeof inside !== 'string') throw inside;
    if (hooks.cancelled()) throw new AppError('cancelled', 'Cancelled.');
    hooks.progress(1, 2, 'proving');
    return (await checkPack(inside)) as PackProof;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

export const checkJob: JobHandler<'evidence.check'> = async ({ book }, { name }, hooks) => {
  const { file, as } = await requirePack(book.file, name);
  hooks.progress(0, 1, 'proving');
  return provePack(file, as, hooks);
};
