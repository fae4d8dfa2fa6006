/** The evidence pack from the command line: written into a folder, and proved again. */
import { statSync } from 'node:fs';
import path from 'node:path';
import { readBook } from '../../db/book.ts';
import { checkPack } from '../../service/evidence/check.mjs';
import { writePack } from '../../service/evidence/writePack.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { deviceClasses } from '../../shared/trade/words.ts';
import { dateOption } from '../arguments.ts';
import type { Parsed } from '../arguments.ts';
import { progressLine, withService } from './command.ts';
import type { Command } from './command.ts';
import { table } from './table.ts';

function refuse(column: string, value: string, reason: string): never {
  throw new AppError('invalid_input', 'The command line says something that cannot be.', {
    problems: [{ column, value, reason }],
  });
}

function classOf(args: Parsed): string | null {
  const text = args.text('class');
  if (text === undefined) return null;
  return (
    deviceClasses.find((one) => one === text) ??
    refuse('--class', text, `one of: ${deviceClasses.join(', ')}`)
  );
}

export const evidenceCommands: readonly Command[] = [
  {
    words: 'evidence check',
    takes: 'FOLDER',
    does: 'prove a pack: hashes, chain, records and derived figures; no book is needed',
    options: {},
    positionals: { least: 1, most: 1 },
    run: async (_context, { positional: [folder] }) => {
      if (!statSync(folder, { throwIfNoEntry: false })?.isDirectory())
        refuse('FOLDER', folder, 'there is no such folder');
      const report = await checkPack(path.resolve(folder));
      const lines = report.problems.map(({ file, detail }) => `${file}: ${detail}`);
      return {
        json: report,
        text: [
          ...lines,
          ...(report.more > 0 ? [`and ${report.more} more`] : []),
          report.sound
            ? `sound: ${report.files} files, ${report.entries} entries, ${report.records} records and ${report.drifts} drifts hold; head ${report.head}`
            : 'NOT SOUND',
        ].join('\n'),
        exit: report.sound ? 0 : 1,
      };
    },
  },
  {
    words: 'evidence',
    takes:
      'FOLDER [--from DATE] [--to DATE] [--building B] [--level L] [--main TAG] [--class CLASS] [--tags TAG,TAG,...]',
    does: 'write the evidence pack into a new folder',
    options: {
      from: 'text',
      to: 'text',
      building: 'text',
      level: 'text',
      main: 'text',
      class: 'text',
      tags: 'text',
    },
    positionals: { least: 1, most: 1 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const [folder] = args.positional;
        const summary = await readBook(service.book, async (db) =>
          writePack(
            db,
            {
              folder,
              scope: {
                building: args.text('building') ?? null,
                level: args.text('level') ?? null,
                main: args.text('main') ?? null,
                class: classOf(args),
                tags: args.text('tags')?.split(',') ?? null,
                from: dateOption(args, 'from'),
                to: dateOption(args, 'to'),
              },
              madeAt: context.clock.now(),
            },
            { progress: progressLine(context), cancelled: () => false },
          ),
        );
        const files = summary.files.map(({ name, rows, bytes }) => [
          name,
          rows === null ? '' : String(rows),
          String(bytes),
        ]);
        return {
          json: summary,
          text: [
            `${folder}: ${summary.scope}`,
            table([['file', 'rows', 'bytes'], ...files]),
            `chain of ${summary.entries} entries, head ${summary.headHash}`,
            `keep this elsewhere: SHA-256 of manifest.json ${summary.manifestHash}`,
          ].join('\n'),
        };
      }),
  },
];
