import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { sentence } from '../../ui/format.ts';
import { FormActions, problemOf } from '../../ui/FormActions.tsx';
import { typed } from '../../ui/typed.ts';
import { instrumentKinds, instrumentUnits, instrumentWords } from '../../../shared/cards/instruments.ts';
import { accuracyForms, gaugeGrades } from '../../../shared/trade/doubt.ts';
import type { Gauge } from '../../../shared/contract/gauges.ts';
import { differenceLabel, formatMilli, unitLabel } from '../../../shared/units/units.ts';

export type GaugeText = {
  id: number | null;
  version: number | null;
  tag: string;
  kind: Gauge['kind'];
  unit: Gauge['unit'];
  low: string;
  high: string;
  form: Gauge['accuracyForm'];
  accuracy: string;
  grade: string;
  step: string;
  due: string;
  retired: string;
  hasCertificates: boolean;
};

export const blankGauge: GaugeText = {
  id: null,
  version: null,
  tag: '',
  kind: 'pressure',
  unit: 'psi',
  low: '0',
  high: '30',
  form: 'absolute',
  accuracy: '',
  grade: '3A',
  step: '',
  due: '',
  retired: '',
  hasCertificates: false,
};

/** What stands in the form of an instrument. */
export function gaugeText(gauge: Gauge): GaugeText {
  const text = (milli: number | null): string => (milli === null ? '' : formatMilli(milli));
  return {
    id: gauge.id,
    version: gauge.version,
    tag: gauge.tag,
    kind: gauge.kind,
    unit: gauge.unit,
    low: text(gauge.rangeLowMilli),
    high: text(gauge.rangeHighMilli),
    form: gauge.accuracyForm,
    accuracy: text(gauge.accuracyMilli),
    grade: gauge.accuracyGrade ?? '3A',
    step: text(gauge.stepMilli),
    due: gauge.certificateDueOn ?? '',
    retired: gauge.retiredOn ?? '',
    hasCertificates: gauge.certificates.length > 0,
  };
}

const units: readonly Gauge['unit'][] = ['psi', 'kPa', 'degF', 'degC', 'percent'];

export function GaugeForm({ start, onClose }: { start: GaugeText; onClose: () => void }) {
  const [text, setText] = useState(start);
  const save = useCommand('gauges.save');
  const problem = (column: string): string | null => problemOf(save.error, column);
  const set = (change: Partial<GaugeText>): void => setText({ ...text, ...change });
  const figure = (raw: string): number | null => (raw.trim() === '' ? null : (typed(raw) ?? Number.NaN));
  const own = units.filter((unit) => instrumentUnits[text.kind].includes(unit));
  return (
    <form className="row-form panel" onSubmit={(event) => event.preventDefault()}>
      <h2>{text.id === null ? 'New instrument' : `Edit ${start.tag}`}</h2>
      <div className="controls">
        <TextInput label="Tag" value={text.tag} onChange={(tag) => set({ tag })} problem={problem('tag')} />
        <SelectInput
          label="Kind"
          value={text.kind}
          onChange={(value) => {
            const kind = instrumentKinds.find((one) => one === value) ?? 'pressure';
            set({ kind, unit: units.find((unit) => instrumentUnits[kind].includes(unit)) ?? 'psi' });
          }}
          options={instrumentKinds.map((kind) => ({ value: kind, label: sentence(instrumentWords[kind]) }))}
        />
        <SelectInput
          label="Unit"
          value={text.unit}
          onChange={(value) => set({ unit: own.find((unit) => unit === value) ?? text.unit })}
          options={own.map((unit) => ({ value: unit, label: unitLabel(unit) }))}
          problem={problem('unit')}
        />
        <TextInput
          label="Range from"
          numeric
          value={text.low}
          onChange={(low) => set({ low })}
          problem={problem('rangeLowMilli')}
        />
        <TextInput
          label="Range to"
          numeric
          value={text.high}
          onChange={(high) => set({ high })}
          problem={problem('rangeHighMilli')}
        />
        <SelectInput
          label="Accuracy given as"
          value={text.form}
          onChange={(value) => set({ form: accuracyForms.find((one) => one === value) ?? 'absolute' })}
          options={accuracyForms
            .filter((form) => form !== 'grade' || text.kind === 'pressure')
            .map((form) => ({ value: form, label: sentence(form) }))}
          problem={problem('accuracyForm')}
        />
        {text.form === 'grade' ? (
          <SelectInput
            label="Grade"
            value={text.grade}
            onChange={(grade) => set({ grade })}
            options={Object.entries(gaugeGrades).map(([grade, percent]) => ({
              value: grade,
              label: `${grade}: ±${percent} % of span`,
            }))}
            problem={problem('accuracyGrade')}
          />
        ) : (
          <TextInput
            label="Accuracy, ±"
            numeric
            unit={text.form === 'absolute' ? differenceLabel(text.unit) : '% of span'}
            value={text.accuracy}
            onChange={(accuracy) => set({ accuracy })}
            problem={problem('accuracyMilli')}
          />
        )}
        <TextInput
          label="Scale read to"
          numeric
          unit={differenceLabel(text.unit)}
          value={text.step}
          onChange={(step) => set({ step })}
          help="smallest step; empty = not counted"
          problem={problem('stepMilli')}
        />
        {text.hasCertificates ? null : (
          <TextInput
            label="Certificate valid until"
            type="date"
            value={text.due}
            onChange={(due) => set({ due })}
            help="where the certificate itself is not entered"
            problem={problem('certificateDueOn')}
          />
        )}
        <TextInput
          label="Out of use since"
          type="date"
          value={text.retired}
          onChange={(retired) => set({ retired })}
          problem={problem('retiredOn')}
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
              kind: text.kind,
              unit: text.unit,
              rangeLowMilli: figure(text.low) ?? Number.NaN,
              rangeHighMilli: figure(text.high) ?? Number.NaN,
              accuracyForm: text.form,
              accuracyMilli: text.form === 'grade' ? null : figure(text.accuracy),
              accuracyGrade: text.form === 'grade' ? text.grade : null,
              stepMilli: figure(text.step),
              certificateDueOn: text.due === '' ? null : text.due,
              retiredOn: text.retired === '' ? null : text.retired,
            },
            { onSuccess: onClose },
          )
        }
        onLeave={onClose}
      />
    </form>
  );
}
