/** What a change to digital control would take, keep and shed, from the command line. */
import { partTitles, partsText, retrofitOptions, shareText } from '../../shared/retrofit/units.ts';
import { shown } from '../../shared/energy/band.ts';
import { progressLine, withService } from './command.ts';
import type { Command } from './command.ts';
import { scopeOf, scopeOptions, scopeTakes } from './scope.ts';
import { table } from './table.ts';

export const retrofitCommands: readonly Command[] = [
  {
    words: 'retrofit quantities',
    takes: scopeTakes,
    does: 'points and parts of a retrofit under three options, actuators to keep, tubing, access, what stations could shed',
    options: scopeOptions,
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const answer = await service.runJob('retrofit.quantities', scopeOf(args), {
          progress: progressLine(context),
        });
        const { distributions: spread } = answer;
        return {
          json: answer,
          text: [
            answer.scope,
            table([
              ['building', 'unit', 'option', 'units', ...partTitles],
              ...answer.units.flatMap((unit) =>
                retrofitOptions.map((option) => [
                  unit.building ?? '',
                  unit.kind,
                  option,
                  String(unit.units),
                  ...partsText(unit.options[option]),
                ]),
              ),
              ...retrofitOptions.map((option) => [
                'all',
                '',
                option,
                '',
                ...partsText(answer.totals[option]),
              ]),
            ]),
            `${answer.actuators.length} actuators, ${answer.unmeasured} of them without a measured spring range`,
            ...answer.tubing.map(({ what, count }) => `${count} ${what}`),
            ...answer.stations.map(
              ({ tag, now, shedKwh, words }) =>
                `${tag}: ${shown(now.typical)} scim now; sheds ${retrofitOptions.map((option) => `${option} ${shedKwh[option] === null ? 'not known' : `${shown(shedKwh[option].central)} kWh a year`}`).join(', ')}; ${words.join(', ')}`,
            ),
            `newest errors: n ${spread.newest.count}; within 1 °F ${shareText(spread.newest.within1)}, within 2 °F ${shareText(spread.newest.within2)}, beyond 3 °F ${shareText(spread.newest.beyond3)}; median size ${spread.newest.medianAbsolute?.toFixed(2) ?? '–'} °F, 90 % within ${spread.newest.absolute90?.toFixed(2) ?? '–'} °F; warm ${shareText(spread.newest.warmShare)}`,
            `median drift ${spread.drift.median?.toFixed(2) ?? '–'} °F a year (n ${spread.drift.count})`,
            ...answer.cautions.map((one) => `- ${one}`),
          ].join('\n'),
        };
      }),
  },
];
