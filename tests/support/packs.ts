/** Evidence packs for tests: written, read back, and forged. */
import { createHash } from 'node:crypto';
import { cpSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { parse } from 'csv-parse/sync';
import { readBook } from '../../db/book.ts';
import { checkPack } from '../../service/evidence/check.mjs';
import { wholeSite } from '../../service/evidence/scope.ts';
import type { PackScope } from '../../service/evidence/scope.ts';
import { writePack } from '../../service/evidence/writePack.ts';
import type { Service } from '../../service/service.ts';
import { temporaryFolder } from './books.ts';

export const MADE_AT = '2026-11-25T10:00:00Z';

export async function pack(
  service: Service,
  {
    scope = {},
    madeAt = MADE_AT,
    cancelled = () => false,
  }: { scope?: Partial<PackScope>; madeAt?: string; cancelled?: () => boolean } = {},
): Promise<string> {
  const folder = path.join(temporaryFolder(), 'pack');
  await readBook(service.book, async (db) =>
    writePack(
      db,
      { folder, scope: { ...wholeSite, ...scope }, madeAt },
      { progress: () => undefined, cancelled },
    ),
  );
  return folder;
}

/** Files of a copy of a pack changed by somebody who makes every hash anew: the files that its proof names. */
export async function forged(
  folder: string,
  changes: Readonly<Record<string, (text: string) => string>>,
): Promise<string[]> {
  const copy = path.join(temporaryFolder(), 'copy');
  cpSync(folder, copy, { recursive: true });
  const hash = (bytes: Uint8Array) => createHash('sha256').update(bytes).digest('hex');
  const manifestFile = path.join(copy, 'manifest.json');
  const manifest = JSON.parse(readFileSync(manifestFile, 'utf8')) as {
    files: { name: string; bytes: number; rows: number | null; sha256: string }[];
  };
  for (const [name, change] of Object.entries(changes)) {
    const file = path.join(copy, name);
    writeFileSync(file, change(readFileSync(file, 'utf8')));
    const one = manifest.files.find((own) => own.name === name);
    const bytes = readFileSync(file);
    if (one) Object.assign(one, { bytes: bytes.length, sha256: hash(bytes) });
    if (one && one.rows !== null && name.endsWith('.csv')) one.rows = rows(copy, name).length;
  }
  writeFileSync(manifestFile, `${JSON.stringify(manifest, null, 2)}\n`);
  writeFileSync(path.join(copy, 'manifest.sha256'), `${hash(readFileSync(manifestFile))}  manifest.json\n`);
  return (await checkPack(copy)).problems.map((one) => one.file);
}

export const rows = (folder: string, name: string): Record<string, string>[] =>
  parse(readFileSync(path.join(folder, name)), { columns: true, bom: true });
