import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { typed } from '../../ui/typed.ts';
import { TextInput } from '../../ui/fields.tsx';
import { FormActions, problemOf } from '../../ui/FormActions.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';
import type { ClassDefault } from '../../../shared/contract/settings.ts';
import { differenceLabel, formatMilli } from '../../../shared/units/units.ts';

type All = OutputOf<'settings.all'>;

function DefaultForm({ start, onClose }: { start: ClassDefault; onClose: () => void }) {
  const [text, setText] = useState({
    tolerance: formatMilli(start.toleranceMilli),
    left: formatMilli(start.toleranceLeftMilli),
    limit: formatMilli(start.actionLimitMilli),
    interval: String(start.intervalDays),
    minutes: String(start.minutes),
    weight: String(start.weight),
    why: '',
  });
  const save = useCommand('settings.saveClassDefault');
  const problem = (column: string): string | null => problemOf(save.error, column);
  const unit = differenceLabel(start.unit);
  return (
    <form className="row-form" onSubmit={(event) => event.preventDefault()}>
      <h3>
        {start.kind} {unit}
      </h3>
      <div className="controls">
        <TextInput
          label="Tolerance, found"
          value={text.tolerance}
          unit={unit}
          numeric
          onChange={(tolerance) => setText({ ...text, tolerance })}
          problem={problem('toleranceMilli')}
        />
        <TextInput
          label="Tolerance, left"
          value={text.left}
          unit={unit}
          numeric
          onChange={(left) => setText({ ...text, left })}
          problem={problem('toleranceLeftMilli')}
        />
        <TextInput
          label="Action limit"
          value={text.limit}
          unit={unit}
          numeric
          onChange={(limit) => setText({ ...text, limit })}
          problem={problem('actionLimitMilli')}
        />
        <TextInput
          label="Interval, days"
          value={text.interval}
          numeric
          onChange={(interval) => setText({ ...text, interval })}
          problem={problem('intervalDays')}
        />
        <TextInput
          label="Minutes"
          value={text.minutes}
          numeric
          onChange={(minutes) => setText({ ...text, minutes })}
          problem={problem('minutes')}
        />
        <TextInput
          label="Weight, 1 to 10"
          value={text.weight}
          numeric
          onChange={(weight) => setText({ ...text, weight })}
          problem={problem('weight')}
        />
        <TextInput label="Why it changes" value={text.why} onChange={(why) => setText({ ...text, why })} />
      </div>
      <FormActions
        what="default"
        error={save.error}
        isPending={save.isPending}
        onSave={() =>
          save.mutate(
            {
              id: start.id,
              version: start.version,
              toleranceMilli: typed(text.tolerance) ?? Number.NaN,
              toleranceLeftMilli: typed(text.left) ?? Number.NaN,
              actionLimitMilli: typed(text.limit) ?? Number.NaN,
              intervalDays: Number(text.interval || 'NaN'),
              minutes: Number(text.minutes || 'NaN'),
              weight: Number(text.weight || 'NaN'),
              why: text.why,
            },
            { onSuccess: onClose },
          )
        }
        onLeave={onClose}
      />
    </form>
  );
}

/** Tolerances, intervals and minutes by kind of test point: starting values, for the owner to set. */
export function DefaultsSection({ all }: { all: All }) {
  const [open, setOpen] = useState<ClassDefault | null>(null);
  return (
    <section aria-label="Defaults" className="panel">
      <h2>Tolerances, intervals and minutes</h2>
      <p className="quiet">
        Starting values from common practice, for the owner to set. A device or setpoint with its own value
        keeps it.
      </p>
      <PlainTable
        label="Defaults by kind"
        titles={[
          'Test point',
          '>Found',
          '>Left',
          '>Action limit',
          '>Interval',
          '>Minutes',
          '>Weight',
          'Change',
        ]}
        rows={all.classDefaults.map((one) => {
          const name = `${one.kind} ${differenceLabel(one.unit)}`;
          return {
            key: one.id,
            cells: [
              name,
              `±${formatMilli(one.toleranceMilli)}`,
              `±${formatMilli(one.toleranceLeftMilli)}`,
              `±${formatMilli(one.actionLimitMilli)}`,
              `${one.intervalDays} d`,
              one.minutes,
              one.weight,
              <Button key="edit" tone="quiet" onPress={() => setOpen(one)}>
                Edit {name}
              </Button>,
            ],
          };
        })}
      />
      {open ? <DefaultForm key={open.id} start={open} onClose={() => setOpen(null)} /> : null}
    </section>
  );
}
