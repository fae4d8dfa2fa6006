import { useState } from 'react';
import { Link, useSearchParams } from 'wouter';
import { DataTable } from '../../tables/DataTable.tsx';
import type { TableColumn } from '../../tables/DataTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { JobProgress, useJobAtOpening } from '../../ui/JobPanel.tsx';
import { SelectInput } from '../../ui/fields.tsx';
import { Empty, Failure } from '../../ui/states.tsx';
import type { ListedFinding } from '../../../shared/contract/findings.ts';
import { findingKey } from '../../../shared/register/findings/finding.ts';
import { FindingPanel, SeverityMark } from './FindingPanel.tsx';

type Show = 'open' | 'stop' | 'look' | 'not checked' | 'accepted' | 'all';

const order = { stop: 0, look: 1, 'not checked': 2 } as const;

const columns: readonly TableColumn<ListedFinding>[] = [
  {
    id: 'severity',
    title: 'How grave',
    value: ({ severity }) => order[severity],
    cell: ({ severity }) => <SeverityMark severity={severity} />,
  },
  {
    id: 'tag',
    title: 'Device',
    value: ({ tag }) => tag,
    cell: ({ tag, deviceId }) => <Link href={`/register/${deviceId}`}>{tag}</Link>,
  },
  { id: 'about', title: 'Of it', value: ({ about }) => about },
  { id: 'words', title: 'What is wrong', value: ({ words }) => words },
  {
    id: 'standing',
    title: 'Standing',
    value: ({ accepted, cameBack }) =>
      accepted ? `accepted by ${accepted.person}` : cameBack ? 'came back' : 'open',
  },
];

function isShown({ severity, accepted }: ListedFinding, show: Show): boolean {
  if (show === 'all') return true;
  if (show === 'accepted') return accepted !== null;
  return accepted === null && (show === 'open' || severity === show);
}

function count(findings: readonly ListedFinding[], show: Show): number {
  return findings.filter((one) => isShown(one, show)).length;
}

/** What the register alone shows to be wrong, each with its figures and what to do. The choice stands in the address. */
export function FindingsScreen() {
  const [search, setSearch] = useSearchParams();
  const { job, answer, run } = useJobAtOpening('findings.list');
  const [open, setOpen] = useState<string | null>(null);
  const shows: readonly Show[] = ['open', 'stop', 'look', 'not checked', 'accepted', 'all'];
  const show = shows.find((one) => one === search.get('show')) ?? 'open';
  const all = answer?.findings ?? [];
  const rows = all.filter((one) => isShown(one, show));
  const chosen = all.find((one) => findingKey(one) === open);
  return (
    <>
      <p className="crumb">
        <Link href="/register">Register</Link>
      </p>
      <h1>Findings</h1>
      <p className="quiet">
        What the register, and the newest readings, show to be wrong before any controller is touched. A
        finding is no permission: local codes, the device maker’s instructions and licensed practice come
        first.
      </p>
      <div className="controls">
        <SelectInput
          label="Show"
          value={show}
          onChange={(value) => setSearch(value === 'open' ? {} : { show: value }, { replace: true })}
          options={shows.map((one) => ({ value: one, label: `${one} (${count(all, one)})` }))}
        />
        <Button isPending={job.isRunning} onPress={run}>
          Check again
        </Button>
        {answer ? <span className="quiet">{answer.checked} devices checked.</span> : null}
      </div>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
      {answer ? (
        <DataTable
          label="Findings"
          rows={rows}
          columns={columns}
          rowKey={findingKey}
          onOpen={(row) => setOpen(findingKey(row))}
          empty={
            <Empty title="Nothing here">
              <p>
                {all.length === 0 ? 'Every rule that the register allows was checked.' : 'Show another kind.'}
              </p>
            </Empty>
          }
        />
      ) : null}
      {answer && rows.length > 0 ? (
        <p className="quiet">
          Enter on a row, or a click, shows its figures, what to do, and lets you accept it.
        </p>
      ) : null}
      {chosen ? (
        <section aria-label={`Finding, ${chosen.tag}`} className="panel panel-below">
          <div className="panel-head">
            <h2>Finding</h2>
            <Button onPress={() => setOpen(null)}>Close</Button>
          </div>
          <FindingPanel key={findingKey(chosen)} finding={chosen} onChanged={run} />
        </section>
      ) : null}
    </>
  );
}
