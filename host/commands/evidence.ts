/** The evidence pack from the command line: written into a folder, and proved again. */
import { statSync } from 'node:fs';
import path from 'node:path';
import { streamBook } from '../../db/book.ts';
import { provePack } from '../../service/evidence/jobs.ts';
import { writePack } from '../../service/evidence/writePack.ts';
import { progressLine, withService } from './command.ts';
import type { Command } from './command.ts';
import { refuseArgument, scopeOf, scopeOptions, scopeTakes } from './scope.ts';
import { table } from './table.ts';

/** Asks to stop at Ctrl+C: what was begun is taken away again, and only then the program ends. */
function stopRequested(): () => boolean {
  let isStopped = false;
  for (const signal of ['SIGINT', 'SIGTERM'] as const)
    process.once(signal, () => {
      isStopped = true;
    });
  return () => isStopped;
}

export const evidenceCommands: readonly Command[] = [
  {
    words: 'evidence check',
    takes: 'FOLDER|FILE.zip',
    does: 'prove a pack: hashes, chain, records and derived figures; no book is needed',
    options: {},
    positionals: { least: 1, most: 1 },
    run: async (_context, { positional: [folder] }) => {
      const found = statSync(folder, { throwIfNoEntry: false });
      if (!found) refuseArgument('FOLDER', folder, 'there is no such folder or zip');
      const report = await provePack(path.resolve(folder), found?.isDirectory() ? 'folder' : 'zip', {
        progress: () => {},
        cancelled: () => false,
      });
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
    takes: `FOLDER|FILE.zip ${scopeTakes}`,
    does: 'write the evidence pack into a new folder, or as a zip',
    options: scopeOptions,
    positionals: { least: 1, most: 1 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const [folder] = args.positional;
        const summary = await streamBook(service.book, async (db) =>
          writePack(
            db,
            {
              folder,
              scope: scopeOf(args),
              madeAt: context.clock.now(),
              as: folder.endsWith('.zip') ? 'zip' : 'folder',
            },
            { progress: progressLine(context), cancelled: stopRequested() },
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
