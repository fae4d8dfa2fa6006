import { useEffect, useRef } from 'react';
import { Link } from 'wouter';
import { differenceText } from '../../ui/format.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';

/** What a sheet came to. */
export function SheetWritten({ result, left }: { result: OutputOf<'paper.close'>; left: number }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  return (
    <section aria-label="Sheet written" className="panel">
      <h2 ref={heading} tabIndex={-1}>
        Written and on disk
      </h2>
      <p>
        {result.records.length} records:{' '}
        {Object.entries(result.verdicts)
          .map(([verdict, count]) => `${count} ${verdict}`)
          .join(', ')}
        .{left > 0 ? ` ${left} rows were left blank and not written.` : ''}
        {result.followUps.length > 0
          ? ` ${result.followUps.length === 1 ? 'One follow-up was' : `${result.followUps.length} follow-ups were`} opened.`
          : ''}
      </p>
      {result.followUps.length > 0 ? <Link href="/follow-ups">To the follow-ups</Link> : null}
      <PlainTable
        label="Records of the sheet"
        titles={['Test point', 'Outcome', '>Found', 'Verdict', '>Left', 'Due again', 'Record']}
        rows={result.records.map((record) => ({
          key: record.calibrationId,
          cells: [
            `${record.tag} ${record.role || record.kind}`,
            record.outcome,
            differenceText(record.errorFoundMilli, record.unit, record.foundRelation),
            record.verdictFound ?? '–',
            differenceText(record.errorLeftMilli, record.unit),
            record.dueOn ?? 'not planned',
            <Link key="record" href={`/records/${record.calibrationId}`}>
              Record {record.calibrationId}
            </Link>,
          ],
        }))}
      />
      <p className="quiet">
        Ledger entry {result.ledgerSeq}, head <code>{result.headHash.slice(0, 16)}…</code>
      </p>
    </section>
  );
}
