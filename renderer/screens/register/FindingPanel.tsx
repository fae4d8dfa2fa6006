import { useState } from 'react';
import { Link } from 'wouter';
import { useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { Button } from '../../ui/Button.tsx';
import { problemOf } from '../../ui/FormActions.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { Failure } from '../../ui/states.tsx';
import type { ListedFinding } from '../../../shared/contract/findings.ts';

export const severityMarks: Record<ListedFinding['severity'], string> = {
  stop: '■ stop',
  look: '◆ look',
  'not checked': '○ not checked',
};

export function SeverityMark({ severity }: { severity: ListedFinding['severity'] }) {
  return <span className={`severity severity-${severity.replace(' ', '-')}`}>{severityMarks[severity]}</span>;
}

/** One finding: what is wrong, by which figures, what to do; and who accepted it, or may. */
export function FindingPanel({ finding, onChanged }: { finding: ListedFinding; onChanged: () => void }) {
  const [why, setWhy] = useState('');
  const [until, setUntil] = useState('');
  const accept = useCommand('findings.accept');
  const reopen = useCommand('findings.reopen');
  const { code, deviceId, about, figures, accepted } = finding;
  const done = { onSuccess: () => (setWhy(''), onChanged()) };
  const cannot = why.trim() === '' || workingPersonId() === null;
  return (
    <>
      <p>
        <SeverityMark severity={finding.severity} /> <Link href={`/register/${deviceId}`}>{finding.tag}</Link>
        {about === '' ? '' : ` ${about}`} <span className="quiet">({code})</span>
      </p>
      <p className="lead">{finding.words}</p>
      <p>{finding.advice}</p>
      <dl className="values">
        {Object.entries(figures).map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value === '' ? '–' : value}</dd>
          </div>
        ))}
      </dl>
      {finding.cameBack ? (
        <p className="notice" role="note">
          It was accepted before: a figure has changed since, or that time is over.
        </p>
      ) : null}
      {accepted ? (
        <p>
          Accepted by {accepted.person} on {accepted.at.slice(0, 10)}
          {accepted.until ? `, until ${accepted.until}` : ', until a figure changes'}: {accepted.why}
        </p>
      ) : null}
      <div className="controls">
        <TextInput
          label={accepted ? 'Why it is opened again' : 'Why it is accepted'}
          value={why}
          onChange={setWhy}
          className="wide"
        />
        {accepted ? (
          <Button
            isDisabled={cannot}
            isPending={reopen.isPending}
            onPress={() => reopen.mutate({ code, deviceId, about, why }, done)}
          >
            Open again
          </Button>
        ) : (
          <>
            <TextInput
              label="Until (empty: until a figure changes)"
              type="date"
              value={until}
              onChange={setUntil}
              problem={problemOf(accept.error, 'until')}
            />
            <Button
              isDisabled={cannot}
              isPending={accept.isPending}
              onPress={() =>
                accept.mutate(
                  { code, deviceId, about, figures, until: until === '' ? null : until, why },
                  done,
                )
              }
            >
              Accept
            </Button>
          </>
        )}
        {workingPersonId() === null ? <span className="quiet">Choose above who is working.</span> : null}
      </div>
      {accept.error ? <Failure error={accept.error} /> : null}
      {reopen.error ? <Failure error={reopen.error} /> : null}
    </>
  );
}
