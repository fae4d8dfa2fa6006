/** What a command of the command line is. */
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { openBook } from '../../db/book.ts';
import type { Clock } from '../../service/clock.ts';
import { createService } from '../../service/service.ts';
import type { Service } from '../../service/service.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { OptionKind, Parsed } from '../arguments.ts';

export type Output = { json: unknown; text: string; exit?: 0 | 1 | 2 };
export type CommandContext = { clock: Clock; bookFile: string | null; progress: (text: string) => void };

export type Command = {
  words: string;
  takes: string;
  does: string;
  options: Readonly<Record<string, OptionKind>>;
  positionals: { least: number; most: number };
  run: (context: CommandContext, args: Parsed) => Promise<Output>;
};

/** Runs a piece of work on the book that the command line names. */
export async function withService<T>(
  context: CommandContext,
  work: (service: Service) => Promise<T>,
): Promise<T> {
  if (context.bookFile === null)
    throw new AppError('invalid_input', 'Say which book: --book FILE.', {
      problems: [{ column: '--book', value: '', reason: 'needed for this command' }],
    });
  const service = createService({ book: await openBook(context.bookFile), clock: context.clock });
  try {
    return await work(service);
  } finally {
    await service.close();
  }
}

/** The round that `--round` names; the newest one without it. */
export function roundIdOf(args: Parsed): { id?: number } {
  const id = args.integer('round');
  return id === undefined ? {} : { id };
}

/** The files that a command line names, for a call that takes them. Throws `invalid_input` with the file and the reason. */
export function filesOf(args: Parsed): { name: string; base64: string }[] {
  return args.positional.map((file) => {
    try {
      return { name: path.basename(file), base64: readFileSync(file).toString('base64') };
    } catch (error) {
      const reason =
        error instanceof Error && 'code' in error && error.code === 'ENOENT'
          ? 'there is no such file'
          : 'the file cannot be read';
      throw new AppError('invalid_input', 'A file cannot be loaded.', {
        problems: [{ file, column: '', value: '', reason }],
      });
    }
  });
}

/** Progress of a job as one line. */
export function progressLine(context: CommandContext) {
  return (done: number, total: number, step: string): void => context.progress(`${step} ${done}/${total}`);
}

/** Writes a file that must not exist yet. Throws `invalid_input` with the file and the reason. */
export function writeNew(file: string, content: string | Uint8Array): void {
  try {
    writeFileSync(file, content, { flag: 'wx' });
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? String(error.code) : '';
    const reasons: Record<string, string> = {
      EEXIST: 'there is a file of that name already; it was not touched',
      ENOENT: 'there is no such folder',
      EACCES: 'the folder may not be written to',
      EISDIR: 'that is a folder',
    };
    throw new AppError('invalid_input', `${file} was not written: ${reasons[code] ?? code}.`);
  }
}
