import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { sentence } from '../../ui/format.ts';
import { problemOf } from '../../ui/FormActions.tsx';
import { Failure } from '../../ui/states.tsx';
import { typed } from '../../ui/typed.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';
import { decisionRules } from '../../../shared/trade/doubt.ts';
import { formatMilli } from '../../../shared/units/units.ts';

const ruleHelp: Record<(typeof decisionRules)[number], string> = {
  'simple acceptance': 'inside up to the tolerance itself; at the limit the risk is one half',
  'guard band 0.83 U': 'surely inside only 0.83 U within the tolerance: at most 5 % wrongly accepted',
  'guard band U': 'surely inside only U within the tolerance: at most 2.3 % wrongly accepted',
  'guard band by ratio':
    'a band by the ratio of tolerance to doubt that keeps wrong acceptance at 2 % overall',
};

/** The decision rule in force, and the freeze lockout: agreed before anything is measured. */
export function BenchSection({ all }: { all: OutputOf<'settings.all'> }) {
  const [rule, setRule] = useState(all.bench.decisionRule);
  const [lockout, setLockout] = useState(formatMilli(all.bench.freezeLockoutMilli));
  const [why, setWhy] = useState('');
  const save = useCommand('settings.saveBench');
  return (
    <section aria-label="Bench" className="panel">
      <h2>Bench</h2>
      <p className="quiet">
        The rule is agreed before measuring, and stands in every record. It decides the words of a verdict:
        “inside, in doubt” may still be held, and says so to whoever reads it. A change holds for later
        records only.
      </p>
      <div className="controls">
        <SelectInput
          label="Decision rule"
          value={rule}
          onChange={(value) => setRule(decisionRules.find((one) => one === value) ?? rule)}
          options={decisionRules.map((one) => ({ value: one, label: sentence(one) }))}
          help={ruleHelp[rule]}
        />
        <TextInput
          label="Freeze lockout"
          numeric
          unit="°F outdoors"
          value={lockout}
          onChange={setLockout}
          help="below it no main is forced"
          problem={problemOf(save.error, 'freezeLockoutMilli')}
        />
        <TextInput
          label="Why it changes"
          value={why}
          onChange={setWhy}
          problem={problemOf(save.error, 'why')}
        />
        <Button
          isPending={save.isPending}
          onPress={() =>
            save.mutate({
              decisionRule: rule,
              freezeLockoutMilli: typed(lockout) ?? Number.NaN,
              version: all.benchVersion,
              why,
            })
          }
        >
          Save the bench rules
        </Button>
      </div>
      {save.error ? <Failure error={save.error} /> : null}
    </section>
  );
}
