import { useState } from 'react';
import { useCall, useCommand } from '../../api/client.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { Failure, Waiting } from '../../ui/states.tsx';
import { shiftPlaceText } from '../../../shared/contract/shiftPlace.ts';
import { MoveByHand } from './MoveByHand.tsx';
import { priceText, reasonText } from '../../../shared/planning/priceText.ts';
import type { RoundHead, RoundWhy } from '../../../shared/contract/rounds.ts';

type Task = RoundWhy['tasks'][number];
function listText(ids: readonly string[]): string {
  return ids.length > 6 ? `${ids.slice(0, 6).join(', ')} and ${ids.length - 6} more` : ids.join(', ');
}

function TaskWhy({ task, why, round }: { task: Task; why: RoundWhy; round: RoundHead }) {
  const move = useCommand('rounds.move');
  const pin = useCommand('rounds.pin');
  const facts: [string, string][] = [
    ['Due', task.dueOn],
    [
      'A day late costs',
      `${task.weight} points${task.outsideAtDue === null ? ', as its class' : `; ${Math.round(100 * task.outsideAtDue)} % likely outside when it is due`}`,
    ],
    ['May stand now', task.from && task.to ? `from ${task.from} to ${task.to}` : 'nowhere'],
    ['Waits for', listText(task.waitsFor)],
    ['Awaited by', listText(task.awaitedBy)],
    ['Shares a switching with', listText(task.sharesSwitchingWith)],
    ['Costs here', task.parts ? priceText(task.parts) : ''],
  ];
  return (
    <section aria-label={task.id}>
      <h3>
        {task.tag} {task.role ?? task.kind}{' '}
        <span className="subtitle">{task.place ? shiftPlaceText(task.place) : 'without a place'}</span>
      </h3>
      {task.unplaced ? <p>{reasonText(task.unplaced)}</p> : null}
      {task.unplacedThen ? <p>When the round was drawn: {reasonText(task.unplacedThen)}</p> : null}
      <dl className="values facts">
        {facts
          .filter(([, text]) => text !== '')
          .map(([label, text]) => (
            <div key={label}>
              <dt>{label}</dt>
              <dd>{text}</dd>
            </div>
          ))}
      </dl>
      {task.others.length > 0 ? (
        <PlainTable
          label={`Other places for ${task.id}`}
          titles={['Next best', '>Points more', 'Costs there', 'By hand']}
          rows={task.others.map((other) => ({
            key: shiftPlaceText(other),
            cells: [
              shiftPlaceText(other),
              String(other.difference),
              priceText(other.parts),
              round.status === 'draft' ? (
                <Button
                  key="move"
                  isPending={move.isPending}
                  onPress={() =>
                    move.mutate({
                      id: round.id,
                      version: round.version,
                      task: task.id,
                      to: { date: other.date, shift: other.shift, person: other.person },
                    })
                  }
                >
                  Move there
                </Button>
              ) : (
                'issued'
              ),
            ],
          }))}
        />
      ) : null}
      {task.place ? (
        <div className="actions">
          <Button onPress={() => pin.mutate({ id: round.id, task: task.id, pinned: !task.pinned })}>
            {task.pinned ? 'Let it go when drawing again' : 'Keep it there when drawing again'}
          </Button>
          <span role="status">{task.pinned ? 'kept there' : ''}</span>
        </div>
      ) : null}
      {round.status === 'draft' ? <MoveByHand round={round} why={why} task={task} /> : null}
      {move.error ? <Failure error={move.error} /> : null}
      {pin.error ? <Failure error={pin.error} /> : null}
    </section>
  );
}

/** Why a tag’s tasks stand where they stand, what other places would cost, and moving them there. */
export function WhyPanel({ round }: { round: RoundHead }) {
  const [tag, setTag] = useState('');
  const [asked, setAsked] = useState('');
  const why = useCall(
    'rounds.why',
    { id: round.id, tag: asked || '-' },
    { enabled: asked !== '', keepPrevious: true },
  );
  return (
    <section aria-label="Why there?" className="panel">
      <h2>Why there?</h2>
      <form
        className="controls"
        onSubmit={(event) => {
          event.preventDefault();
          setAsked(tag.trim());
        }}
      >
        <TextInput label="Tag" value={tag} onChange={setTag} help="of a device in this round" />
        <Button onPress={() => setAsked(tag.trim())}>Ask</Button>
      </form>
      {asked !== '' && why.error ? <Failure error={why.error} /> : null}
      {asked !== '' && why.isFetching && !why.data ? <Waiting what="Pricing places…" /> : null}
      {asked !== '' && !why.error
        ? why.data?.tasks.map((task) => <TaskWhy key={task.id} task={task} why={why.data} round={round} />)
        : null}
    </section>
  );
}
