import type { ReactNode } from 'react';
import type { ApiError } from '../api/transport.ts';
import { workingPersonId } from '../api/workingPerson.ts';
import { problemOf } from '../ui/FormActions.tsx';
import { TextInput } from '../ui/fields.tsx';

type Draft = { note: string; reason: string };

/** The end of a record's form: a note, why it corrects another one, and who has to be chosen first. */
export function NoteFields({
  draft,
  isCorrection,
  error,
  onChange,
  children = null,
}: {
  draft: Draft;
  isCorrection: boolean;
  error: ApiError | null;
  onChange: (part: Partial<Draft>) => void;
  children?: ReactNode;
}) {
  return (
    <>
      <div className="controls">
        <TextInput label="Note" value={draft.note} onChange={(note) => onChange({ note })} className="wide" />
        {children}
        {isCorrection ? (
          <TextInput
            label="Why it is corrected"
            value={draft.reason}
            onChange={(reason) => onChange({ reason })}
            problem={problemOf(error, 'corrects.reason')}
            className="wide"
          />
        ) : null}
      </div>
      {workingPersonId() === null ? <p className="notice">Choose above who is working.</p> : null}
    </>
  );
}
