import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { valueText } from '../../ui/format.ts';
import { Failure } from '../../ui/states.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';
import { differenceLabel, formatMilli, parseMilli, unitLabel } from '../../../shared/units/units.ts';

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
  const problem = (column: string): string | null =>
    save.error?.details.problems?.find((one) => one.column === column)?.reason ?? null;
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
      {save.error ? <Failure error={save.error} /> : null}
      <div className="actions">
        <Button
          tone="main"
          isDisabled={save.isPending}
          onPress={() =>
            save.mutate(
              {
                id: text.id,
                version: text.version,
                tag: text.tag,
                kind: isPressure ? 'pressure' : 'temperature',
                unit: text.unit,
                rangeLowMilli: parseMilli(text.low) ?? Number.NaN,
                rangeHighMilli: parseMilli(text.high) ?? Number.NaN,
                accuracyMilli: text.accuracy === '' ? null : (parseMilli(text.accuracy) ?? Number.NaN),
                certificateDueOn: text.due === '' ? null : text.due,
              },
              { onSuccess: onClose },
            )
          }
        >
          Save the instrument
        </Button>
        <Button onPress={onClose}>Leave unchanged</Button>
      </div>
    </form>
  );
}

/** Reference instruments: what the readings are taken with. */
export function GaugesSection({ all }: { all: All }) {
  const [draft, setDraft] = useState<GaugeText | null>(null);
  return (
    <section aria-label="Gauge drawer" className="panel">
      <h2>Gauge drawer</h2>
      <table className="plain-table">
        <thead>
          <tr>
            <th scope="col">Tag</th>
            <th scope="col">Range</th>
            <th scope="col">Accuracy</th>
            <th scope="col">Certificate until</th>
            <th scope="col">Change</th>
          </tr>
        </thead>
        <tbody>
          {all.gauges.map((gauge) => (
            <tr key={gauge.id}>
              <th scope="row">{gauge.tag}</th>
              <td>
                {formatMilli(gauge.rangeLowMilli)} to {valueText(gauge.rangeHighMilli, gauge.unit)}
              </td>
              <td>
                {gauge.accuracyMilli === null
                  ? '–'
                  : `±${formatMilli(gauge.accuracyMilli)} ${differenceLabel(gauge.unit)}`}
              </td>
              <td>{gauge.certificateDueOn ?? 'none noted'}</td>
              <td>
                <Button tone="quiet" onPress={() => setDraft(toText(gauge))}>
                  Edit {gauge.tag}
                </Button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {draft ? (
        <GaugeForm key={draft.id ?? 0} start={draft} onClose={() => setDraft(null)} />
      ) : (
        <Button onPress={() => setDraft(blank)}>Add an instrument</Button>
      )}
    </section>
  );
}
