/** What drifted setpoints and faults cost, and what a baseline is to be adjusted by, from the command line. */
import type { EnergyEntry } from '../../shared/contract/energy.ts';
import { bandText } from '../../shared/energy/band.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { dateOption } from '../arguments.ts';
import type { Parsed } from '../arguments.ts';
import { filesOf, progressLine, withService } from './command.ts';
import type { Command, CommandContext, Output } from './command.ts';
import { table } from './table.ts';

function rowOf(entry: EnergyEntry, currency: string): string[] {
  const { alone, inOrder } = entry;
  return [
    String(entry.rank),
    entry.kind,
    [entry.tag, entry.role].filter((word) => word !== '').join(' '),
    entry.errorDegF === null ? '' : entry.errorDegF.toFixed(1),
    bandText(alone.degreeHours),
    bandText(alone.therms),
    bandText(alone.kwh),
    bandText(alone.money, currency),
    bandText(inOrder.money, currency),
    entry.minutes === null ? '' : String(entry.minutes),
    `${entry.words} ${entry.method}; ${entry.base}; confidence ${entry.confidence}`,
  ];
}

function loadOf(call: 'energy.loadWeather' | 'energy.loadBills') {
  return (context: CommandContext, args: Parsed): Promise<Output> =>
    withService(context, async (service) => {
      const [file] = filesOf(args);
      const answer = await service.call(call, {
        file,
        dryRun: args.flag('dry-run'),
      });
      if (answer.problems.length > 0)
        throw new AppError('invalid_input', 'The file was not loaded; nothing was changed.', {
          problems: answer.problems,
        });
      return { json: answer, text: answer.message };
    });
}

export const energyCommands: readonly Command[] = [
  {
    words: 'energy rank',
    takes: '[--on DATE] [--from DATE] [--to DATE] [--first N]',
    does: 'what each drifted setpoint and fault costs in a year: low, central, high, alone and in the order of mending',
    options: { on: 'text', from: 'text', to: 'text', first: 'integer' },
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const answer = await service.runJob(
          'energy.rank',
          { on: dateOption(args, 'on'), from: dateOption(args, 'from'), to: dateOption(args, 'to') },
          { progress: progressLine(context) },
        );
        const first = args.integer('first') ?? 40;
        const { currency, counts, total } = answer;
        return {
          json: answer,
          text: [
            table([
              [
                'rank',
                'kind',
                'at',
                '°F off',
                '°F·h',
                'therms',
                'kWh',
                'a year, alone',
                'in order',
                'min',
                'how',
              ],
              ...answer.entries.slice(0, first).map((entry) => rowOf(entry, currency)),
            ]),
            ...(answer.entries.length > first
              ? [`and ${answer.entries.length - first} more (--first N)`]
              : []),
            `in order, together: ${bandText(total.degreeHours)} °F·h; ${bandText(total.therms)} therms; ${bandText(total.kwh)} kWh${total.money ? `; ${bandText(total.money, currency)} a year` : ''}`,
            `${counts.weighed} setpoints; ${counts.near} within half their tolerance, ${counts.unknown} without a reading that tells, ${counts.noZone} that keep no room.`,
            `weather: ${answer.weather ? `${answer.weather.name} (${answer.weather.source})` : 'none'}`,
            ...answer.lacking,
            ...answer.cautions.map((one) => `- ${one}`),
          ].join('\n'),
        };
      }),
  },
  {
    words: 'energy baseline',
    takes: '[--from DATE] [--to DATE] [--building B] [--main TAG]',
    does: 'a period as operated and as intended, and the non-routine adjustment between them',
    options: { from: 'text', to: 'text', building: 'text', main: 'text' },
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const answer = await service.runJob(
          'energy.baseline',
          {
            from: dateOption(args, 'from'),
            to: dateOption(args, 'to'),
            building: args.text('building') ?? null,
            main: args.text('main') ?? null,
          },
          { progress: progressLine(context) },
        );
        return {
          json: answer,
          text: [
            `${answer.scope}, ${answer.from} to ${answer.to}: ${answer.setpoints} setpoints`,
            table([
              ['month', 'mean error °F', 'known', 'as operated', 'as intended', 'adjustment', 'billed'],
              ...answer.months.map((one) => [
                one.month,
                one.meanErrorDegF === null ? '' : one.meanErrorDegF.toFixed(2),
                `${Math.round(one.knownShare * 100)} %`,
                one.asOperated.toFixed(1),
                one.asIntended.toFixed(1),
                one.knownShare === 0 ? 'not known' : one.adjustment.toFixed(1),
                one.billed === null ? '' : one.billed.toFixed(0),
              ]),
            ]),
            `therms as operated ${answer.asOperated.toFixed(0)}, as intended ${answer.asIntended.toFixed(0)}; non-routine adjustment ${answer.adjustment.central.toFixed(1)} (${answer.adjustment.low.toFixed(1)} to ${answer.adjustment.high.toFixed(1)}) to subtract`,
            ...(answer.billedAsIntended
              ? [
                  `billed ${answer.billed?.toFixed(0)}, as intended ${answer.billedAsIntended.central.toFixed(0)} (${answer.billedAsIntended.low.toFixed(0)} to ${answer.billedAsIntended.high.toFixed(0)})`,
                ]
              : []),
            ...(answer.withoutLoss > 0
              ? [`${answer.withoutLoss} zones without area, loss or efficiency are not in it.`]
              : []),
            answer.method,
            ...[...answer.words, ...answer.cautions].map((one) => `- ${one}`),
          ].join('\n'),
        };
      }),
  },
  {
    words: 'energy weather load',
    takes: 'FILE.csv [--dry-run]',
    does: 'load the site’s own weather: daily or monthly means, or a station’s file of public normals',
    options: { 'dry-run': 'flag' },
    positionals: { least: 1, most: 1 },
    run: loadOf('energy.loadWeather'),
  },
  {
    words: 'energy bills load',
    takes: 'FILE.csv [--dry-run]',
    does: 'load use and cost of meters by month',
    options: { 'dry-run': 'flag' },
    positionals: { least: 1, most: 1 },
    run: loadOf('energy.loadBills'),
  },
];
