/** `verify` and `anchor`: is the book what was written, and a head of its chain to keep outside it. */
import { readFileSync } from 'node:fs';
import { z } from 'zod';
import { AppError } from '../../shared/contract/errors.ts';
import { ANCHOR_FORMAT, anchor } from '../../shared/contract/records.ts';
import type { Parsed } from '../arguments.ts';
import type { Command } from './command.ts';
import { progressLine, withService, writeNew } from './command.ts';

const anchorFile = anchor.extend({ format: z.literal(ANCHOR_FORMAT) });

function refuse(file: string, reason: string): never {
  throw new AppError('invalid_input', 'The anchor cannot be used.', {
    problems: [{ file, column: '', value: '', reason }],
  });
}

/** The anchor that a file holds; null when none is named. */
function readAnchor(file: string | undefined): z.infer<typeof anchor> | null {
  if (file === undefined) return null;
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch {
    return refuse(file, 'the file cannot be read');
  }
  let held: unknown;
  try {
    held = JSON.parse(text);
  } catch {
    return refuse(file, 'not JSON');
  }
  const read = anchorFile.safeParse(held);
  if (!read.success) return refuse(file, `not an anchor of this program: ${read.error.issues[0].message}`);
  const { entries, headHash } = read.data;
  return { entries, headHash };
}

export const chainCommands: readonly Command[] = [
  {
    words: 'verify',
    takes: '[--anchor FILE]',
    does: 'check the file, the chain, every record and every derived figure; with an anchor, that nothing up to it was changed',
    options: { anchor: 'text' },
    positionals: { least: 0, most: 0 },
    run: async (context, args: Parsed) => {
      const kept = readAnchor(args.text('anchor'));
      return withService(context, async (service) => {
        const report = await service.runJob(
          'records.verify',
          { anchor: kept },
          { progress: progressLine(context) },
        );
        const lines = report.problems.map((problem) => `${problem.check}: ${problem.detail}`);
        return {
          json: report,
          text: [
            `${report.sound ? 'sound' : 'NOT SOUND'}: ${report.entries} entries, ${report.calibrations} records, ${report.readings} readings`,
            `head ${report.headHash}`,
            ...(kept && report.sound
              ? [`nothing up to entry ${kept.entries} was changed since the anchor`]
              : []),
            ...(report.firstBadEntry === null ? [] : [`first bad entry ${report.firstBadEntry}`]),
            ...lines,
          ].join('\n'),
          exit: report.sound ? 0 : 1,
        };
      });
    },
  },
  {
    words: 'anchor',
    takes: 'FILE.json',
    does: 'write the head of the chain to a new file, to be kept outside the book',
    options: {},
    positionals: { least: 1, most: 1 },
    run: async (context, { positional: [file] }) =>
      withService(context, async (service) => {
        const made = await service.call('records.anchor', {});
        writeNew(file, `${JSON.stringify(made, null, 2)}\n`);
        return { json: made, text: `${file}: ${made.entries} entries, head ${made.headHash}` };
      }),
  },
];
