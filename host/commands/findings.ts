/** What the register alone shows to be wrong, from the command line. */
import { AppError } from '../../shared/contract/errors.ts';
import { progressLine, withService } from './command.ts';
import type { Command } from './command.ts';
import { table } from './table.ts';

const severities = ['stop', 'look', 'not checked'] as const;

export const findingCommands: readonly Command[] = [
  {
    words: 'register findings',
    takes: '[--severity stop|look|not-checked] [--all]',
    does: 'what the register alone shows to be wrong; accepted findings with --all',
    options: { severity: 'text', all: 'flag' },
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const named = args.text('severity');
        const severity = severities.find((one) => one.replace(' ', '-') === named);
        if (named !== undefined && !severity)
          throw new AppError('invalid_input', 'The command line says something that cannot be.', {
            problems: [{ column: '--severity', value: named, reason: 'one of: stop, look, not-checked' }],
          });
        const answer = await service.runJob('findings.list', {}, { progress: progressLine(context) });
        const findings = answer.findings.filter(
          (one) => (!severity || one.severity === severity) && (args.flag('all') || one.accepted === null),
        );
        const rows = findings.map(({ severity: how, code, tag, about, words, advice, accepted }) => [
          how,
          code,
          [tag, about].filter((word) => word !== '').join(' '),
          `${words} ${advice}${accepted ? ` (accepted by ${accepted.person}${accepted.until ? ` until ${accepted.until}` : ''}: ${accepted.why})` : ''}`,
        ]);
        const text =
          rows.length === 0
            ? `Nothing found in ${answer.checked} devices.`
            : `${table([['severity', 'code', 'at', 'what, and what to do'], ...rows])}\n${rows.length} findings in ${answer.checked} devices.`;
        return { json: { ...answer, findings }, text };
      }),
  },
];
