import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { typed } from '../../ui/typed.ts';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { toleranceText, valueText } from '../../ui/format.ts';
import { FormActions, problemOf } from '../../ui/FormActions.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';
import { differenceLabel, formatMilli, unitLabel } from '../../../shared/units/units.ts';

type All = OutputOf<'settings.all'>;
type Gauge = All['gauges'][number];
type GaugeText = {
  id: number | null;
  version: number | null;
  tag: string;
  unit: Gauge['unit'];
  low: string;
  high: string;
  accuracy: string;
  due: string;
};

const units: readonly Gauge['unit'][] = ['psi', 'kPa', 'degF', 'degC'];
const blank: GaugeText = {
  id: null,
  version: null,
  tag: '',
  unit: 'psi',
  low: '0',
  high: '30',
  accuracy: '',
  due: '',
};

function toText(gauge: Gauge): GaugeText {
  return {
    id: gauge.id,
    version: gauge.version,
    tag: gauge.tag,
    unit: gauge.unit,
    low: formatMilli(gauge.rangeLowMilli),
    high: formatMilli(gauge.rangeHighMilli),
    accuracy: gauge.accuracyMilli === null ? '' : formatMilli(gauge.accuracyMilli),
    due: gauge.certificateDueOn ?? '',
  };
}

function GaugeForm({ start, onClose }: { start: GaugeText; onClose: () => void }) {
  const [text, setText] = useState(start);
  const save = useCommand('settings.saveGauge');
  const problem = (column: string): string | null => problemOf(save.error, column);
  const isPressure = text.unit === 'psi' || text.unit === 'kPa';
  return (
    <form className="row-form" onSubmit={(event) => event.preventDefault()}>
      <div className="controls">
        <TextInput
          label="Tag"
          value={text.tag}
          onChange={(tag) => setText({ ...text, tag })}
          problem={problem('tag')}
        />
        <SelectInput
          label="Unit"
          value={text.unit}
          onChange={(value) => setText({ ...text, unit: units.find((one) => one === value) ?? 'psi' })}
          options={units.map((one) => ({ value: one, label: unitLabel(one) }))}
        />
        <TextInput
          label="Range from"
          numeric
          value={text.low}
          onChange={(low) => setText({ ...text, low })}
          problem={problem('rangeLowMilli')}
        />
        <TextInput
          label="Range to"
          numeric
          value={text.high}
          onChange={(high) => setText({ ...text, high })}
          problem={problem('rangeHighMilli')}
        />
        <TextInput
          label="Accuracy, ±"
          numeric
          unit={differenceLabel(text.unit)}
          value={text.accuracy}
          onChange={(accuracy) => setText({ ...text, accuracy })}
          problem={problem('accuracyMilli')}
        />
        <TextInput
          label="Certificate valid until"
          type="date"
          value={text.due}
          onChange={(due) => setText({ ...text, due })}
          problem={problem('certificateDueOn')}
        />
      </div>
      <FormActions
        what="instrument"
        error={save.error}
        isPending={save.isPending}
        onSave={() =>
          save.mutate(
            {
              id: text.id,
              version: text.version,
              tag: text.tag,
              kind: isPressure ? 'pressure' : 'temperature',
              unit: text.unit,
              rangeLowMilli: typed(text.low) ?? Number.NaN,
              rangeHighMilli: typed(text.high) ?? Number.NaN,
              accuracyMilli: text.accuracy === '' ? null : (typed(text.accuracy) ?? Number.NaN),
              certificateDueOn: text.due === '' ? null : text.due,
            },
            { onSuccess: onClose },
          )
        }
        onLeave={onClose}
      />
    </form>
  );
}

/** Reference instruments: what the readings are taken with. */
export function GaugesSection({ all }: { all: All }) {
  const [draft, setDraft] = useState<GaugeText | null>(null);
  return (
    <section aria-label="Gauge drawer" className="panel">
      <h2>Gauge drawer</h2>
      <PlainTable
        label="Instruments"
        titles={['Tag', 'Range', 'Accuracy', 'Certificate until', 'Change']}
        rows={all.gauges.map((gauge) => ({
          key: gauge.id,
          cells: [
            gauge.tag,
            `${formatMilli(gauge.rangeLowMilli)} to ${valueText(gauge.rangeHighMilli, gauge.unit)}`,
            gauge.accuracyMilli === null ? '–' : toleranceText(gauge.accuracyMilli, gauge.unit),
            gauge.certificateDueOn ?? 'none noted',
            <Button key="edit" tone="quiet" onPress={() => setDraft(toText(gauge))}>
              Edit {gauge.tag}
            </Button>,
          ],
        }))}
      />
      {draft ? (
        <GaugeForm key={draft.id ?? 0} start={draft} onClose={() => setDraft(null)} />
      ) : (
        <Button onPress={() => setDraft(blank)}>Add an instrument</Button>
      )}
    </section>
  );
}
