/** The sheet of an air station, from the command line. */
import { AppError } from '../../shared/contract/errors.ts';
import type { StationSheet } from '../../shared/contract/stations.ts';
import { withService } from './command.ts';
import type { Command } from './command.ts';
import { table } from './table.ts';

const figure = (value: number): string => String(Number(value.toPrecision(3)));
const percent = (share: number): string => `${Number((100 * share).toFixed(1))} %`;

function lines(sheet: StationSheet): string[] {
  const { budget, capacity, run, unexplained, dryness, quality, openLeaks } = sheet;
  const { measured, nominal } = capacity;
  const { dewPoint } = dryness;
  return [
    `${sheet.tag} ${sheet.name}`.trim(),
    measured
      ? `capacity ${figure(measured.value)} scfm, measured ${measured.on}${nominal === null ? '' : ` (register: ${nominal} scfm)`}`
      : `capacity ${nominal === null ? 'not known' : `${nominal} scfm, of the register`}`,
    `use while nothing moves ${figure(budget.scfm.typical)} scfm (${figure(budget.scfm.low)} to ${figure(budget.scfm.high)})${budget.share ? `, ${percent(budget.share.typical)} of the capacity` : ''}`,
    run
      ? `runs ${percent(run.share)} of the time (${run.on})${run.scfm === null ? '' : `, ${figure(run.scfm)} scfm`}`
      : 'how long it runs was never logged',
    ...(unexplained
      ? [
          `unexplained ${figure(unexplained.typical)} scfm (${figure(unexplained.low)} to ${figure(unexplained.high)}); ${openLeaks.count} open leaks, ${figure(openLeaks.typical)} scfm`,
        ]
      : []),
    dewPoint
      ? `dew point ${figure(dewPoint.degF)} degF at ${figure(dewPoint.psi)} psi (${dewPoint.on}), at most ${figure(dryness.mostDegF)} degF at line pressure`
      : 'no dew point was measured yet',
    `quality by ISO 8573-1 ${quality.designation}`,
    '',
    ...sheet.trends.map(({ title, unit, said }) => `${title}, ${unit}: ${said}`),
  ];
}

export const stationCommands: readonly Command[] = [
  {
    words: 'station',
    takes: 'TAG',
    does: 'the sheet of an air station: load, run share, dew point, trends, tests, leaks',
    options: {},
    positionals: { least: 1, most: 1 },
    run: async (context, { positional: [tag] }) =>
      withService(context, async (service) => {
        const { id } = await service.call('register.find', { tag });
        if (id === null) throw new AppError('not_found', `No device has the tag ${tag}.`);
        const sheet = await service.call('stations.sheet', { deviceId: id });
        const tests = sheet.tests.map(({ kind, doneOn, person, scfm, share, replacedBy }) => [
          doneOn,
          kind,
          person,
          [share === null ? '' : percent(share), scfm === null ? '' : `${figure(scfm)} scfm`]
            .filter((part) => part !== '')
            .join(', '),
          replacedBy === null ? '' : 'corrected',
        ]);
        const text = [
          ...lines(sheet),
          '',
          ...sheet.leaks
            .filter(({ replacedBy }) => replacedBy === null)
            .map(
              ({ id, tag, place, foundOn, flow, mended, goneOn }) =>
                `leak ${id} at ${tag}, ${place}, found ${foundOn}: ${figure(flow.typical)} scfm (${figure(flow.low)} to ${figure(flow.high)}), ${mended ? `mended ${mended.on}` : goneOn ? `device retired ${goneOn}` : 'open'}`,
            ),
          '',
          tests.length === 0
            ? 'No test is logged.'
            : table([['done on', 'test', 'by', 'comes to', 'standing'], ...tests]),
        ].join('\n');
        return { json: sheet, text };
      }),
  },
];
