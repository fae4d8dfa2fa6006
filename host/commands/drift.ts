/** The drift book and the intervals from the command line. */
import { AppError } from '../../shared/contract/errors.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { isPlainDate } from '../../shared/dates/plainDate.ts';
import { groupKeys } from '../../shared/stats/groupKeys.ts';
import { formatMilli, unitLabel } from '../../shared/units/units.ts';
import type { Parsed } from '../arguments.ts';
import { progressLine, withService } from './command.ts';
import type { Command } from './command.ts';
import { table } from './table.ts';

function refuse(column: string, value: string, reason: string): never {
  throw new AppError('invalid_input', 'The command line says something that cannot be.', {
    problems: [{ column, value, reason }],
  });
}

/** `2025-01-01..2025-12-31`, as a period. */
function periodOf(args: Parsed, name: string): { from: string; to: string } | null {
  const text = args.text(name);
  if (text === undefined) return null;
  const [from, to, more] = text.split('..');
  if (more !== undefined || !isPlainDate(from ?? '') || !isPlainDate(to ?? ''))
    refuse(`--${name}`, text, 'two dates, YYYY-MM-DD..YYYY-MM-DD');
  return { from, to };
}

function share(x: number, n: number): string {
  return n === 0 ? 'none known' : `${((100 * x) / n).toFixed(1)} %`;
}

function seriesText(one: OutputOf<'drift.ofTag'>['series'][number]): string {
  const show = (milli: number | null): string => (milli === null ? '' : formatMilli(milli));
  const rows = one.points.map((point) => [
    point.date,
    `${point.foundRelation && point.foundRelation !== '=' ? point.foundRelation : ''}${show(point.foundMilli)}`,
    show(point.leftMilli),
    show(point.driftMilli),
    point.ratePerYear === null ? '' : point.ratePerYear.toFixed(3),
    show(point.unadjustedMilli),
    point.outcome,
  ]);
  return [
    `${one.tag} ${one.role || one.kind}, ${unitLabel(one.unit)}, tolerance ±${formatMilli(one.toleranceMilli)}`,
    table([['date', 'found', 'left', 'drift', 'per year', 'unadjusted', 'outcome'], ...rows]),
    one.said,
  ].join('\n');
}

function groupText(answer: OutputOf<'drift.group'>): string {
  const rows = answer.groups.map((one) => [
    one.key,
    String(one.testPoints),
    String(one.readings),
    `${one.inside} of ${one.known}`,
    share(one.inside, one.known),
    one.exact ? `${(100 * one.exact.low).toFixed(1)} to ${(100 * one.exact.high).toFixed(1)} %` : '',
    one.rates ? one.rates.p50.toFixed(2) : '',
    one.funnel.place,
    one.bias
      ? `${one.bias.mean.toFixed(2)} (${one.bias.span.low.toFixed(2)} to ${one.bias.span.high.toFixed(2)})`
      : '',
  ]);
  return [
    `${answer.testPoints} test points, ${answer.records} records; found in tolerance ${answer.overall.inside} of ${answer.overall.known}, ${share(answer.overall.inside, answer.overall.known)}`,
    table([
      [answer.by, 'points', 'readings', 'inside', 'share', '95 %', 'rate', 'against all', 'differs'],
      ...rows,
    ]),
    'Rates are the median drift in tolerances a year; what differs is told in tolerances, at hand-overs, and may be the places and not the person or gauge.',
    ...(answer.compared
      ? [
          `against the other period: ${(100 * answer.compared.difference).toFixed(1)} points of a hundred (95 %: ${(100 * answer.compared.span.low).toFixed(1)} to ${(100 * answer.compared.span.high).toFixed(1)})`,
        ]
      : []),
  ].join('\n');
}

export const driftCommands: readonly Command[] = [
  {
    words: 'drift group',
    takes: '--by KEY [--kind K] [--period FROM..TO] [--compare FROM..TO]',
    does: `many histories together, by ${groupKeys.join(', ')}`,
    options: { by: 'text', kind: 'text', period: 'text', compare: 'text' },
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const named = args.text('by') ?? '';
        const by = groupKeys.find((key) => key === named || key.replace(' ', '-') === named);
        if (!by) refuse('--by', named, `one of: ${groupKeys.join(', ')}`);
        const answer = await service.runJob(
          'drift.group',
          {
            by,
            kind: args.text('kind') ?? null,
            period: periodOf(args, 'period'),
            compare: periodOf(args, 'compare'),
          },
          { progress: progressLine(context) },
        );
        return { json: answer, text: groupText(answer) };
      }),
  },
  {
    words: 'drift',
    takes: 'TAG [--role R]',
    does: 'the drift history of a tag, all its series or one role',
    options: { role: 'text' },
    positionals: { least: 1, most: 1 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const [tag] = args.positional;
        const { series } = await service.call('drift.ofTag', { tag, role: args.text('role') });
        return { json: { tag, series }, text: series.map(seriesText).join('\n\n') };
      }),
  },
  {
    words: 'intervals recommend',
    takes: '[--kind K] [--apply --why TEXT --by INITIALS]',
    does: 'recommended intervals with their reasons; --apply accepts them all',
    options: { kind: 'text', apply: 'flag', why: 'text', by: 'text' },
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const { policy, points, classes } = await service.runJob(
          'intervals.recommend',
          { kind: args.text('kind') ?? null },
          { progress: progressLine(context) },
        );
        const changes = points.filter(({ recommendation: { days, presentDays } }) => days !== presentDays);
        const rows = changes.map(({ tag, role, kind, recommendation }) => [
          tag,
          role || kind,
          String(recommendation.presentDays),
          String(recommendation.days),
          recommendation.limitedBy,
          recommendation.words,
        ]);
        let changed: number | null = null;
        if (args.flag('apply')) {
          const why = args.text('why') ?? refuse('--why', '', '--apply needs the reason');
          const initials = args.text('by') ?? refuse('--by', '', '--apply needs who accepts them');
          const { people } = await service.call('settings.all', {});
          const person = people.find((one) => one.active && one.initials === initials);
          if (!person) refuse('--by', initials, 'nobody active has these initials');
          const accepted = await service.call(
            'intervals.accept',
            {
              why,
              classes: [],
              points: changes.map(({ testPointId, recommendation }) => ({
                testPointId,
                from: recommendation.presentDays,
                to: recommendation.days,
              })),
            },
            person.id,
          );
          changed = accepted.changed;
        }
        return {
          json: { policy, points, classes, changed },
          text: [
            `${points.length} test points, ${changes.length} with another interval than now; target ${policy.target * 100} % in tolerance`,
            table([['tag', 'of', 'days now', 'days', 'by', 'why'], ...rows]),
            ...classes.map(({ kind, unit, presentDays, days, words }) =>
              `class ${kind} ${unitLabel(unit)}: ${presentDays} days now${days === null ? '' : `, ${days} recommended`}; ${words}`.replace(
                /\s+/gu,
                ' ',
              ),
            ),
            ...(changed === null ? [] : [`${changed} accepted`]),
          ].join('\n'),
        };
      }),
  },
];
