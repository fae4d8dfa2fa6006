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
  /** Tables that follow from the same pieces, which are gone through once. */
  tables: <T>(
    pieces: AsyncIterable<T>,
    tables: readonly {
      name: string;
      columns: readonly string[];
      rowsOf: (piece: T) => Readonly<Record<string, string>>[];
      /** Rows that stand at the end. */
      last?: readonly Readonly<Record<string, string>>[];
    }[],
  ) => Promise<void>;
  /** Bytes that a library writes into a stream. */
  stream: (name: string, write: (target: Writable) => Promise<void>) => Promise<void>;
  /** Bytes as they are. */
  bytes: (name: string, data: Uint8Array) => Promise<void>;
  /** Any text, whole or in pieces; `rows` where its lines are counted. */
  text: (name: string, pieces: Iterable<string> | AsyncIterable<string>, hasRows?: boolean) => Promise<void>;
};

type Piece = { text: string; rows: number };

/** Letters that are written at once. */
const SCRATCH = 32_768;
/** The upper bits of the second half of a letter beyond the first 65,536. */
const LOW_HALF = 0xdc00 >>> 10;

/** One file that grows piece by piece. */
async function openFile(folder: string, name: string) {
  const hash = createHash('sha256');
  const file = await open(path.join(folder, name), 'wx');
  let [bytes, rows] = [0, 0];
  const encoder = new TextEncoder();
  const scratch = new Uint8Array(3 * SCRATCH);
  return {
    add: async ({ text, rows: own }: Piece): Promise<void> => {
      rows += own;
      // Through one small buffer: a fresh one for every piece of millions of rows is memory that does not come back.
      for (let at = 0; at < text.length;) {
        const end = at + SCRATCH;
        // A letter of two halves is not cut between them.
        const isCut = end < text.length && text.charCodeAt(end) >>> 10 === LOW_HALF;
        const slice = text.slice(at, isCut ? end - 1 : end);
        const { written } = encoder.encodeInto(slice, scratch);
        const data = scratch.subarray(0, written);
        hash.update(data);
        for (let sent = 0; sent < written;)
          sent += (await file.write(data, sent, written - sent)).bytesWritten;
        bytes += written;
        at += slice.length;
      }
    },
    close: async (): Promise<void> => file.close(),
    told: (hasRows: boolean): PackFile => ({
      name,
      bytes,
      rows: hasRows ? rows : null,
      sha256: hash.digest('hex'),
    }),
  };
}

/** A writer into a folder that exists. `cancelled` is asked between two pieces: then it throws `cancelled`. */
export function packWriter(folder: string, cancelled: () => boolean): PackWriter {
  const files: PackFile[] = [];
  const goOn = (): void => {
    if (cancelled()) throw new AppError('cancelled', 'Cancelled; no pack was written.');
  };
  async function write(name: string, pieces: AsyncIterable<Piece>, hasRows: boolean): Promise<void> {
    const file = await openFile(folder, name);
    try {
      for await (const piece of pieces) {
        goOn();
        await file.add(piece);
      }
    } finally {
      await file.close();
    }
    files.push(file.told(hasRows));
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
    tables: async (pieces, tables) => {
      const opened = await Promise.all(tables.map(({ name }) => openFile(folder, name)));
      try {
        for (const [index, { columns }] of tables.entries())
          await opened[index].add({ text: csvText(columns, []), rows: 0 });
        const add = async (
          index: number,
          rows: readonly Readonly<Record<string, string>>[],
        ): Promise<void> => {
          if (rows.length > 0)
            await opened[index].add({ text: csvText(tables[index].columns, rows, false), rows: rows.length });
        };
        for await (const piece of pieces) {
          goOn();
          for (const [index, { rowsOf }] of tables.entries()) await add(index, rowsOf(piece));
        }
        for (const [index, { last }] of tables.entries()) await add(index, last ?? []);
      } finally {
        for (const file of opened) await file.close();
      }
      for (const file of opened) files.push(file.told(true));
    },
    stream: async (name, make) => {
      const hash = createHash('sha256');
      let bytes = 0;
      const meter = new Transform({
        transform: (piece: Buffer, _encoding, done) => {
          hash.update(piece);
          bytes += piece.length;
          try {
            goOn();
            done(null, piece);
          } catch (error) {
            done(error as Error);
          }
        },
      });
      const written = pipeline(meter, createWriteStream(path.join(folder, name), { flags: 'wx' }));
      // A library that goes on writing into what was broken off waits for ever.
      await Promise.all([written, Promise.race([make(meter), written])]);
      files.push({ name, bytes, rows: null, sha256: hash.digest('hex') });
    },
    bytes: async (name, data) => {
      goOn();
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
