/** What a recalibration could not mend: likely causes, whose it is, and one follow-up for one cause. */
import { useState } from 'react';
import { Link } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { Button } from '../../ui/Button.tsx';
import { CheckInput, SelectInput, TextInput } from '../../ui/fields.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import type { FollowUp } from '../../../shared/contract/followUps.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';

type People = OutputOf<'settings.all'>['people'];
type Common = OutputOf<'followUps.list'>['common'][number];

function CommonCause({ cause }: { cause: Common }) {
  const [on, setOn] = useState(String(cause.on[0].deviceId));
  const join = useCommand('followUps.join');
  const personId = workingPersonId();
  const devices = new Set(cause.followUps.map(({ tag }) => tag));
  return (
    <section aria-label={`One cause on ${cause.main}`} className="notice">
      <p>
        <b>
          {devices.size} {cause.joined === null ? '' : 'more '}
          {devices.size === 1 ? 'device' : 'devices'} on main {cause.main}{' '}
          {devices.size === 1 ? 'says' : 'say'} that the supply is not right
        </b>
        : {[...devices].join(', ')}.{' '}
        {cause.joined === null
          ? 'That is likely one cause: look at the main or its regulator once.'
          : `Follow-up ${cause.joined} is open for that main already: likely the same cause.`}
      </p>
      <div className="controls">
        <SelectInput
          label={`One follow-up for ${cause.main}, on`}
          value={on}
          onChange={setOn}
          options={cause.on.map(({ deviceId, tag, class: kind }) => ({
            value: String(deviceId),
            label: `${kind} ${tag}`,
          }))}
        />
        <Button
          isDisabled={personId === null}
          isPending={join.isPending}
          onPress={() =>
            join.mutate({
              ids: cause.followUps.map(({ id }) => id),
              deviceId: Number(on),
              personId: personId ?? 0,
              cause: `supply not right at ${devices.size} devices of main ${cause.main}`,
            })
          }
        >
          {cause.joined === null ? 'Make it one follow-up' : `Join it to follow-up ${cause.joined}`}
        </Button>
        {personId === null ? <span className="quiet">Choose above who is working.</span> : null}
      </div>
      {join.error ? <Failure error={join.error} /> : null}
    </section>
  );
}

function OneFollowUp({ followUp, people }: { followUp: FollowUp; people: People }) {
  const assign = useCommand('followUps.assign');
  const close = useCommand('followUps.close');
  const [note, setNote] = useState('');
  const personId = workingPersonId();
  const { id, version } = followUp;
  return (
    <li className={`follow-up ${followUp.closedAt ? 'is-closed' : ''}`}>
      <h2>
        {id}. <Link href={`/register/${followUp.deviceId}`}>{followUp.tag}</Link> {followUp.cause}
      </h2>
      <p className="quiet">
        Opened {followUp.openedAt.slice(0, 10)} by {followUp.openedBy}
        {followUp.main ? `, main ${followUp.main}` : ''}
        {followUp.partOf === null ? '' : `, part of follow-up ${followUp.partOf}`}
        {followUp.parts.length === 0 ? '' : `, stands for ${followUp.parts.join(', ')}`}
        {followUp.closedAt
          ? `; closed ${followUp.closedAt.slice(0, 10)} by ${followUp.closedBy}: ${followUp.closingNote}`
          : ''}
        {followUp.closingCalibrationId === null ? null : (
          <>
            {' '}
            <Link href={`/records/${followUp.closingCalibrationId}`}>
              record {followUp.closingCalibrationId}
            </Link>
          </>
        )}
      </p>
      {followUp.likely.length > 0 ? (
        <div>
          <p>{followUp.symptom}: look, in this order, for</p>
          <ol>
            {followUp.likely.map((cause) => (
              <li key={cause}>{cause}</li>
            ))}
          </ol>
        </div>
      ) : null}
      {followUp.closedAt ? null : (
        <div className="controls">
          <SelectInput
            label={`Who sees to ${id}`}
            value={followUp.assignedTo === null ? '' : String(followUp.assignedTo.id)}
            onChange={(value) =>
              assign.mutate({ id, version, personId: value === '' ? null : Number(value) })
            }
            options={[
              { value: '', label: 'nobody yet' },
              ...people
                .filter((one) => one.active || one.id === followUp.assignedTo?.id)
                .map((one) => ({ value: String(one.id), label: `${one.initials} · ${one.name}` })),
            ]}
          />
          <Link href={`/bench/${followUp.deviceId}`} className="button button-plain">
            Bench card of {followUp.tag}
          </Link>
          <TextInput label={`What ended ${id}`} value={note} onChange={setNote} className="wide" />
          <Button
            isDisabled={note.trim() === '' || personId === null}
            isPending={close.isPending}
            onPress={() => close.mutate({ id, version, personId: personId ?? 0, note })}
          >
            Close {id}
          </Button>
        </div>
      )}
      {assign.error ? <Failure error={assign.error} /> : null}
      {close.error ? <Failure error={close.error} /> : null}
    </li>
  );
}

export function FollowUpsScreen() {
  const [openOnly, setOpenOnly] = useState(true);
  const list = useCall('followUps.list', { openOnly }, { keepPrevious: true });
  const settings = useCall('settings.all', {});
  if (list.error) return <Failure error={list.error} />;
  if (!list.data || !settings.data) return <Waiting what="Reading the follow-ups…" />;
  const { rows, common } = list.data;
  const people = settings.data.people;
  return (
    <>
      <h1>Follow-ups</h1>
      <div className="controls">
        <CheckInput label="Only what is open" checked={openOnly} onChange={setOpenOnly} />
      </div>
      {common.map((cause) => (
        <CommonCause key={cause.mainId} cause={cause} />
      ))}
      {rows.length === 0 ? (
        <Empty title="Nothing to follow up">
          <p>A card that closes as “device failed”, “supply not right” or “unsafe” opens a follow-up here.</p>
        </Empty>
      ) : (
        <ul className="follow-ups">
          {rows.map((followUp) => (
            <OneFollowUp key={followUp.id} followUp={followUp} people={people} />
          ))}
        </ul>
      )}
    </>
  );
}
