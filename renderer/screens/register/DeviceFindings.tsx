import { Link } from 'wouter';
import { useCall } from '../../api/client.ts';
import { findingKey } from '../../../shared/register/findings/finding.ts';
import { FindingPanel, severityMarks } from './FindingPanel.tsx';

/** Findings of one device on its page, worked out from the register as it is now; and how many stand below it. */
export function DeviceFindings({ deviceId }: { deviceId: number }) {
  const answer = useCall('findings.ofDevice', { deviceId });
  if (!answer.data) return null;
  const { findings, below, isBelowCounted } = answer.data;
  if (findings.length === 0 && below === 0) return null;
  return (
    <section aria-label="Findings">
      <h2>Findings</h2>
      {findings.map((finding) => (
        <details
          key={findingKey(finding)}
          className="panel"
          open={finding.accepted === null && finding.severity === 'stop'}
        >
          <summary>
            {severityMarks[finding.severity]}
            {finding.accepted ? ', accepted' : ''}: {finding.words.replace(/^Not checked: /u, '')}
          </summary>
          <FindingPanel finding={finding} onChanged={() => void answer.refetch()} />
        </details>
      ))}
      {below > 0 && isBelowCounted ? (
        <p>
          {below} open {below === 1 ? 'finding' : 'findings'} at what it feeds:{' '}
          <Link href="/register/findings">all findings</Link>.
        </p>
      ) : null}
    </section>
  );
}
