import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { CheckInput, TextInput } from '../../ui/fields.tsx';
import { FormActions, problemOf } from '../../ui/FormActions.tsx';
import { Failure } from '../../ui/states.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';

type All = OutputOf<'settings.all'>;
type ShiftText = {
  id: number | null;
  version: number | null;
  name: string;
  weekdays: string;
  from: string;
  to: string;
  minutes: string;
  overtime: string;
  occupied: boolean;
};

const blank: ShiftText = {
  id: null,
  version: null,
  name: '',
  weekdays: '12345',
  from: '07:00',
  to: '15:30',
  minutes: '390',
  overtime: '30',
  occupied: true,
};

function ShiftForm({ start, onClose }: { start: ShiftText; onClose: () => void }) {
  const [shift, setShift] = useState(start);
  const save = useCommand('settings.saveShift');
  const problem = (column: string): string | null => problemOf(save.error, column);
  const field = (
    key: 'name' | 'weekdays' | 'from' | 'to' | 'minutes' | 'overtime',
    label: string,
    column: string,
    help?: string,
  ) => (
    <TextInput
      label={label}
      value={shift[key]}
      onChange={(value) => setShift({ ...shift, [key]: value })}
      problem={problem(column)}
      help={help}
    />
  );
  return (
    <form className="row-form" onSubmit={(event) => event.preventDefault()}>
      <div className="controls">
        {field('name', 'Shift', 'name')}
        {field('weekdays', 'Weekdays', 'weekdays', '1 = Monday to 7 = Sunday')}
        {field('from', 'From', 'from', 'as 07:00')}
        {field('to', 'To', 'to')}
        {field('minutes', 'Minutes of work', 'minutes', 'a person and day')}
        {field('overtime', 'Overtime, at most', 'overtimeMinutes', 'minutes')}
        <CheckInput
          label="The building is occupied then"
          checked={shift.occupied}
          onChange={(occupied) => setShift({ ...shift, occupied })}
        />
      </div>
      <FormActions
        what="shift"
        error={save.error}
        isPending={save.isPending}
        onSave={() =>
          save.mutate(
            {
              id: shift.id,
              version: shift.version,
              name: shift.name,
              weekdays: shift.weekdays,
              from: shift.from,
              to: shift.to,
              minutes: Number(shift.minutes || 'NaN'),
              overtimeMinutes: Number(shift.overtime || '0'),
              occupied: shift.occupied,
            },
            { onSuccess: onClose },
          )
        }
        onLeave={onClose}
      />
    </form>
  );
}

/** Shifts and days off: what a round's days are made of. */
export function CalendarSection({ all }: { all: All }) {
  const [draft, setDraft] = useState<ShiftText | null>(null);
  const [day, setDay] = useState({ on: '', name: '' });
  const saveDays = useCommand('settings.saveDaysOff');
  return (
    <section aria-label="Calendar" className="panel">
      <h2>Shifts and days off</h2>
      <PlainTable
        label="Shifts"
        titles={['Shift', 'Weekdays', 'Times', '>Minutes', 'Hours', 'Change']}
        rows={all.shifts.map((shift) => ({
          key: shift.id,
          cells: [
            shift.name,
            shift.weekdays,
            `${shift.from} to ${shift.to}`,
            `${shift.minutes} + ${shift.overtimeMinutes}`,
            shift.occupied ? 'occupied' : 'after hours',
            <Button
              key="edit"
              tone="quiet"
              onPress={() =>
                setDraft({
                  ...shift,
                  minutes: String(shift.minutes),
                  overtime: String(shift.overtimeMinutes),
                })
              }
            >
              Edit {shift.name}
            </Button>,
          ],
        }))}
      />
      {draft ? (
        <ShiftForm key={draft.id ?? 0} start={draft} onClose={() => setDraft(null)} />
      ) : (
        <Button onPress={() => setDraft(blank)}>Add a shift</Button>
      )}
      <h3>Days off</h3>
      <ul className="chips">
        {all.daysOff.map((one) => (
          <li key={one.on}>
            {one.on} {one.name}{' '}
            <Button
              tone="quiet"
              onPress={() => saveDays.mutate({ daysOff: all.daysOff.filter((other) => other.on !== one.on) })}
              aria-label={`Remove the day off ${one.on}`}
            >
              ×
            </Button>
          </li>
        ))}
      </ul>
      <div className="controls">
        <TextInput label="Date" type="date" value={day.on} onChange={(on) => setDay({ ...day, on })} />
        <TextInput label="What" value={day.name} onChange={(name) => setDay({ ...day, name })} />
        <Button
          isDisabled={day.on === ''}
          onPress={() =>
            saveDays.mutate(
              { daysOff: [...all.daysOff, day] },
              { onSuccess: () => setDay({ on: '', name: '' }) },
            )
          }
        >
          Add the day off
        </Button>
      </div>
      {saveDays.error ? <Failure error={saveDays.error} /> : null}
    </section>
  );
}
