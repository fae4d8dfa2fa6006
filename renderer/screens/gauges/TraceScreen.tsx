/** An instrument turned out wrong: every record taken with it, re-stated, and follow-ups for those that change. */
import { useState } from 'react';
import { Link, useParams } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { Button } from '../../ui/Button.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { differenceText } from '../../ui/format.ts';
import { problemOf } from '../../ui/FormActions.tsx';
import { Failure, Waiting } from '../../ui/states.tsx';
import { typed } from '../../ui/typed.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { Gauge, Restated } from '../../../shared/contract/gauges.ts';
import { differenceLabel } from '../../../shared/units/units.ts';

/** So many rows are shown; all of them are counted and followed up. */
const SHOWN = 300;

function restatedCells(row: Restated) {
  const side = (milli: number | null, verdict: string | null, relation: string | null = '='): string =>
    milli === null ? '–' : `${differenceText(milli, row.unit, relation)}${verdict ? `, ${verdict}` : ''}`;
  return [
    `${row.tag} ${row.role || row.kind}`,
    <span key="on" className="nowrap">
      {row.doneOn}
    </span>,
    row.person,
    side(row.foundMilli, row.verdictFound, row.foundRelation),
    row.notRestated ?? side(row.restatedFoundMilli, row.restatedVerdictFound, row.foundRelation),
    side(row.leftMilli, row.verdictLeft),
    row.notRestated === null ? side(row.restatedLeftMilli, row.restatedVerdictLeft) : '',
    row.changes ? '✗ another verdict' : row.notRestated === null ? '✓ stands' : '? not re-stated',
    <Link key="record" href={`/records/${row.calibrationId}`}>
      Record {row.calibrationId}
    </Link>,
  ];
}

function Trace({ gauge, today }: { gauge: Gauge; today: string }) {
  const [text, setText] = useState({ bias: '', foundOn: today, since: '', note: '' });
  const biasMilli = typed(text.bias);
  const trace = useCall(
    'gauges.trace',
    { gaugeId: gauge.id, biasMilli: biasMilli ?? 1, foundOn: text.foundOn, sinceOn: text.since || null },
    { enabled: biasMilli !== null && biasMilli !== 0 && text.foundOn !== '', keepPrevious: true },
  );
  const report = useCommand('gauges.reportFault');
  const personId = workingPersonId();
  const rows = biasMilli === null || biasMilli === 0 ? [] : (trace.data?.rows ?? []);
  const changing = rows.filter((row) => row.changes);
  const shown = [...changing, ...rows.filter((row) => !row.changes)].slice(0, SHOWN);
  const first = trace.data?.sinceOn ?? rows[0]?.doneOn ?? text.foundOn;
  if (report.data)
    return (
      <section aria-label="Reported" className="panel" role="status">
        <h2>Noted and on disk</h2>
        <p>
          {gauge.tag} was {differenceText(biasMilli, gauge.unit)} off since {first}. {report.data.followUps}{' '}
          {report.data.followUps === 1 ? 'follow-up was' : 'follow-ups were'} opened.{' '}
          <Link href="/follow-ups">To the follow-ups</Link>
        </p>
      </section>
    );
  return (
    <>
      <section aria-label="What was found" className="panel">
        <div className="controls">
          <TextInput
            label="It read too high by"
            numeric
            unit={differenceLabel(gauge.unit)}
            value={text.bias}
            onChange={(bias) => setText({ ...text, bias })}
            help="too low is minus"
            problem={problemOf(trace.error, 'biasMilli')}
          />
          <TextInput
            label="Found on"
            type="date"
            value={text.foundOn}
            onChange={(foundOn) => setText({ ...text, foundOn })}
            problem={problemOf(report.error, 'foundOn')}
          />
          <TextInput
            label="In doubt since"
            type="date"
            value={text.since}
            onChange={(since) => setText({ ...text, since })}
            help="empty = its last good certificate, else its first record"
            problem={problemOf(trace.error, 'sinceOn')}
          />
          <TextInput
            label="Note"
            value={text.note}
            onChange={(note) => setText({ ...text, note })}
            className="wide"
          />
        </div>
        <p className="quiet">
          Nothing in the records is changed: they are re-stated here, and those that matter are followed up.
        </p>
      </section>
      {trace.error ? <Failure error={trace.error} /> : null}
      {trace.isFetching ? <Waiting what="Re-stating the records…" /> : null}
      {trace.data && biasMilli !== null && biasMilli !== 0 ? (
        <section aria-label="Records taken with it">
          <h2>
            {rows.length} {rows.length === 1 ? 'record' : 'records'} since {first}; {changing.length} with
            another verdict
          </h2>
          <div className="actions">
            <Button
              tone="main"
              isDisabled={personId === null}
              isPending={report.isPending}
              onPress={() =>
                report.mutate({
                  gaugeId: gauge.id,
                  biasMilli,
                  foundOn: text.foundOn,
                  sinceOn: first,
                  note: text.note,
                  personId: personId ?? 0,
                  calibrationIds: changing.map((row) => row.calibrationId),
                })
              }
            >
              {changing.length === 0
                ? 'Note the fault'
                : `Note the fault and open ${changing.length} follow-up${changing.length === 1 ? '' : 's'}`}
            </Button>
            {personId === null ? <span className="quiet">Choose above who is working.</span> : null}
          </div>
          {report.error ? <Failure error={report.error} /> : null}
          {rows.length > shown.length ? (
            <p className="quiet">The first {shown.length} are shown, those with another verdict first.</p>
          ) : null}
          {rows.length > 0 ? (
            <PlainTable
              label="Re-stated records"
              titles={[
                'Test point',
                'Date',
                'By',
                '>Found',
                '>Re-stated',
                '>Left',
                '>Re-stated left',
                'Verdict',
                'Record',
              ]}
              rows={shown.map((row) => ({ key: row.calibrationId, cells: restatedCells(row) }))}
            />
          ) : (
            <p>No record was taken with it in that time.</p>
          )}
        </section>
      ) : null}
    </>
  );
}

export function TraceScreen() {
  const gaugeId = Number(useParams<{ gaugeId: string }>().gaugeId);
  const list = useCall('gauges.list', {});
  const book = useCall('settings.book', {});
  if (list.error) return <Failure error={list.error} />;
  if (!list.data || !book.data) return <Waiting what="Opening the drawer…" />;
  const gauge = list.data.rows.find((row) => row.id === gaugeId);
  return (
    <>
      <p className="crumb">
        <Link href="/gauges">Gauge drawer</Link>
      </p>
      <h1>
        Trace <span className="subtitle">{gauge?.tag ?? ''}: what was read with it while it was wrong</span>
      </h1>
      {gauge ? (
        <Trace gauge={gauge} today={book.data.today} />
      ) : (
        <p role="alert">There is no such instrument.</p>
      )}
    </>
  );
}
