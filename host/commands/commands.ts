/** Every command of the command line: what it takes, what it prints, what it answers as JSON. */
import { createBook, backUpBook, restoreBook } from '../../db/book.ts';
import { createSampleBook } from '../../service/sample/createSample.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { LoadReport, FileStyle } from '../../shared/contract/register.ts';
import type { OptionKind, Parsed } from '../arguments.ts';
import type { Command, CommandContext, Output } from './command.ts';
import { filesOf, progressLine, roundIdOf, withService, writeNew } from './command.ts';
import { chainCommands } from './chain.ts';
import { driftCommands } from './drift.ts';
import { energyCommands } from './energy.ts';
import { evidenceCommands } from './evidence.ts';
import { findingCommands } from './findings.ts';
import { retrofitCommands } from './retrofit.ts';
import { roundFileCommands } from './roundFiles.ts';
import { solveCommand } from './solve.ts';
import { stationCommands } from './station.ts';
import { table } from './table.ts';
import { whyCommands } from './why.ts';

const none = { least: 0, most: 0 };

const styleOptions: Record<string, OptionKind> = {
  'dry-run': 'flag',
  pressure: 'text',
  temperature: 'text',
  dates: 'text',
  decimals: 'text',
  encoding: 'text',
};

function styleOf(args: Parsed): FileStyle {
  const pick = <T extends string>(name: string, choices: readonly T[]): T => {
    const given = args.text(name);
    if (given === undefined) return choices[0];
    const choice = choices.find((one) => one === given);
    if (!choice)
      throw new AppError('invalid_input', `--${name} is one of: ${choices.join(', ')}.`, {
        problems: [{ column: `--${name}`, value: given, reason: `not one of: ${choices.join(', ')}` }],
      });
    return choice;
  };
  return {
    pressure: pick('pressure', ['psi', 'kPa']),
    temperature: pick('temperature', ['degF', 'degC']),
    dates: pick('dates', ['ymd', 'dmy', 'mdy']),
    decimals: pick('decimals', ['point', 'comma']),
    encoding: pick('encoding', ['utf-8', 'windows-1252']),
  };
}

function loadOutput(report: LoadReport): Output {
  if (report.problems.length > 0)
    throw new AppError('invalid_input', report.message, { problems: report.problems });
  return { json: report, text: report.message };
}

const loadJob =
  (name: 'register.load' | 'records.load') =>
  async (context: CommandContext, args: Parsed): Promise<Output> => {
    const input = { style: styleOf(args), files: filesOf(args), dryRun: args.flag('dry-run') };
    return withService(context, async (service) => loadOutput(await service.runJob(name, input)));
  };

export const commands: readonly Command[] = [
  {
    words: 'new',
    takes: 'FILE',
    does: 'make an empty book',
    options: {},
    positionals: { least: 1, most: 1 },
    run: async (_context, { positional: [file] }) => {
      await (await createBook(file)).close();
      return { json: { book: file }, text: `${file} is an empty book.` };
    },
  },
  {
    words: 'sample',
    takes: 'FILE',
    does: 'make a book with the sample site, Wexmoor Civic Hall and Annex',
    options: {},
    positionals: { least: 1, most: 1 },
    run: async (context, { positional: [file] }) => {
      const made = await createSampleBook(file, context.progress);
      return {
        json: { book: file, ...made },
        text: `${file} holds the sample site: ${made.devices} devices, ${made.calibrations} records.`,
      };
    },
  },
  {
    words: 'register load',
    takes:
      'FILE.csv [FILE.csv ...] [--dry-run] [--pressure psi|kPa] [--temperature degF|degC] [--dates ymd|dmy|mdy] [--decimals point|comma] [--encoding utf-8|windows-1252]',
    does: 'load devices; all rows or none',
    options: styleOptions,
    positionals: { least: 1, most: 50 },
    run: loadJob('register.load'),
  },
  {
    words: 'register export',
    takes: '[--out FILE.csv]',
    does: 'write the register as CSV that loads back identically',
    options: { out: 'text' },
    positionals: none,
    run: async (context, args) =>
      withService(context, async (service) => {
        const file = await service.call('register.export', {});
        const text = new TextDecoder().decode(file.bytes);
        const out = args.text('out');
        if (out === undefined) return { json: { csv: text }, text: text.replace(/\r\n$/, '') };
        writeNew(out, file.bytes);
        const { headHash, ledgerEntries } = await service.call('settings.book', {});
        return {
          json: { file: out, bytes: file.bytes.length, ledgerEntries, headHash },
          text: `${out} written.\nledger ${ledgerEntries}: ${headHash}`,
        };
      }),
  },
  {
    words: 'readings load',
    takes: 'FILE.csv [FILE.csv ...] [--dry-run] and the style options of register load',
    does: 'load past readings; all rows or none',
    options: styleOptions,
    positionals: { least: 1, most: 50 },
    run: loadJob('records.load'),
  },
  {
    words: 'due',
    takes: '[--on DATE] [--until DATE]',
    does: 'the due ledger: late, and due until a date (90 days ahead unless said)',
    options: { on: 'text', until: 'text' },
    positionals: none,
    run: async (context, args) =>
      withService(context, async (service) => {
        const on = args.text('on');
        const summary = await service.call('due.summary', { on });
        const ledger = await service.call('due.ledger', { on, until: args.text('until'), limit: 100_000 });
        const rows = ledger.rows.map((row) => [
          row.dueOn,
          row.daysLate > 0 ? `${row.daysLate} late` : '',
          row.tag,
          row.role,
          row.kind,
          row.main ?? '',
          row.lastDoneOn ?? 'never',
        ]);
        return {
          json: { ...summary, until: ledger.until, rows: ledger.rows },
          text: [
            `On ${summary.on}: ${summary.late} late, ${summary.within30} due in 30 days, ${summary.within90} in 90 days, ${summary.neverDone} never calibrated.`,
            table([['due', 'late', 'tag', 'role', 'kind', 'main', 'last done'], ...rows]),
          ].join('\n'),
        };
      }),
  },
  {
    words: 'round draw',
    takes: '--from DATE --to DATE [--seed N] [--evaluations N] [--name TEXT]',
    does: 'plan a round into the book as a draft',
    options: { from: 'text', to: 'text', seed: 'integer', evaluations: 'integer', name: 'text' },
    positionals: none,
    run: async (context, args) =>
      withService(context, async (service) => {
        const from = args.text('from') ?? '';
        const to = args.text('to') ?? '';
        const drawn = await service.runJob(
          'rounds.draw',
          {
            from,
            to,
            seed: args.integer('seed') ?? 1,
            evaluations: args.integer('evaluations'),
            name: args.text('name') ?? '',
          },
          { progress: progressLine(context) },
        );
        const { figures } = drawn;
        return {
          json: drawn,
          text: `Round ${drawn.roundId}: ${figures.placed} tasks placed, ${figures.unplaced} not, ${figures.switchovers} switchovers, ${figures.weightedDaysLate} weighted days late, ${figures.walkingMinutes} minutes of walking; total ${figures.total}, at most ${figures.total - (figures.bounds?.total ?? 0)} can still be won.`,
        };
      }),
  },
  solveCommand,
  ...whyCommands,
  {
    words: 'round show',
    takes: '[--round N]',
    does: 'the visits of a round (the newest unless said), and what could not be placed',
    options: { round: 'integer' },
    positionals: none,
    run: async (context, args) =>
      withService(context, async (service) => {
        const show = await service.call('rounds.show', roundIdOf(args));
        const rows = show.visits.flatMap((visit) =>
          visit.tasks.map((task) => [
            visit.date,
            visit.shift,
            visit.person,
            String(visit.order),
            [visit.building, visit.level, visit.room].filter((word) => word).join('/'),
            visit.main ?? '',
            visit.airState ?? '',
            task.tag,
            task.role ?? '',
            task.kind,
            String(task.minutes),
          ]),
        );
        const left = show.unplaced.map(
          (task) => `not placed: ${task.id}: ${task.reason}${task.detail ? ` (${task.detail})` : ''}`,
        );
        return {
          json: show,
          text: [
            table([
              ['date', 'shift', 'who', '#', 'place', 'main', 'air', 'tag', 'role', 'kind', 'min'],
              ...rows,
            ]),
            ...left,
          ].join('\n'),
        };
      }),
  },
  {
    words: 'round instance',
    takes: '[--round N]',
    does: 'the planning problem of a round in the exchange format of docs/planning-format.md',
    options: { round: 'integer' },
    positionals: none,
    run: async (context, args) =>
      withService(context, async (service) => {
        const instance = await service.call('rounds.instance', roundIdOf(args));
        return { json: instance, text: JSON.stringify(instance) };
      }),
  },
  {
    words: 'round issue',
    takes: '[--round N]',
    does: 'publish a draft; it enters the chain',
    options: { round: 'integer' },
    positionals: none,
    run: async (context, args) =>
      withService(context, async (service) => {
        const { round } = await service.call('rounds.show', roundIdOf(args));
        const issued = await service.call('rounds.issue', { id: round.id, version: round.version });
        return { json: issued, text: `Round ${issued.round.id} is issued.` };
      }),
  },
  ...driftCommands,
  ...energyCommands,
  ...evidenceCommands,
  ...findingCommands,
  ...retrofitCommands,
  ...roundFileCommands,
  ...stationCommands,
  ...chainCommands,
  {
    words: 'backup',
    takes: 'FILE',
    does: 'an online copy of the book',
    options: {},
    positionals: { least: 1, most: 1 },
    run: async (context, { positional: [file] }) =>
      withService(context, async (service) => {
        await backUpBook(service.book, file);
        return { json: { file }, text: `${file} is a copy of the book.` };
      }),
  },
  {
    words: 'restore',
    takes: 'FILE --to FILE',
    does: 'a checked copy of a backup as a new book',
    options: { to: 'text' },
    positionals: { least: 1, most: 1 },
    run: async (_context, args) => {
      const to = args.text('to');
      if (to === undefined)
        throw new AppError('invalid_input', 'Say where to: --to FILE.', {
          problems: [{ column: '--to', value: '', reason: 'needed' }],
        });
      await restoreBook(args.positional[0], to);
      return { json: { book: to }, text: `${to} is restored and sound.` };
    },
  },
];
