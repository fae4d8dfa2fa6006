import { useState } from 'react';
import { useCall } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput } from '../../ui/fields.tsx';
import { Failure } from '../../ui/states.tsx';
import { useSave } from '../../ui/useSave.ts';
import type { RoundOverview } from '../../../shared/contract/rounds.ts';

const alarms = [
  ['', 'none'],
  ['15', '15 minutes before'],
  ['60', 'an hour before'],
  ['720', 'the evening before'],
] as const;

/** The round as files: a table for everybody, and a calendar for each person once it is issued. */
export function RoundFiles({ overview }: { overview: RoundOverview }) {
  const { save, error } = useSave();
  const [alarm, setAlarm] = useState('');
  const { id, status } = overview.round;
  // Who has no shift left has those to take out that an earlier round gave.
  const settings = useCall('settings.all', {});
  const people = settings.data?.people ?? [];
  return (
    <section aria-label="Files of the round" className="panel">
      <h3>Hand it out</h3>
      <div className="actions">
        <Button onPress={() => save('rounds.table', { id, as: 'csv' })}>Save as CSV</Button>
        <Button onPress={() => save('rounds.table', { id, as: 'xlsx' })}>Save as a workbook</Button>
      </div>
      {status === 'draft' ? (
        <p className="quiet">A draft has no calendars: it promises nothing yet. Issue it first.</p>
      ) : (
        <>
          <div className="controls">
            <SelectInput
              label="Alarm"
              value={alarm}
              onChange={setAlarm}
              options={alarms.map(([value, label]) => ({ value, label }))}
            />
            {people.map(({ id: personId, initials }) => (
              <Button
                key={personId}
                onPress={() =>
                  save('rounds.calendar', {
                    id,
                    personId,
                    alarmMinutes: alarm === '' ? null : Number(alarm),
                  })
                }
              >
                Calendar of {initials}
              </Button>
            ))}
          </div>
          <p className="quiet">
            Load it into any calendar program. After the round is drawn and issued again, load the new one: a
            shift that changed takes the place of the old one, and one that fell away is taken out.
          </p>
        </>
      )}
      {error ? <Failure error={error} /> : null}
    </section>
  );
}
