/** What is open on a device and cannot be mended by a recalibration, and how it was mended. */
import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { Button } from '../../ui/Button.tsx';
import { Dialog } from '../../ui/Dialog.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { Failure } from '../../ui/states.tsx';
import type { DevicePage } from '../../../shared/contract/register.ts';

type FollowUp = DevicePage['followUps'][number];

function CloseDialog({ followUp, onClose }: { followUp: FollowUp; onClose: () => void }) {
  const [note, setNote] = useState('');
  const close = useCommand('followUps.close');
  const personId = workingPersonId();
  const save = (): void => {
    if (personId !== null)
      close.mutate(
        { id: followUp.id, version: followUp.version, personId, note: note.trim() },
        { onSuccess: onClose },
      );
  };
  return (
    <Dialog title="Close the follow-up" isOpen onClose={onClose}>
      <p>{followUp.cause}</p>
      {personId === null ? (
        <p role="alert">Choose at the top who you are working as; the closing is kept under that name.</p>
      ) : null}
      <TextInput label="How it was mended" value={note} onChange={setNote} />
      {close.error ? <Failure error={close.error} /> : null}
      <div className="actions">
        <Button
          tone="main"
          isDisabled={personId === null || note.trim() === ''}
          isPending={close.isPending}
          onPress={save}
        >
          Close it
        </Button>
        <Button onPress={onClose}>Leave it open</Button>
      </div>
    </Dialog>
  );
}

export function FollowUps({ followUps }: { followUps: readonly FollowUp[] }) {
  const [closing, setClosing] = useState<FollowUp | null>(null);
  const open = followUps.filter((followUp) => followUp.closedAt === null);
  if (open.length === 0) return null;
  return (
    <div className="notice" role="note">
      <b>Open follow-ups:</b>
      <ul>
        {open.map((followUp) => (
          <li key={followUp.id}>
            {followUp.cause} (since {followUp.openedAt.slice(0, 10)}){' '}
            <Button tone="quiet" onPress={() => setClosing(followUp)}>
              Close follow-up {followUp.id}
            </Button>
          </li>
        ))}
      </ul>
      {closing ? <CloseDialog followUp={closing} onClose={() => setClosing(null)} /> : null}
    </div>
  );
}
