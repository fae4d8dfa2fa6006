/** `round why`, `round move`, `round redraw`: reasons, prices and changes of a drawn round. */
import type { OutputOf } from '../../shared/contract/index.ts';
import type { RoundMove, RoundWhy } from '../../shared/contract/rounds.ts';
import { priceText, reasonText } from '../../shared/planning/priceText.ts';
import { isHandedOver, shiftPlaceText } from '../../shared/contract/shiftPlace.ts';
import { roundIdOf, withService } from './command.ts';
import type { Command, CommandContext } from './command.ts';
import type { Parsed } from '../arguments.ts';

function signed(points: number): string {
  return points > 0 ? `+${points}` : String(points);
}

function whyText({ tasks }: RoundWhy): string {
  return tasks
    .map((task) => {
      const list = (words: string, ids: readonly string[]): string[] =>
        ids.length === 0
          ? []
          : [
              `  ${words} ${ids.slice(0, 8).join(', ')}${ids.length > 8 ? ` and ${ids.length - 8} more` : ''}`,
            ];
      return [
        `${task.id}, due ${task.dueOn}; a day late costs ${task.weight} points${task.outsideAtDue === null ? '' : `, ${Math.round(100 * task.outsideAtDue)} % likely outside when it is due`}`,
        task.place
          ? `  stands on ${shiftPlaceText(task.place)}; costs ${task.parts ? priceText(task.parts) : ''}`
          : `  has no place: ${task.unplaced ? reasonText(task.unplaced) : ''}`,
        ...(task.unplacedThen ? [`  when the round was drawn: ${reasonText(task.unplacedThen)}`] : []),
        `  may stand now ${task.from && task.to ? `from ${task.from} to ${task.to}` : 'nowhere'}`,
        ...list('waits for', task.waitsFor),
        ...list('awaited by', task.awaitedBy),
        ...list('shares a switching with', task.sharesSwitchingWith),
        ...task.others.map(
          (other) =>
            `  on ${shiftPlaceText(other)}: ${signed(other.difference)} (there ${priceText(other.parts)})`,
        ),
      ].join('\n');
    })
    .join('\n');
}

function moveText(move: RoundMove, isApplied: boolean): string {
  if (move.difference === null)
    return [
      `${move.task} cannot be moved so:`,
      ...move.breaches.map(({ constraint, detail }) => `  ${constraint}: ${detail}`),
    ].join('\n');
  const after = move.after ? `there ${priceText(move.after)}` : 'for no place';
  const done = isApplied ? (move.after ? ', moved' : ', put off') : '';
  return `${move.task}: ${signed(move.difference)} points${done} (${after}; here ${move.before ? priceText(move.before) : 'no place'})`;
}

async function move(context: CommandContext, args: Parsed): Promise<{ move: RoundMove; isApplied: boolean }> {
  return withService(context, async (service) => {
    const place = {
      task: args.positional[0],
      to: args.flag('off')
        ? null
        : {
            date: args.text('date') ?? '',
            shift: args.text('shift') ?? '',
            person: args.text('person') ?? '',
          },
    };
    const priced = await service.call('rounds.priceMove', { ...roundIdOf(args), ...place });
    if (!args.flag('apply') || priced.difference === null) return { move: priced, isApplied: false };
    const { round } = await service.call('rounds.overview', { id: priced.roundId });
    const moved = await service.call('rounds.move', { id: round.id, version: round.version, ...place });
    return { move: moved, isApplied: true };
  });
}

function redrawText(redrawn: OutputOf<'rounds.redraw'>): string {
  const { figures, moved } = redrawn;
  const handedOver = moved.filter((one) => isHandedOver(one)).length;
  return [
    `Round ${redrawn.roundId}: ${figures.placed} tasks placed, ${figures.unplaced} not, ${moved.length - handedOver} moved, ${handedOver} to another person in their shift.`,
    ...moved.map(
      (one) =>
        `  ${one.task}: ${shiftPlaceText(one.from)} -> ${one.to ? shiftPlaceText(one.to) : 'no place'}: ${one.reason}`,
    ),
  ].join('\n');
}

export const whyCommands: readonly Command[] = [
  {
    words: 'round why',
    takes: 'TAG|TASK [--round N]',
    does: 'why the tasks of a tag stand where they stand, and what the next best places would cost',
    options: { round: 'integer' },
    positionals: { least: 1, most: 1 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const why = await service.call('rounds.why', { ...roundIdOf(args), tag: args.positional[0] });
        return { json: why, text: whyText(why) };
      }),
  },
  {
    words: 'round move',
    takes: 'TASK --date DATE --shift NAME --person INITIALS | --off [--round N] [--apply]',
    does: 'what moving a task, or with --off putting it off, would cost or break; --apply does it, in a draft',
    options: { round: 'integer', date: 'text', shift: 'text', person: 'text', off: 'flag', apply: 'flag' },
    positionals: { least: 1, most: 1 },
    run: async (context, args) => {
      const done = await move(context, args);
      return {
        json: { ...done.move, applied: done.isApplied },
        text: moveText(done.move, done.isApplied),
        exit: done.move.difference === null ? 2 : 0,
      };
    },
  },
  {
    words: 'round redraw',
    takes: '[--round N] [--from DATE] [--seed N] [--evaluations N]',
    does: 'the rest of a round again as a draft, from what the book says now; lists what moved and why',
    options: { round: 'integer', from: 'text', seed: 'integer', evaluations: 'integer' },
    positionals: { least: 0, most: 0 },
    run: async (context, args) =>
      withService(context, async (service) => {
        const redrawn = await service.runJob('rounds.redraw', {
          ...roundIdOf(args),
          from: args.text('from'),
          seed: args.integer('seed') ?? 1,
          evaluations: args.integer('evaluations'),
        });
        return { json: redrawn, text: redrawText(redrawn) };
      }),
  },
];
