/** One record with everything that it keeps: readings, doubt, rule, instruments, and its place in the chain. */
import { Link, useParams } from 'wouter';
import { useCall } from '../../api/client.ts';
import { differenceText, likelihoodText, sentence, toleranceText, valueText } from '../../ui/format.ts';
import { Failure, Waiting } from '../../ui/states.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { RecordDetails } from '../../../shared/contract/records.ts';
import { differenceLabel } from '../../../shared/units/units.ts';

function Side({ record, side }: { record: RecordDetails; side: 'found' | 'left' }) {
  const [milli, relation, verdict, doubt, share] =
    side === 'found'
      ? [
          record.foundMilli,
          record.foundRelation,
          record.verdictFound,
          record.doubtFoundMilli,
          record.conformanceFoundPpm,
        ]
      : [
          record.leftMilli,
          record.leftRelation,
          record.verdictLeft,
          record.doubtLeftMilli,
          record.conformanceLeftPpm,
        ];
  if (milli === null && verdict === null) return <dd>–</dd>;
  return (
    <dd>
      {milli === null ? '' : differenceText(milli, record.unit, relation)} <b>{verdict}</b>
      {doubt === null ? '' : `, doubt ${toleranceText(doubt, record.unit)} (k = 2)`}
      {share === null ? '' : `, ${likelihoodText(share)} in tolerance`}
    </dd>
  );
}

function Facts({ record }: { record: RecordDetails }) {
  return (
    <dl className="values expected">
      <div>
        <dt>As found</dt>
        <Side record={record} side="found" />
      </div>
      <div>
        <dt>As left</dt>
        <Side record={record} side="left" />
      </div>
      <div>
        <dt>Tolerance, found and left</dt>
        <dd>
          {record.toleranceMilli === null ? '–' : toleranceText(record.toleranceMilli, record.unit)}
          {record.toleranceLeftMilli === null
            ? ''
            : `, ${toleranceText(record.toleranceLeftMilli, record.unit)}`}
        </dd>
      </div>
      {record.expected.length === 0 ? null : (
        <div>
          <dt>By the register of that day</dt>
          <dd>{record.expected.map(({ label, text }) => `${label.toLowerCase()} ${text}`).join('; ')}</dd>
        </div>
      )}
      <div>
        <dt>Decision rule</dt>
        <dd>{record.decisionRule}</dd>
      </div>
      <div>
        <dt>Method</dt>
        <dd>
          {record.method ?? '–'}, {record.methodVersion}
        </dd>
      </div>
      <div>
        <dt>Taken by</dt>
        <dd>
          {record.person}, {record.doneOn}; written {record.endedAt.slice(0, 16).replace('T', ' ')} UTC from{' '}
          {record.source}
        </dd>
      </div>
      <div>
        <dt>Instruments</dt>
        <dd>
          {record.instruments.length === 0
            ? 'none noted'
            : record.instruments
                .map(
                  (one) =>
                    `${one.tag}${one.certificate ? `, certificate ${one.certificate}` : ''}${one.dueOn ? ` until ${one.dueOn}` : ''}${one.isLapsed ? ', not in date on the day' : ''}`,
                )
                .join('; ')}
        </dd>
      </div>
      <div>
        <dt>Supply</dt>
        <dd>{record.supplyRight ? 'right' : 'not right, or not checked'}</dd>
      </div>
      <div>
        <dt>Entry in the chain</dt>
        <dd>
          {record.entry ? (
            <>
              {record.entry.seq}: <code>{record.entry.hash}</code>
            </>
          ) : (
            'none'
          )}
        </dd>
      </div>
    </dl>
  );
}

function Corrections({ record }: { record: RecordDetails }) {
  return (
    <>
      {record.replacedBy ? (
        <p className="notice" role="note">
          Corrected by{' '}
          <Link href={`/records/${record.replacedBy.calibrationId}`}>
            record {record.replacedBy.calibrationId}
          </Link>
          , {record.replacedBy.by}, {record.replacedBy.at.slice(0, 16).replace('T', ' ')} UTC:{' '}
          {record.replacedBy.reason}
        </p>
      ) : null}
      {record.replaces ? (
        <p className="notice" role="note">
          Takes the place of{' '}
          <Link href={`/records/${record.replaces.calibrationId}`}>
            record {record.replaces.calibrationId}
          </Link>
          , {record.replaces.by}, {record.replaces.at.slice(0, 16).replace('T', ' ')} UTC:{' '}
          {record.replaces.reason}
        </p>
      ) : null}
    </>
  );
}

const phaseWords: Record<string, string> = {
  found: 'as found',
  left: 'as left',
  check: 'checked',
  restored: 'put back',
};

function Record({ record }: { record: RecordDetails }) {
  return (
    <>
      <p className="crumb">
        <Link href={`/register/${record.deviceId}`}>{record.tag}</Link>
      </p>
      <div className="title-line">
        <h1 className={record.replacedBy ? 'struck' : undefined}>
          Record {record.calibrationId}{' '}
          <span className="subtitle">
            {record.tag} {record.role || record.kind}, {record.doneOn}: {record.outcome}
          </span>
        </h1>
        <div className="actions">
          {record.replacedBy ? null : (
            <Link
              href={`/bench/${record.deviceId}?correct=${record.calibrationId}`}
              className="button button-plain"
            >
              Correct this record
            </Link>
          )}
          <Link href={`/drift/${record.testPointId}`} className="button button-plain">
            Drift
          </Link>
        </div>
      </div>
      <Corrections record={record} />
      <section aria-label="What it says" className="panel">
        <Facts record={record} />
        {record.note === '' ? null : <p>{record.note}</p>}
      </section>
      <section aria-label="Readings">
        <h2>Readings as typed</h2>
        {record.readings.length === 0 ? (
          <p className="quiet">None.</p>
        ) : (
          <PlainTable
            label="Table of readings"
            titles={['Reading', 'When', '>Value', 'Air state']}
            rows={record.readings.map((one, index) => ({
              key: index,
              cells: [
                sentence(one.label),
                phaseWords[one.phase] ?? one.phase,
                one.text ?? valueText(one.valueMilli, one.unit),
                one.airState ?? '–',
              ],
            }))}
          />
        )}
      </section>
      {record.budget ? (
        <section aria-label="Doubt">
          <h2>What its doubt is made of</h2>
          <PlainTable
            label="Table of doubt"
            titles={['Part', `>Standard doubt, ${differenceLabel(record.unit)}`]}
            rows={record.budget.map(({ name, uMicro }) => ({
              key: name,
              cells: [sentence(name), (uMicro / 1e6).toFixed(4)],
            }))}
          />
        </section>
      ) : null}
      {record.ticks.length > 0 ? (
        <section aria-label="Ticks" className="panel">
          <h2>Ticked</h2>
          <ul className="ticked">
            {record.ticks.map(({ text, ticked }) => (
              <li key={text}>
                {ticked ? '✓' : '✗ not so:'} {text}
              </li>
            ))}
          </ul>
          {record.tickNote === '' ? null : <p>Because: {record.tickNote}</p>}
        </section>
      ) : null}
    </>
  );
}

export function RecordScreen() {
  const calibrationId = Number(useParams<{ calibrationId: string }>().calibrationId);
  const details = useCall('records.details', { calibrationId });
  if (details.error) return <Failure error={details.error} />;
  if (!details.data) return <Waiting what="Opening the record…" />;
  return <Record record={details.data} />;
}
