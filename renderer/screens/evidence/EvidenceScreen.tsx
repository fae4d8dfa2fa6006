import { useState } from 'react';
import { useSearchParams } from 'wouter';
import { useCall } from '../../api/client.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { sentence } from '../../ui/format.ts';
import { JobProgress, useJob } from '../../ui/JobPanel.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import type { PackPreview, PackProof, PackSummary } from '../../../shared/contract/evidence.ts';
import { useSave } from '../../ui/useSave.ts';
import { EvidenceTabs } from './EvidenceTabs.tsx';
import { ScopeFields, scopeOfAddress } from './scope.tsx';

const count = (value: number): string => value.toLocaleString('en');

function sizeText(bytes: number): string {
  return bytes < 1_000_000 ? `${Math.max(1, Math.round(bytes / 1000))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

function Preview({ preview }: { preview: PackPreview }) {
  return (
    <section aria-label="What the pack would hold" className="panel">
      <h2>What it would hold</h2>
      <p>
        {preview.scope}.{' '}
        {preview.firstOn === null
          ? 'No record in these days.'
          : `Records from ${preview.firstOn} to ${preview.lastOn}.`}
      </p>
      <ul className="counts-line">
        {preview.counts.map(({ what, count: n }) => (
          <li key={what}>
            <strong>{count(n)}</strong> {what}
          </li>
        ))}
      </ul>
      <h3>What is missing</h3>
      {preview.gaps.length === 0 ? (
        <p className="quiet">No gap was found.</p>
      ) : (
        <PlainTable
          label="Gaps"
          titles={['Gap', '>Count', 'Such as']}
          rows={preview.gaps.map((gap) => ({
            key: gap.what,
            cells: [sentence(gap.what), count(gap.count), gap.examples.join(', ')],
          }))}
        />
      )}
      <p className="quiet">
        Gaps stand in the report as well: nothing is left out, and nothing is filled in.
      </p>
    </section>
  );
}

function Written({ summary }: { summary: PackSummary }) {
  return (
    <section aria-label="The pack that was written" className="panel" role="status">
      <h2>{summary.name} is written</h2>
      <p>
        {summary.files.length} files; chain of {count(summary.entries)} entries. Keep these two elsewhere, on
        paper or in a letter: who can write the whole folder can make all of it anew.
      </p>
      <p>
        SHA-256 of the manifest: <code className="hash">{summary.manifestHash}</code>
      </p>
      <p>
        Head of the chain: <code className="hash">{summary.headHash}</code>
      </p>
    </section>
  );
}

function Proof({ name, proof }: { name: string; proof: PackProof }) {
  return (
    <div role="status" className={proof.sound ? 'panel' : 'notice'}>
      <p>
        <strong>
          {name}: {proof.sound ? 'sound' : 'NOT SOUND'}.
        </strong>{' '}
        {proof.sound
          ? `${proof.files} files, ${count(proof.entries)} entries, ${count(proof.records)} records and ${count(proof.drifts)} drifts hold.`
          : ''}
      </p>
      {proof.problems.length > 0 ? (
        <ul>
          {proof.problems.map(({ file, detail }) => (
            <li key={`${file}${detail}`}>
              {file} {detail}
            </li>
          ))}
          {proof.more > 0 ? <li>and {proof.more} more</li> : null}
        </ul>
      ) : null}
    </div>
  );
}

function Packs() {
  const packs = useCall('evidence.packs', {}, { fresh: true });
  const check = useJob('evidence.check');
  const [proof, setProof] = useState<{ name: string; proof: PackProof } | null>(null);
  const { save, error } = useSave();
  if (packs.error) return <Failure error={packs.error} />;
  if (!packs.data) return <Waiting what="Looking for packs…" />;
  async function prove(name: string): Promise<void> {
    setProof(null);
    const result = await check.start({ name });
    if (result) setProof({ name, proof: result });
  }
  return (
    <section aria-label="Packs beside the book">
      <h2>Packs beside the book</h2>
      {packs.data.packs.length === 0 ? (
        <Empty title="None yet">
          <p>Choose a part of the site, look at the preview, and write one. It never changes the book.</p>
        </Empty>
      ) : (
        <PlainTable
          label="Packs"
          titles={['Pack', 'As', '>Size', 'Made', 'Do']}
          rows={packs.data.packs.map(({ name, as, bytes, madeAt }) => ({
            key: name,
            cells: [
              name,
              as,
              sizeText(bytes),
              `${madeAt.slice(0, 16).replace('T', ' ')} UTC`,
              <span key="do" className="actions">
                <Button isPending={check.isRunning} onPress={() => void prove(name)}>
                  Prove {name}
                </Button>
                {as === 'zip' ? (
                  <Button onPress={() => save('evidence.download', { name })}>Save {name}</Button>
                ) : null}
              </span>,
            ],
          }))}
        />
      )}
      <JobProgress job={check} />
      {check.error ? <Failure error={check.error} /> : null}
      {error ? <Failure error={error} /> : null}
      {proof ? <Proof {...proof} /> : null}
      <p className="quiet">
        They stand in the folder of the book’s name that ends with .packs. Anybody proves one with Node alone:
        node check.mjs in its folder.
      </p>
    </section>
  );
}

/** The evidence pack: choose, look, write, prove. */
export function EvidenceScreen() {
  const [search] = useSearchParams();
  const preview = useJob('evidence.preview');
  const write = useJob('evidence.write');
  const [seen, setSeen] = useState<{ of: string; preview: PackPreview } | null>(null);
  const [written, setWritten] = useState<PackSummary | null>(null);
  const scope = scopeOfAddress(search);
  const key = JSON.stringify(scope);
  async function look(): Promise<void> {
    const result = await preview.start(scope);
    if (result) setSeen({ of: key, preview: result });
  }
  async function make(as: 'folder' | 'zip'): Promise<void> {
    setWritten(null);
    const result = await write.start({ scope, as });
    if (result) setWritten(result);
  }
  const isBusy = preview.isRunning || write.isRunning;
  return (
    <>
      <h1>Evidence</h1>
      <EvidenceTabs here="/evidence" />
      <p className="quiet">
        One pack for an auditor: a report, tables of every reading, the register as a workbook, and the chain
        that proves them. Nothing in it is changed later; a new one takes its place.
      </p>
      <div className="controls">
        <ScopeFields has="all" />
        <Button isPending={isBusy} onPress={() => void look()}>
          Preview
        </Button>
        <Button tone="main" isPending={isBusy} onPress={() => void make('folder')}>
          Write as a folder
        </Button>
        <Button isPending={isBusy} onPress={() => void make('zip')}>
          Write as a zip
        </Button>
      </div>
      <JobProgress job={preview} />
      <JobProgress job={write} />
      {preview.error && preview.error.code !== 'cancelled' ? <Failure error={preview.error} /> : null}
      {write.error ? <Failure error={write.error} /> : null}
      {written ? <Written summary={written} /> : null}
      {seen && seen.of === key ? <Preview preview={seen.preview} /> : null}
      <Packs />
    </>
  );
}
