import { useEffect, useRef } from 'react';
import { Link } from 'wouter';
import { Button } from '../../ui/Button.tsx';
import { differenceText, sentence } from '../../ui/format.ts';
import type { BenchCard } from '../../../shared/contract/bench.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';

/** What a closed card came to, and where to go from it. */
export function ClosedCard({
  card,
  result,
  onAnother,
}: {
  card: BenchCard;
  result: OutputOf<'bench.close'>;
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
            {sentence(record.role)}: <b>{record.outcome}</b>, found{' '}
            {differenceText(record.errorFoundMilli, record.unit, record.foundRelation)}
            {record.verdictFound ? ` (${record.verdictFound})` : ''}
            {record.errorLeftMilli === null
              ? ''
              : `, left ${differenceText(record.errorLeftMilli, record.unit)}`}
            ; due again {record.dueOn ?? 'not planned'}.{' '}
            <Link href={`/drift/${record.testPointId}`}>Drift of {record.role}</Link>
          </li>
        ))}
      </ul>
      {result.followUps.length > 0 ? (
        <p>Follow-up opened: {result.followUps.map((followUp) => followUp.cause).join('; ')}</p>
      ) : null}
      <p className="quiet">
        Ledger entry {result.ledgerSeq}, head <code>{result.headHash.slice(0, 16)}…</code>
      </p>
      <div className="actions">
        <Link href={`/register/${card.deviceId}`} className="button button-plain">
          To {card.tag}
        </Link>
        <Button onPress={onAnother}>Another card for {card.tag}</Button>
      </div>
    </section>
  );
}
