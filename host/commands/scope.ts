/** The part of the site that a command is about. */
import { packScope } from '../../shared/contract/packScope.ts';
import type { PackScope } from '../../shared/contract/packScope.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { deviceClasses } from '../../shared/trade/words.ts';
import type { OptionKind, Parsed } from '../arguments.ts';
import { dateOption } from '../arguments.ts';

export const scopeTakes =
  '[--from DATE] [--to DATE] [--building B] [--level L] [--main TAG] [--class CLASS] [--tags TAG,TAG,...]';

export const scopeOptions: Readonly<Record<string, OptionKind>> = {
  from: 'text',
  to: 'text',
  building: 'text',
  level: 'text',
  main: 'text',
  class: 'text',
  tags: 'text',
};

/** Refuses an argument. Always throws. */
export function refuseArgument(column: string, value: string, reason: string): never {
  throw new AppError('invalid_input', 'The command line says something that cannot be.', {
    problems: [{ column, value, reason }],
  });
}

export function scopeOf(args: Parsed): PackScope {
  const named = args.text('class');
  const deviceClass = deviceClasses.find((one) => one === named);
  if (named !== undefined && !deviceClass)
    refuseArgument('--class', named, `one of: ${deviceClasses.join(', ')}`);
  const tags = args
    .text('tags')
    ?.split(',')
    .map((tag) => tag.trim())
    .filter((tag) => tag !== '');
  if (tags?.length === 0) refuseArgument('--tags', args.text('tags') ?? '', 'names no device');
  return packScope.parse({
    building: args.text('building') ?? null,
    level: args.text('level') ?? null,
    main: args.text('main') ?? null,
    class: deviceClass ?? null,
    tags: tags ?? null,
    from: dateOption(args, 'from'),
    to: dateOption(args, 'to'),
  });
}
