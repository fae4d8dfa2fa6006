/** Another device in the place of this one: the old one keeps its records, the new one begins its own. */
import { useState } from 'react';
import { useLocation } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { Button } from '../../ui/Button.tsx';
import { Dialog } from '../../ui/Dialog.tsx';
import { CheckInput, SelectInput, TextInput } from '../../ui/fields.tsx';
import { problemOf } from '../../ui/FormActions.tsx';
import { Failure } from '../../ui/states.tsx';
import type { DevicePage } from '../../../shared/contract/register.ts';

export function ReplaceDialog({ page, onClose }: { page: DevicePage; onClose: () => void }) {
  const book = useCall('settings.book', {});
  const [, navigate] = useLocation();
  const [text, setText] = useState({ on: '', tag: 'same', newTag: '', reason: '', close: true });
  const replace = useCommand('register.replace');
  const personId = workingPersonId();
  const on = text.on || book.data?.today || '';
  const open = page.followUps.filter((followUp) => followUp.closedAt === null).length;
  const { tag } = page.values;
  return (
    <Dialog title={`Replace ${tag}`} isOpen onClose={onClose}>
      <p>
        {tag} is retired with its records, and its series are closed. The new device stands in its place, with
        the same settings, and is due from the day it was put in. Take its first readings on its bench card.
      </p>
      {personId === null ? (
        <p role="alert">Choose at the top who you are working as; the replacement is kept under that name.</p>
      ) : null}
      <div className="form-grid">
        <TextInput
          label="Replaced on"
          type="date"
          value={on}
          onChange={(value) => setText({ ...text, on: value })}
          problem={problemOf(replace.error, 'on')}
        />
        <SelectInput
          label="Tag of the new device"
          value={text.tag}
          onChange={(value) => setText({ ...text, tag: value })}
          options={[
            { value: 'same', label: `${tag}; the old one is given another` },
            { value: 'new', label: 'another tag' },
          ]}
        />
        {text.tag === 'new' ? (
          <TextInput
            label="New tag"
            value={text.newTag}
            onChange={(newTag) => setText({ ...text, newTag })}
            problem={problemOf(replace.error, 'newTag')}
          />
        ) : null}
        <TextInput
          label="Why it was replaced"
          value={text.reason}
          onChange={(reason) => setText({ ...text, reason })}
          problem={problemOf(replace.error, 'reason')}
        />
      </div>
      {open > 0 ? (
        <CheckInput
          label={`Close its ${open} open ${open === 1 ? 'follow-up' : 'follow-ups'} with this`}
          checked={text.close}
          onChange={(close) => setText({ ...text, close })}
        />
      ) : null}
      {replace.error ? <Failure error={replace.error} /> : null}
      <div className="actions">
        <Button
          tone="main"
          isDisabled={personId === null || text.reason.trim() === ''}
          isPending={replace.isPending}
          onPress={() =>
            replace.mutate(
              {
                id: page.id,
                version: page.version,
                on,
                newTag: text.tag === 'new' ? text.newTag : null,
                reason: text.reason,
                personId: personId ?? 0,
                closeFollowUps: text.close,
              },
              {
                onSuccess: ({ newId }) => {
                  onClose();
                  navigate(`/register/${newId}`);
                },
              },
            )
          }
        >
          Replace it
        </Button>
        <Button onPress={onClose}>Leave it in place</Button>
      </div>
    </Dialog>
  );
}
