/** Files of a round: a calendar for each person, and the whole of it as a table. */
import { AppError } from '../../shared/contract/errors.ts';
import { roundIdOf, withService, writeNew } from './command.ts';
import type { Command, Output } from './command.ts';
import { refuseArgument } from './scope.ts';

/** A file of the service: written under its name, or said as text. */
function fileOutput(file: { fileName: string; bytes: Uint8Array }, out: string | undefined): Output {
  if (out === undefined) {
    const text = new TextDecoder().decode(file.bytes);
    return { json: { fileName: file.fileName, text }, text: text.replace(/\r\n$/u, '') };
  }
  writeNew(out, file.bytes);
  return { json: { file: out, bytes: file.bytes.length }, text: `${out} written.` };
}

export const roundFileCommands: readonly Command[] = [
  {
    words: 'round calendar',
    takes: '--person INITIALS [--round ID] [--alarm MINUTES] [--out FILE.ics]',
    does: 'one person’s shifts of an issued round as iCalendar',
    options: { person: 'text', round: 'integer', alarm: 'integer', out: 'text' },
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const { people } = await service.call('settings.all', {});
        const named = args.text('person') ?? '';
        const person = people.find(({ initials }) => initials === named);
        if (!person) return refuseArgument('--person', named, 'nobody in the book has these initials');
        const { rounds } = await service.call('rounds.list', {});
        const id = args.integer('round') ?? rounds.find(({ status }) => status === 'issued')?.id;
        if (id === undefined) throw new AppError('not_found', 'No round of the book is issued.');
        const file = await service.call('rounds.calendar', {
          id,
          personId: person.id,
          alarmMinutes: args.integer('alarm') ?? null,
        });
        return fileOutput(file, args.text('out'));
      }),
  },
  {
    words: 'round export',
    takes: 'FILE.csv|FILE.xlsx [--round ID]',
    does: 'every task of a round in one table',
    options: { round: 'integer' },
    positionals: { least: 1, most: 1 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const [out] = args.positional;
        const as = out.endsWith('.xlsx') ? 'xlsx' : out.endsWith('.csv') ? 'csv' : null;
        if (as === null) return refuseArgument('FILE', out, 'its name ends with .csv or .xlsx');
        return fileOutput(await service.call('rounds.table', { ...roundIdOf(args), as }), out);
      }),
  },
];
