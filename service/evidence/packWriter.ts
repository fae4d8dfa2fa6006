/** Writes the files of a pack one after another, in pieces, with the size, the rows and the SHA-256 of each. */
import { createHash } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { open, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { Transform } from 'node:stream';
import type { Writable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { AppError } from '../../shared/contract/errors.ts';
import { csvText } from '../csv/writeCsv.ts';

export type PackFile = { name: string; bytes: number; rows: number | null; sha256: string };
export type CsvRows = AsyncIterable<readonly Readonly<Record<string, string>>[]>;

export type PackWriter = {
  files: readonly PackFile[];
  /** A table, from rows that come in pieces. */
  table: (name: string, columns: readonly string[], pieces: CsvRows) => Promise<void>;
  /** Bytes that a library writes into a stream. */
  stream: (name: string, write: (target: Writable) => Promise<void>) => Promise<void>;
  /** Bytes as they are. */
  bytes: (name: string, data: Uint8Array) => Promise<void>;
  /** Any text, whole or in pieces; `rows` where its lines are counted. */
  text: (name: string, pieces: Iterable<string> | AsyncIterable<string>, hasRows?: boolean) => Promise<void>;
};

/** A writer into a folder that exists. `cancelled` is asked between two pieces: then it throws `cancelled`. */
export function packWriter(folder: string, cancelled: () => boolean): PackWriter {
  const files: PackFile[] = [];
  async function write(
    name: string,
    pieces: Iterable<{ text: string; rows: number }> | AsyncIterable<{ text: string; rows: number }>,
    hasRows: boolean,
  ): Promise<void> {
    const hash = createHash('sha256');
    const file = await open(path.join(folder, name), 'wx');
    let bytes = 0;
    let rows = 0;
    try {
      for await (const piece of pieces) {
        if (cancelled()) throw new AppError('cancelled', 'Cancelled; no pack was written.');
        const data = Buffer.from(piece.text, 'utf8');
        hash.update(data);
        bytes += data.length;
        rows += piece.rows;
        await file.writeFile(data);
      }
    } finally {
      await file.close();
    }
    files.push({ name, bytes, rows: hasRows ? rows : null, sha256: hash.digest('hex') });
  }
  return {
    files,
    table: async (name, columns, pieces) => {
      async function* texts() {
        yield { text: csvText(columns, []), rows: 0 };
        for await (const rows of pieces)
          if (rows.length > 0) yield { text: csvText(columns, rows, false), rows: rows.length };
      }
      await write(name, texts(), true);
    },
    stream: async (name, make) => {
      const hash = createHash('sha256');
      let bytes = 0;
      const meter = new Transform({
        transform: (piece: Buffer, _encoding, done) => {
          hash.update(piece);
          bytes += piece.length;
          done(cancelled() ? new AppError('cancelled', 'Cancelled; no pack was written.') : null, piece);
        },
      });
      const written = pipeline(meter, createWriteStream(path.join(folder, name), { flags: 'wx' }));
      // A library that goes on writing into what was broken off waits for ever.
      await Promise.all([written, Promise.race([make(meter), written])]);
      files.push({ name, bytes, rows: null, sha256: hash.digest('hex') });
    },
    bytes: async (name, data) => {
      if (cancelled()) throw new AppError('cancelled', 'Cancelled; no pack was written.');
      await writeFile(path.join(folder, name), data, { flag: 'wx' });
      files.push({
        name,
        bytes: data.length,
        rows: null,
        sha256: createHash('sha256').update(data).digest('hex'),
      });
    },
    text: async (name, pieces, hasRows = false) => {
      async function* texts() {
        for await (const text of pieces) yield { text, rows: hasRows ? text.split('\n').length - 1 : 0 };
      }
      await write(name, texts(), hasRows);
    },
  };
}
