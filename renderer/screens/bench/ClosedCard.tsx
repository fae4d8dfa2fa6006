import { useEffect, useRef, useState } from 'react';
import { Link } from 'wouter';
import { useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { Button } from '../../ui/Button.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { differenceText, likelihoodText, sentence } from '../../ui/format.ts';
import { Failure } from '../../ui/states.tsx';
import type { BenchCard } from '../../../shared/contract/bench.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';

type Result = OutputOf<'bench.close'>;

/** An open follow-up that the new record may end. */
function Closable({
  followUp,
  calibrationId,
}: {
  followUp: Result['closable'][number];
  calibrationId: number;
}) {
  const close = useCommand('followUps.close');
  const [note, setNote] = useState('');
  const personId = workingPersonId();
  if (close.data)
    return (
      <li role="status">
        Follow-up {followUp.id} closed by this record: {followUp.cause}
      </li>
    );
  return (
    <li>
      Follow-up {followUp.id} is still open: {followUp.cause}
      <div className="controls">
        <TextInput
          label={`What ended follow-up ${followUp.id}`}
          value={note}
          onChange={setNote}
          className="wide"
        />
        <Button
          isDisabled={note.trim() === '' || personId === null}
          isPending={close.isPending}
          onPress={() =>
            close.mutate({
              id: followUp.id,
              version: followUp.version,
              personId: personId ?? 0,
              note,
              calibrationId,
            })
          }
        >
          Close it by this record
        </Button>
      </div>
      {personId === null ? <p className="quiet">Choose above who is working.</p> : null}
      {close.error ? <Failure error={close.error} /> : null}
    </li>
  );
}

function nameOf(record: Result['records'][number]): string {
  return record.kind === 'setpoint' ? record.role : record.kind;
}

/** What a closed card came to, and where to go from it. */
export function ClosedCard({
  card,
  result,
  onAnother,
}: {
  card: BenchCard;
  result: Result;
  onAnother: () => void;
}) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  return (
    <section aria-label="Card closed" className="panel">
      <h2 ref={heading} tabIndex={-1}>
        Closed and on disk
      </h2>
      <ul>
        {result.records.map((record) => (
          <li key={record.calibrationId}>
            {sentence(nameOf(record))}: <b>{record.outcome}</b>
            {record.errorFoundMilli === null
              ? record.verdictFound === null
                ? ''
                : `, found ${record.verdictFound}`
              : `, found ${differenceText(record.errorFoundMilli, record.unit, record.foundRelation)} (${record.verdictFound}${record.conformanceFoundPpm === null ? '' : `, ${likelihoodText(record.conformanceFoundPpm)} in tolerance`})`}
            {record.errorLeftMilli === null
              ? ''
              : `, left ${differenceText(record.errorLeftMilli, record.unit)}`}
            ; due again {record.dueOn ?? 'not planned'}.{' '}
            <Link href={`/drift/${record.testPointId}`}>Drift of {nameOf(record)}</Link>{' '}
            <Link href={`/records/${record.calibrationId}`}>Record {record.calibrationId}</Link>
          </li>
        ))}
      </ul>
      {result.followUps.length > 0 ? (
        <p>
          Follow-up opened: {result.followUps.map((followUp) => followUp.cause).join('; ')}.{' '}
          <Link href="/follow-ups">To the follow-ups</Link>
        </p>
      ) : null}
      {result.closable.length > 0 ? (
        <ul>
          {result.closable.map((followUp) => (
            <Closable key={followUp.id} followUp={followUp} calibrationId={result.records[0].calibrationId} />
          ))}
        </ul>
      ) : null}
      <p className="quiet">
        Ledger entry {result.ledgerSeq}, head <code>{result.headHash.slice(0, 16)}…</code>
      </p>
      <div className="actions">
        <Link href={`/register/${card.deviceId}`} className="button button-plain">
          To {card.tag}
        </Link>
        {card.correcting ? null : <Button onPress={onAnother}>Another card for {card.tag}</Button>}
      </div>
    </section>
  );
}
