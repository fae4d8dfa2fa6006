import { useState } from 'react';
import { NoteFields } from '../../airTests/NoteFields.tsx';
import { call, useCall, useCommand } from '../../api/client.ts';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { FormActions, problemOf } from '../../ui/FormActions.tsx';
import { useDraft } from '../../ui/draft.ts';
import { useFocusAtOpening } from '../../ui/focus.ts';
import { flowText } from '../../ui/format.ts';
import { typed, typingProblem } from '../../ui/typed.ts';
import type { Leak, StationSheet } from '../../../shared/contract/stations.ts';
import { scfmOf } from '../../../shared/trade/air/flow.ts';
import { diameterText, diameterUnits, leakEstimate, parseDiameter } from '../../../shared/trade/air/leaks.ts';
import type { DiameterUnit } from '../../../shared/trade/air/leaks.ts';
import { formatMilli, pressureUnits, unitLabel } from '../../../shared/units/units.ts';
import type { PressureUnit } from '../../../shared/units/units.ts';

const SIZE_PROBLEM = 'a size above zero, such as 1/64, 0.03 or 0.8';

/** One leak: where, how large, behind which pressure; with what it loses while it is typed. */
export function LeakForm({
  sheet,
  corrected,
  onClose,
}: {
  sheet: StationSheet;
  corrected: Leak | null;
  /** With the stations that the leak stands under; null where nothing was logged. */
  onClose: (stations: readonly string[] | null) => void;
}) {
  const book = useCall('settings.book', {});
  const form = useFocusAtOpening();
  const save = useCommand('stations.addLeak');
  const [tagProblem, setTagProblem] = useState<string | null>(null);
  const { draft, change, forget } = useDraft(`leak ${sheet.id} ${corrected?.id ?? ''}`, {
    tag: corrected?.tag ?? '',
    place: corrected?.place ?? '',
    on: corrected?.foundOn ?? '',
    size: corrected ? diameterText(corrected.diameterMicro, corrected.diameterUnit).split(' ')[0] : '',
    sizeUnit: (corrected?.diameterUnit ?? (sheet.pressureUnit === 'kPa' ? 'mm' : 'in')) as DiameterUnit,
    pressure: corrected ? formatMilli(corrected.pressureMilli) : '',
    coefficient: corrected?.coefficientMilli == null ? '' : formatMilli(corrected.coefficientMilli),
    note: corrected?.note ?? '',
    reason: '',
    pressureUnit: (corrected?.pressureUnit ?? sheet.pressureUnit) as PressureUnit,
    mendedOn: corrected?.mended?.on ?? '',
    mendedNote: corrected?.mended?.note ?? '',
  });
  const { pressureUnit } = draft;
  const micro = parseDiameter(draft.size);
  const pressureMilli = typed(draft.pressure);
  const coefficientMilli = draft.coefficient.trim() === '' ? null : (typed(draft.coefficient) ?? 0);
  const isRight =
    micro !== null &&
    pressureMilli !== null &&
    pressureMilli > 0 &&
    (coefficientMilli === null || (coefficientMilli > 0 && coefficientMilli <= 1000));
  const flow = isRight
    ? leakEstimate(
        { diameterMicro: micro, diameterUnit: draft.sizeUnit, pressureMilli, pressureUnit, coefficientMilli },
        sheet.atmospherePsi,
      )
    : null;
  const on = draft.on === '' ? (book.data?.today ?? '') : draft.on;
  const scfm = (scimMilli: number): string => flowText(scfmOf(scimMilli));
  const close = (stations: readonly string[] | null): void => {
    forget();
    onClose(stations);
  };
  async function submit(): Promise<void> {
    const tag = draft.tag.trim();
    const id =
      tag === ''
        ? sheet.id
        : ((await call('register.find', { tag })).id ??
          (await call('register.find', { tag: tag.toUpperCase() })).id);
    setTagProblem(id === null ? `no device has the tag ${tag}` : null);
    if (id === null) return;
    save.mutate(
      {
        deviceId: id,
        place: draft.place,
        foundOn: on,
        diameterMicro: micro ?? 0,
        diameterUnit: draft.sizeUnit,
        pressureMilli: pressureMilli ?? 0,
        pressureUnit,
        coefficientMilli,
        note: draft.note,
        corrects: corrected ? { id: corrected.id, reason: draft.reason } : null,
        mended: corrected && draft.mendedOn !== '' ? { on: draft.mendedOn, note: draft.mendedNote } : null,
      },
      { onSuccess: ({ stations }) => close(stations) },
    );
  }
  return (
    <form
      ref={form}
      className="row-form panel"
      onSubmit={(event) => event.preventDefault()}
      aria-label="Leak"
    >
      <h3>{corrected ? `Correct leak ${corrected.id}` : 'Log a leak'}</h3>
      <div className="controls">
        <TextInput
          label="At the device, tag"
          value={draft.tag}
          onChange={(tag) => change({ tag })}
          placeholder={sheet.tag}
          help="a main, a controller, an actuator; empty = the station itself"
          problem={tagProblem}
        />
        <TextInput
          label="Place"
          value={draft.place}
          onChange={(place) => change({ place })}
          problem={problemOf(save.error, 'place')}
          className="wide"
        />
        <TextInput
          label="Found on"
          type="date"
          value={on}
          onChange={(value) => change({ on: value })}
          problem={problemOf(save.error, 'foundOn')}
        />
      </div>
      <div className="controls">
        <TextInput
          label="Size, across"
          numeric
          value={draft.size}
          onChange={(size) => change({ size })}
          help="1/64, 0.03, 0.8"
          problem={
            (draft.size.trim() !== '' && micro === null ? SIZE_PROBLEM : null) ??
            problemOf(save.error, 'diameterMicro')
          }
        />
        <SelectInput
          label="Size in"
          value={draft.sizeUnit}
          onChange={(value) => change({ sizeUnit: value as DiameterUnit })}
          options={diameterUnits.map((one) => ({ value: one, label: one }))}
        />
        <TextInput
          label="Pressure behind it"
          numeric
          unit={unitLabel(pressureUnit)}
          value={draft.pressure}
          onChange={(pressure) => change({ pressure, on })}
          problem={typingProblem(draft.pressure) ?? problemOf(save.error, 'pressureMilli')}
        />
        <SelectInput
          label="Pressure in"
          value={pressureUnit}
          onChange={(value) => change({ pressureUnit: value as PressureUnit })}
          options={pressureUnits.map((one) => ({ value: one, label: one }))}
        />
        <TextInput
          label="Coefficient"
          numeric
          value={draft.coefficient}
          onChange={(coefficient) => change({ coefficient })}
          help="empty = 0.65, nobody has seen its edge"
          problem={typingProblem(draft.coefficient) ?? problemOf(save.error, 'coefficientMilli')}
        />
      </div>
      {flow ? (
        <p role="status" className="air-result">
          Loses about <b>{scfm(flow.typical)}</b>, {scfm(flow.low)} with a sharp edge, {scfm(flow.high)} with
          a rounded one.
        </p>
      ) : null}
      <NoteFields draft={draft} isCorrection={corrected !== null} error={save.error} onChange={change}>
        {corrected ? (
          <>
            <TextInput
              label="Mended on (empty: it is open)"
              type="date"
              value={draft.mendedOn}
              onChange={(mendedOn) => change({ mendedOn })}
              problem={problemOf(save.error, 'mended.on')}
            />
            <TextInput
              label="What was done"
              value={draft.mendedNote}
              onChange={(mendedNote) => change({ mendedNote })}
            />
          </>
        ) : null}
      </NoteFields>
      <FormActions
        what="leak"
        error={save.error}
        isPending={save.isPending}
        onSave={() => void submit()}
        onLeave={() => close(null)}
      />
    </form>
  );
}
