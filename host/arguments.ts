/** Reads a command line against what a command declares. Unknown options are refused, never ignored. */
import { AppError } from '../shared/contract/errors.ts';
import { isPlainDate } from '../shared/dates/plainDate.ts';

export type OptionKind = 'text' | 'flag' | 'integer';
export type Parsed = {
  positional: string[];
  text: (name: string) => string | undefined;
  flag: (name: string) => boolean;
  integer: (name: string) => number | undefined;
};

function refuse(reason: string, value = ''): never {
  throw new AppError('invalid_input', reason, { problems: [{ column: 'command line', value, reason }] });
}

/** Parses arguments. `--name value` and `--name=value` are the same. */
export function parseArguments(
  args: readonly string[],
  options: Readonly<Record<string, OptionKind>>,
  positionals: { least: number; most: number },
): Parsed {
  const values = new Map<string, string>();
  const positional: string[] = [];
  for (let i = 0; i < args.length; i += 1) {
    const arg = args[i];
    if (!arg.startsWith('--')) {
      positional.push(arg);
      continue;
    }
    const [name, inline] = arg.slice(2).split(/=(.*)/s, 2);
    const kind = Object.hasOwn(options, name) ? options[name] : undefined;
    if (!kind) refuse(`there is no option --${name} here`, arg);
    if (values.has(name)) refuse(`the option --${name} stands twice`, arg);
    if (kind === 'flag') {
      if (inline !== undefined) refuse(`the option --${name} takes no value`, arg);
      values.set(name, 'yes');
      continue;
    }
    const value = inline ?? args[(i += 1)];
    if (value === undefined) refuse(`the option --${name} needs a value`, arg);
    if (kind === 'integer' && !/^\d{1,10}$/.test(value))
      refuse(`the option --${name} needs a whole number`, value);
    values.set(name, value);
  }
  if (positional.length < positionals.least) refuse('something is missing after the command; see --help');
  if (positional.length > positionals.most)
    refuse('there is something too much on the command line', positional[positionals.most]);
  return {
    positional,
    text: (name) => values.get(name),
    flag: (name) => values.has(name),
    integer: (name) => (values.has(name) ? Number(values.get(name)) : undefined),
  };
}

/** A date of the command line; null without. Throws `invalid_input` for one that does not exist. */
export function dateOption(args: Parsed, name: string): string | null {
  const text = args.text(name);
  if (text === undefined) return null;
  if (!isPlainDate(text))
    throw new AppError('invalid_input', 'The command line says something that cannot be.', {
      problems: [
        { column: `--${name}`, value: text, reason: 'not a date of the form YYYY-MM-DD that exists' },
      ],
    });
  return text;
}
