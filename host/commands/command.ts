/** What a command of the command line is. */
import type { Clock } from '../../service/clock.ts';
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
