/** The command line: `almanac COMMAND --book FILE [--json]`. Exit 0 on success, 2 on bad input, 1 on failure. */
import { AppError } from '../shared/contract/errors.ts';
import { systemClock } from '../service/clock.ts';
import { parseArguments } from './arguments.ts';
import { commands } from './commands/commands.ts';
import type { Command, Output } from './commands/command.ts';

const inputErrors = new Set([
  'invalid_input',
  'not_found',
  'conflict',
  'stale_version',
  'in_use',
  'file_unreadable',
  'book_not_a_book',
  'book_damaged',
  'book_from_future',
  'book_read_only',
  'too_large',
]);

function helpText(only?: Command): string {
  const lines = (only ? [only] : commands).map(
    (command) => `  ${`${command.words} ${command.takes}`.trim()}\n      ${command.does}`,
  );
  return [
    'Setpoint Almanac: register, recalibration round, bench records and drift of a building on compressed air.',
    'A planning and record-keeping aid: local codes, the device maker’s instructions and licensed practice come first.',
    '',
    'almanac COMMAND [--book FILE] [--json]',
    ...lines,
    '',
    'Exit 0: done. Exit 2: bad input, said with file, line, column, value and reason. Exit 1: failure.',
  ].join('\n');
}

function findCommand(args: readonly string[]): { command: Command; rest: string[] } | null {
  const byLength = [...commands].sort((a, b) => b.words.length - a.words.length);
  for (const command of byLength) {
    const words = command.words.split(' ');
    if (words.every((word, index) => args[index] === word))
      return { command, rest: args.slice(words.length) };
  }
  return null;
}

/** Problems that are told one by one on a terminal. */
const MOST_LINES = 100;

function problemText(error: AppError): string {
  const problems = error.details.problems ?? [];
  const more = problems.length - MOST_LINES;
  const lines = problems.slice(0, MOST_LINES).map((problem) => {
    const where = [
      problem.file,
      problem.line === undefined ? undefined : `line ${problem.line}`,
      problem.column ? `column ${problem.column}` : undefined,
    ]
      .filter((part) => part !== undefined)
      .join(', ');
    return `${where}${where ? ': ' : ''}${problem.value === '' ? '(empty)' : `“${problem.value}”`}: ${problem.reason}`;
  });
  return [error.message, ...lines, ...(more > 0 ? [`and ${more} more; all of them with --json`] : [])].join(
    '\n',
  );
}

function write(stream: NodeJS.WriteStream, text: string): Promise<void> {
  return new Promise((resolve, reject) => {
    // Whoever reads may have seen enough, as `head` does.
    stream.once('error', (error: NodeJS.ErrnoException) =>
      error.code === 'EPIPE' ? resolve() : reject(error),
    );
    stream.write(text, () => resolve());
  });
}

async function runCommand(args: string[]): Promise<number> {
  const wantsJson = args.includes('--json');
  try {
    const found = findCommand(args);
    if (args.length === 0 || args[0] === 'help' || args.includes('--help')) {
      await write(process.stdout, `${helpText(found?.command)}\n`);
      return 0;
    }
    if (!found) {
      const options = args.findIndex((arg) => arg.startsWith('--'));
      const value = args.slice(0, options < 0 ? 2 : Math.min(options, 2)).join(' ');
      throw new AppError('invalid_input', `There is no command “${value}”; see --help.`, {
        problems: [{ column: 'command line', value, reason: 'no such command' }],
      });
    }
    const { command, rest } = found;
    const parsed = parseArguments(
      rest,
      { ...command.options, book: 'text', json: 'flag' },
      command.positionals,
    );
    const isTerminal = process.stderr.isTTY;
    const output: Output = await command.run(
      {
        clock: systemClock,
        bookFile: parsed.text('book') ?? null,
        progress: (text) => {
          if (isTerminal) process.stderr.write(`\r\u001b[K${text}`);
        },
      },
      parsed,
    );
    if (isTerminal) process.stderr.write('\r\u001b[K');
    await write(process.stdout, `${wantsJson ? JSON.stringify(output.json) : output.text}\n`);
    return output.exit ?? 0;
  } catch (error) {
    if (error instanceof AppError) {
      if (wantsJson)
        await write(
          process.stdout,
          `${JSON.stringify({ error: { code: error.code, message: error.message, ...error.details } })}\n`,
        );
      await write(process.stderr, `${problemText(error)}\n`);
      return inputErrors.has(error.code) ? 2 : 1;
    }
    const fileExists = error instanceof Error && 'code' in error && error.code === 'EEXIST';
    await write(
      process.stderr,
      `${fileExists ? 'The output file exists already; it was not touched.' : error instanceof Error ? (error.stack ?? error.message) : String(error)}\n`,
    );
    return fileExists ? 2 : 1;
  }
}

process.exitCode = await runCommand(process.argv.slice(2));
