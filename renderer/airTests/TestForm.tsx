import { useState } from 'react';
import { useCall, useCommand } from '../api/client.ts';
import { SelectInput, TextInput } from '../ui/fields.tsx';
import { FormActions, problemOf } from '../ui/FormActions.tsx';
import { useDraft } from '../ui/draft.ts';
import { useFocusAtOpening } from '../ui/focus.ts';
import { typed, typingProblem } from '../ui/typed.ts';
import type { AirTest } from '../../shared/contract/stations.ts';
import {
  airTestFields,
  airTestProblems,
  airTestResult,
  airTestWords,
  airUnits,
  stationTestKinds,
} from '../../shared/trade/air/airTests.ts';
import type {
  AirMeasure,
  AirTestFacts,
  AirTestKind,
  AirTestReading,
} from '../../shared/trade/air/airTests.ts';
import { formatMilli } from '../../shared/units/units.ts';
import { AirResult } from './AirResult.tsx';
import { NoteFields } from './NoteFields.tsx';

const measureWords: Record<AirMeasure, string> = {
  time: 'Times in',
  hours: 'Hours in',
  pressure: 'Pressures in',
  volume: 'Volume in',
  flow: 'Flow in',
  oil: 'Oil in',
  count: 'Particles',
  size: 'Particle size in',
};

/** One test of a station, or the measured bleed of a device; with what it comes to while it is typed. */
export function TestForm({
  deviceId,
  kinds,
  factsOn,
  units,
  corrected,
  onClose,
}: {
  deviceId: number;
  kinds: readonly AirTestKind[];
  /** What a test of a day is worked out with. */
  factsOn: (day: string) => AirTestFacts;
  units: Partial<Record<AirMeasure, string>>;
  corrected: AirTest | null;
  onClose: () => void;
}) {
  const book = useCall('settings.book', {});
  const gauges = useCall('gauges.list', {});
  const form = useFocusAtOpening();
  const save = useCommand('stations.addTest');
  const { draft, change, forget } = useDraft(`air test ${deviceId} ${corrected?.id ?? ''}`, {
    kind: (corrected?.kind ?? kinds[0]) as AirTestKind,
    on: corrected?.doneOn ?? '',
    gauge: corrected?.gauge ?? '',
    note: corrected?.note ?? '',
    reason: '',
    values: Object.fromEntries(
      (corrected?.readings ?? []).map(({ quantity, valueMilli }) => [quantity, formatMilli(valueMilli)]),
    ) as Record<string, string>,
    units: Object.fromEntries([
      ...Object.entries(units),
      ...(corrected?.readings ?? []).flatMap(({ quantity, unit }) => {
        const field = airTestFields[corrected?.kind ?? kinds[0]].find((one) => one.quantity === quantity);
        return field ? [[field.measure, unit]] : [];
      }),
    ]) as Partial<Record<AirMeasure, string>>,
  });
  const kind = kinds.includes(draft.kind) ? draft.kind : kinds[0];
  const fields = airTestFields[kind];
  const unitOf = (measure: AirMeasure): string => draft.units[measure] ?? airUnits[measure][0];
  const readings = fields.flatMap(({ quantity, measure }): AirTestReading[] => {
    const valueMilli = typed(draft.values[quantity] ?? '');
    return valueMilli === null ? [] : [{ quantity, valueMilli, unit: unitOf(measure) }];
  });
  const problems = airTestProblems(kind, readings);
  const isTyped = (quantity: string): boolean => (draft.values[quantity] ?? '').trim() !== '';
  const problemAt = (quantity: string): string | null =>
    typingProblem(draft.values[quantity] ?? '') ??
    problemOf(save.error, quantity) ??
    (isTyped(quantity) ? (problems.find((one) => one.quantity === quantity)?.reason ?? null) : null);
  const choosable = [...new Set(fields.map(({ measure }) => measure))].filter(
    (measure) => airUnits[measure].length > 1,
  );
  const on = draft.on === '' ? (book.data?.today ?? '') : draft.on;
  const pressureGauges = (gauges.data?.rows ?? []).filter(
    (one) => one.kind === 'pressure' && one.retiredOn === null,
  );
  const gauge = pressureGauges.find((one) => one.tag === draft.gauge);
  const unreadable = fields.filter(({ quantity }) => typingProblem(draft.values[quantity] ?? '') !== null);
  const [isHeld, setHeld] = useState(false);
  /** The day of the test is the one on which its first figure was typed, unless another is given. */
  const enter = (quantity: string, value: string): void =>
    change({ values: { ...draft.values, [quantity]: value }, on });
  const close = (): void => {
    forget();
    onClose();
  };
  return (
    <form
      ref={form}
      className="row-form panel"
      onSubmit={(event) => event.preventDefault()}
      aria-label="Test"
    >
      <h3>{corrected ? `Correct the ${corrected.kind} of ${corrected.doneOn}` : 'Log a test'}</h3>
      <div className="controls">
        {kinds.length > 1 ? (
          <SelectInput
            label="Kind of test"
            value={kind}
            onChange={(value) => change({ kind: value as AirTestKind })}
            options={kinds.map((one) => ({ value: one, label: one }))}
          />
        ) : null}
        <TextInput
          label="Done on"
          type="date"
          value={on}
          onChange={(value) => change({ on: value })}
          problem={problemOf(save.error, 'doneOn')}
        />
        {choosable.map((measure) => (
          <SelectInput
            key={measure}
            label={measureWords[measure]}
            value={unitOf(measure)}
            onChange={(value) => change({ units: { ...draft.units, [measure]: value } })}
            options={airUnits[measure].map((one) => ({ value: one, label: one }))}
          />
        ))}
        {fields.some(({ measure }) => measure === 'pressure') ? (
          <SelectInput
            label="Pressure gauge"
            value={draft.gauge}
            onChange={(tag) => change({ gauge: tag })}
            problem={problemOf(save.error, 'gaugeId')}
            options={[
              { value: '', label: 'the station’s own' },
              ...pressureGauges.map((one) => ({
                value: one.tag,
                label: one.isLapsed ? `${one.tag}, certificate lapsed` : one.tag,
              })),
            ]}
          />
        ) : null}
      </div>
      <p className="quiet">{airTestWords[kind]}</p>
      <div className="controls">
        {fields.map(({ quantity, label, measure, help, isNeeded }) => (
          <TextInput
            key={quantity}
            label={`${label}${isNeeded ? '' : ', may stay empty'}`}
            numeric
            unit={unitOf(measure)}
            value={draft.values[quantity] ?? ''}
            onChange={(value) => enter(quantity, value)}
            help={help}
            problem={problemAt(quantity)}
          />
        ))}
      </div>
      {problems.length === 0 && readings.length > 0 && unreadable.length === 0 ? (
        <AirResult result={airTestResult(kind, readings, factsOn(on))} isLive />
      ) : null}
      <NoteFields draft={draft} isCorrection={corrected !== null} error={save.error} onChange={change} />
      {isHeld && unreadable.length > 0 ? (
        <p className="failure" role="alert">
          Not saved: {unreadable.map(({ label }) => label.toLowerCase()).join(', ')} cannot be read as a
          figure.
        </p>
      ) : null}
      <FormActions
        what="test"
        error={save.error}
        isPending={save.isPending}
        onSave={() => {
          setHeld(unreadable.length > 0);
          if (unreadable.length > 0) return;
          save.mutate(
            {
              deviceId,
              kind,
              doneOn: on,
              gaugeId: gauge?.id ?? null,
              readings,
              note: draft.note,
              corrects: corrected ? { id: corrected.id, reason: draft.reason } : null,
            },
            { onSuccess: close },
          );
        }}
        onLeave={close}
      />
    </form>
  );
}

/** The kinds that a station is tested by. */
export const kindsOfStation: readonly AirTestKind[] = stationTestKinds;
