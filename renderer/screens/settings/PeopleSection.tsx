import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { CheckInput, TextInput } from '../../ui/fields.tsx';
import { FormActions } from '../../ui/FormActions.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';
import { deviceClassLabels, deviceClasses } from '../../../shared/trade/words.ts';
import type { Person } from '../../../shared/contract/settings.ts';

type All = OutputOf<'settings.all'>;
type Draft = Omit<Person, 'id' | 'version'> & { id: number | null; version: number | null };

const blank: Draft = {
  id: null,
  version: null,
  name: '',
  initials: '',
  skills: [],
  active: true,
  shiftIds: [],
  absences: [],
};

function PersonForm({ draft, all, onClose }: { draft: Draft; all: All; onClose: () => void }) {
  const [person, setPerson] = useState(draft);
  const [absence, setAbsence] = useState({ from: '', to: '', reason: '' });
  const save = useCommand('settings.savePerson');
  const problem = (column: string): string | null =>
    save.error?.details.problems?.find((one) => one.column.startsWith(column))?.reason ?? null;
  const toggle = (id: number, on: boolean): void =>
    setPerson({
      ...person,
      shiftIds: on ? [...person.shiftIds, id] : person.shiftIds.filter((one) => one !== id),
    });
  return (
    <form className="row-form" onSubmit={(event) => event.preventDefault()}>
      <div className="controls">
        <TextInput
          label="Name"
          value={person.name}
          onChange={(name) => setPerson({ ...person, name })}
          problem={problem('name')}
        />
        <TextInput
          label="Initials"
          value={person.initials}
          onChange={(initials) => setPerson({ ...person, initials })}
          problem={problem('initials')}
        />
        <CheckInput
          label="Active"
          checked={person.active}
          onChange={(active) => setPerson({ ...person, active })}
        />
      </div>
      <fieldset>
        <legend>Works on (none ticked: on everything)</legend>
        <div className="controls">
          {deviceClasses.map((one) => (
            <CheckInput
              key={one}
              label={deviceClassLabels[one]}
              checked={person.skills.includes(one)}
              onChange={(works) =>
                setPerson({
                  ...person,
                  skills: deviceClasses.filter((other) =>
                    other === one ? works : person.skills.includes(other),
                  ),
                })
              }
            />
          ))}
        </div>
      </fieldset>
      <fieldset>
        <legend>Works the shifts</legend>
        {all.shifts.length === 0 ? <p className="quiet">Add a shift below first.</p> : null}
        {all.shifts.map((shift) => (
          <CheckInput
            key={shift.id}
            label={`${shift.name}, ${shift.from} to ${shift.to}`}
            checked={person.shiftIds.includes(shift.id)}
            onChange={(on) => toggle(shift.id, on)}
          />
        ))}
      </fieldset>
      <fieldset>
        <legend>Absences</legend>
        <ul className="link-list">
          {person.absences.map((one, index) => (
            <li key={`${one.from}${one.to}`}>
              {one.from} to {one.to} {one.reason}{' '}
              <Button
                tone="quiet"
                onPress={() =>
                  setPerson({ ...person, absences: person.absences.filter((_, other) => other !== index) })
                }
              >
                Remove the absence from {one.from}
              </Button>
            </li>
          ))}
        </ul>
        <div className="controls">
          <TextInput
            label="From"
            type="date"
            value={absence.from}
            onChange={(from) => setAbsence({ ...absence, from })}
            problem={problem('absences')}
          />
          <TextInput
            label="To"
            type="date"
            value={absence.to}
            onChange={(to) => setAbsence({ ...absence, to })}
          />
          <TextInput
            label="Reason"
            value={absence.reason}
            onChange={(reason) => setAbsence({ ...absence, reason })}
          />
          <Button
            isDisabled={absence.from === '' || absence.to === ''}
            onPress={() => {
              setPerson({ ...person, absences: [...person.absences, absence] });
              setAbsence({ from: '', to: '', reason: '' });
            }}
          >
            Add the absence
          </Button>
        </div>
      </fieldset>
      <FormActions
        what="person"
        error={save.error}
        isPending={save.isPending}
        onSave={() => save.mutate(person, { onSuccess: onClose })}
        onLeave={onClose}
      />
    </form>
  );
}

/** Who goes on the round, when they work and when they are away. */
export function PeopleSection({ all }: { all: All }) {
  const [draft, setDraft] = useState<Draft | null>(null);
  const shiftName = (id: number): string => all.shifts.find((shift) => shift.id === id)?.name ?? '';
  return (
    <section aria-label="People" className="panel">
      <h2>People</h2>
      {all.people.length === 0 ? (
        <p className="quiet">Nobody yet. A round needs at least one person with a shift.</p>
      ) : null}
      <PlainTable
        label="People and their shifts"
        titles={['Initials', 'Name', 'Shifts', 'Absences', 'Active', 'Change']}
        rows={all.people.map((person) => ({
          key: person.id,
          cells: [
            person.initials,
            person.name,
            person.shiftIds.map(shiftName).join(', '),
            person.absences.map((one) => `${one.from} to ${one.to}`).join(', '),
            person.active ? 'yes' : 'no',
            <Button key="edit" tone="quiet" onPress={() => setDraft(person)}>
              Edit {person.initials}
            </Button>,
          ],
        }))}
      />
      {draft ? (
        <PersonForm key={draft.id ?? 0} draft={draft} all={all} onClose={() => setDraft(null)} />
      ) : (
        <Button onPress={() => setDraft(blank)}>Add a person</Button>
      )}
    </section>
  );
}
