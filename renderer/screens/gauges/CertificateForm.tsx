import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { TextInput } from '../../ui/fields.tsx';
import { FormActions, problemOf } from '../../ui/FormActions.tsx';
import { typed } from '../../ui/typed.ts';
import type { Gauge } from '../../../shared/contract/gauges.ts';
import { differenceLabel } from '../../../shared/units/units.ts';

/** One more certificate: it stands in the chain and is never changed. */
export function CertificateForm({ gauge, onClose }: { gauge: Gauge; onClose: () => void }) {
  const [text, setText] = useState({ number: '', issued: '', due: '', doubt: '', note: '' });
  const save = useCommand('gauges.addCertificate');
  const problem = (column: string): string | null => problemOf(save.error, column);
  return (
    <form className="row-form panel" onSubmit={(event) => event.preventDefault()}>
      <h2>Certificate of {gauge.tag}</h2>
      <p className="quiet">
        A certificate is kept in the chain: once saved it cannot be changed, only followed by another.
      </p>
      <div className="controls">
        <TextInput
          label="Number"
          value={text.number}
          onChange={(number) => setText({ ...text, number })}
          problem={problem('number')}
        />
        <TextInput
          label="Issued on"
          type="date"
          value={text.issued}
          onChange={(issued) => setText({ ...text, issued })}
          problem={problem('issuedOn')}
        />
        <TextInput
          label="Valid until"
          type="date"
          value={text.due}
          onChange={(due) => setText({ ...text, due })}
          problem={problem('dueOn')}
        />
        <TextInput
          label="Doubt it states, U"
          numeric
          unit={differenceLabel(gauge.unit)}
          value={text.doubt}
          onChange={(doubt) => setText({ ...text, doubt })}
          help="expanded, k = 2; empty = none"
          problem={problem('doubtMilli')}
        />
        <TextInput
          label="Note"
          value={text.note}
          onChange={(note) => setText({ ...text, note })}
          className="wide"
        />
      </div>
      <FormActions
        what="certificate"
        error={save.error}
        isPending={save.isPending}
        onSave={() =>
          save.mutate(
            {
              gaugeId: gauge.id,
              number: text.number,
              issuedOn: text.issued,
              dueOn: text.due,
              doubtMilli: text.doubt.trim() === '' ? null : (typed(text.doubt) ?? Number.NaN),
              note: text.note,
            },
            { onSuccess: onClose },
          )
        }
        onLeave={onClose}
      />
    </form>
  );
}
