import { useState } from 'react';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { useAddressFields } from '../../ui/address.ts';
import { Button } from '../../ui/Button.tsx';
import { sentence, signedText } from '../../ui/format.ts';
import { JobOutcome, useJob } from '../../ui/JobPanel.tsx';
import { Empty } from '../../ui/states.tsx';
import type { Baseline } from '../../../shared/contract/energy.ts';
import { Cautions } from './EnergyScreen.tsx';
import { EvidenceTabs } from './EvidenceTabs.tsx';
import { ScopeFields, scopeOfAddress } from './scope.tsx';

const whole = (value: number): string => Math.round(value).toLocaleString('en');

function Answer({ answer }: { answer: Baseline }) {
  const { adjustment, billedAsIntended: billed } = answer;
  return (
    <>
      <p className="lead">
        {sentence(answer.scope)}, {answer.from} to {answer.to}: as operated {whole(answer.asOperated)} therms,
        as intended {whole(answer.asIntended)}. Non-routine adjustment for drift:{' '}
        <strong>{signedText(adjustment.central, 1)} therms</strong> ({signedText(adjustment.low, 1)} to{' '}
        {signedText(adjustment.high, 1)}) to subtract.
      </p>
      {billed && answer.billed !== null ? (
        <p>
          Billed {whole(answer.billed)} therms; as intended {whole(billed.central)} ({whole(billed.low)} to{' '}
          {whole(billed.high)}).
        </p>
      ) : (
        <p className="quiet">
          No bill for every month of this part: load bills in the settings, and choose the whole site.
        </p>
      )}
      {answer.withoutLoss > 0 ? (
        <p className="quiet">
          {answer.withoutLoss} zones have no area, loss or efficiency, and are not in these figures.
        </p>
      ) : null}
      <PlainTable
        label="Months"
        titles={[
          'Month',
          '>Mean error, °F',
          '>Known',
          '>As operated',
          '>As intended',
          '>Adjustment',
          '>Billed',
        ]}
        rows={answer.months.map((one) => ({
          key: one.month,
          cells: [
            one.month,
            one.meanErrorDegF === null ? '–' : signedText(one.meanErrorDegF, 2),
            `${Math.round(one.knownShare * 100)} %`,
            one.asOperated.toFixed(1),
            one.asIntended.toFixed(1),
            one.knownShare === 0 ? 'not known' : signedText(one.adjustment, 1),
            one.billed === null ? '–' : whole(one.billed),
          ],
        }))}
      />
      <ul>
        {answer.words.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
      <p className="quiet">Method: {answer.method}.</p>
      {answer.events.length > 0 ? (
        <details>
          <summary>{answer.events.length} days on which something was adjusted</summary>
          <ul>
            {answer.events.map(({ date, what }) => (
              <li key={date}>
                {date}: {what}
              </li>
            ))}
          </ul>
        </details>
      ) : null}
      <Cautions of={answer.cautions} />
    </>
  );
}

/** As operated and as intended: two honest baselines, and what lies between them. */
export function BaselineScreen() {
  const { search } = useAddressFields();
  const job = useJob('energy.baseline');
  const [answer, setAnswer] = useState<Baseline | null>(null);
  async function run(): Promise<void> {
    const { building, main, from, to } = scopeOfAddress(search);
    const result = await job.start({ building, main, from, to });
    if (result) setAnswer(result);
  }
  return (
    <>
      <h1>Baseline</h1>
      <EvidenceTabs here="/evidence/baseline" />
      <p className="quiet">
        A baseline with the drift in it credits a recalibration to the retrofit; one without it does not.
        Settle which, before work starts.
      </p>
      <div className="controls">
        <ScopeFields has="place" />
        <Button tone="main" isPending={job.isRunning} onPress={() => void run()}>
          Work it out
        </Button>
      </div>
      <JobOutcome
        job={job}
        empty={
          <Empty title="Nothing worked out yet">
            <p>Choose the period of the baseline; empty, it is the year to today.</p>
          </Empty>
        }
      >
        {answer ? <Answer answer={answer} /> : null}
      </JobOutcome>
    </>
  );
}
