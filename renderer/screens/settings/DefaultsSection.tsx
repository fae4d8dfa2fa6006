import { useState } from 'react';
import { useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { Failure } from '../../ui/states.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';
import type { ClassDefault } from '../../../shared/contract/settings.ts';
import { differenceLabel, formatMilli, parseMilli } from '../../../shared/units/units.ts';

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
  const problem = (column: string): string | null =>
    save.error?.details.problems?.find((one) => one.column === column)?.reason ?? null;
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
      {save.error ? <Failure error={save.error} /> : null}
      <div className="actions">
        <Button
          tone="main"
          isDisabled={save.isPending}
          onPress={() =>
            save.mutate(
              {
                id: start.id,
                version: start.version,
                toleranceMilli: parseMilli(text.tolerance) ?? Number.NaN,
                toleranceLeftMilli: parseMilli(text.left) ?? Number.NaN,
                actionLimitMilli: parseMilli(text.limit) ?? Number.NaN,
                intervalDays: Number(text.interval || 'NaN'),
                minutes: Number(text.minutes || 'NaN'),
                weight: Number(text.weight || 'NaN'),
                why: text.why,
              },
              { onSuccess: onClose },
            )
          }
        >
          Save the default
        </Button>
        <Button onPress={onClose}>Leave unchanged</Button>
      </div>
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
      <div className="table-frame" role="region" aria-label="Defaults by kind" tabIndex={0}>
        <table className="plain-table">
          <thead>
            <tr>
              <th scope="col">Test point</th>
              <th scope="col" className="end">
                Found
              </th>
              <th scope="col" className="end">
                Left
              </th>
              <th scope="col" className="end">
                Action limit
              </th>
              <th scope="col" className="end">
                Interval
              </th>
              <th scope="col" className="end">
                Minutes
              </th>
              <th scope="col" className="end">
                Weight
              </th>
              <th scope="col">Change</th>
            </tr>
          </thead>
          <tbody>
            {all.classDefaults.map((one) => (
              <tr key={one.id}>
                <th scope="row">
                  {one.kind} {differenceLabel(one.unit)}
                </th>
                <td className="end">±{formatMilli(one.toleranceMilli)}</td>
                <td className="end">±{formatMilli(one.toleranceLeftMilli)}</td>
                <td className="end">±{formatMilli(one.actionLimitMilli)}</td>
                <td className="end">{one.intervalDays} d</td>
                <td className="end">{one.minutes}</td>
                <td className="end">{one.weight}</td>
                <td>
                  <Button tone="quiet" onPress={() => setOpen(one)}>
                    Edit {one.kind} {differenceLabel(one.unit)}
                  </Button>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {open ? <DefaultForm key={open.id} start={open} onClose={() => setOpen(null)} /> : null}
    </section>
  );
}
