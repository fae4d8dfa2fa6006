import { useRef, useState } from 'react';
import { useCall, useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { Failure } from '../../ui/states.tsx';
import { priceText } from '../../../shared/planning/priceText.ts';
import type { RoundHead, RoundMove, RoundWhy } from '../../../shared/contract/rounds.ts';

const plainDate = /^\d{4}-\d{2}-\d{2}$/u;

/** What a move would cost, or what forbids it. */
function Answer({ move }: { move: RoundMove }) {
  if (move.difference === null)
    return (
      <p role="status" className="late">
        Not possible: {move.breaches.map(({ constraint, detail }) => `${constraint}: ${detail}`).join('; ')}
      </p>
    );
  const points = Math.abs(move.difference);
  const than = move.difference < 0 ? 'fewer' : 'more';
  return (
    <p role="status">
      {move.difference === 0
        ? 'No dearer than now'
        : `${points} ${points === 1 ? 'point' : 'points'} ${than} than now`}
      {move.after ? `; it costs there: ${priceText(move.after)}` : ', for having no place in this round'}
    </p>
  );
}

type Props = { round: RoundHead; why: Pick<RoundWhy, 'shifts' | 'people'>; task: RoundWhy['tasks'][number] };

/** Moves a task of a draft to any shift, or puts it off; priced before it is done. */
export function MoveByHand({ round, why, task }: Props) {
  const [date, setDate] = useState(task.place?.date ?? task.dueOn);
  const [shift, setShift] = useState(task.place?.shift ?? why.shifts[0] ?? '');
  const [person, setPerson] = useState(task.place?.person ?? why.people[0] ?? '');
  const [isOff, setIsOff] = useState(false);
  const move = useCommand('rounds.move');
  const summary = useRef<HTMLElement>(null);
  const to = isOff ? null : { date, shift, person };
  const isHere =
    to !== null && task.place?.date === date && task.place.shift === shift && task.place.person === person;
  const isWhole = to === null || plainDate.test(date);
  const priced = useCall(
    'rounds.priceMove',
    { id: round.id, task: task.id, to },
    { enabled: isWhole && !isHere },
  );
  const mayMove = isWhole && !isHere && priced.data !== undefined && priced.data.difference !== null;
  return (
    <details className="by-hand">
      <summary ref={summary}>Move by hand, or put off</summary>
      <form
        className="controls"
        onSubmit={(event) => {
          event.preventDefault();
          if (!mayMove) return;
          move.mutate(
            { id: round.id, version: round.version, task: task.id, to },
            {
              onSuccess: () => {
                setIsOff(false);
                summary.current?.focus();
              },
            },
          );
        }}
      >
        <SelectInput
          label="Where to"
          value={isOff ? 'off' : 'shift'}
          onChange={(value) => setIsOff(value === 'off')}
          options={[
            { value: 'shift', label: 'another shift' },
            ...(task.place ? [{ value: 'off', label: 'off, to a later round' }] : []),
          ]}
        />
        {isOff ? null : (
          <>
            <TextInput label="Date" type="date" value={date} onChange={setDate} />
            <SelectInput
              label="Shift"
              value={shift}
              onChange={setShift}
              options={why.shifts.map((name) => ({ value: name, label: name }))}
            />
            <SelectInput
              label="Person"
              value={person}
              onChange={setPerson}
              options={why.people.map((name) => ({ value: name, label: name }))}
            />
          </>
        )}
        <Button isDisabled={!mayMove} isPending={move.isPending} type="submit">
          {isOff ? 'Put it off' : 'Move it'}
        </Button>
      </form>
      {isHere ? <p role="status">It stands there now.</p> : null}
      {!isHere && priced.data ? <Answer move={priced.data} /> : null}
      {!isHere && priced.error ? <Failure error={priced.error} /> : null}
      {move.error ? <Failure error={move.error} /> : null}
    </details>
  );
}
