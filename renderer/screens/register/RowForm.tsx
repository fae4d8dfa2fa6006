/** A form for any register row, made from the column list: the same columns, checks and words as a file. */
import { useEffect, useRef, useState } from 'react';
import type { FormEvent } from 'react';
import { useCommand } from '../../api/client.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { Failure } from '../../ui/states.tsx';
import { columnsOf } from '../../../shared/register/columns.ts';
import type { Column, RowClass } from '../../../shared/register/columns.ts';
import { differenceLabel, unitLabel } from '../../../shared/units/units.ts';
import type { Unit } from '../../../shared/units/units.ts';

type Props = {
  rowClass: RowClass;
  initial: Record<string, string>;
  version: number | null;
  /** Columns that name the row and cannot be changed once it is in the book. */
  fixed?: readonly string[];
  onDone: (id: number | null) => void;
  onCancel: () => void;
};

function unitOf(column: Column, cells: Record<string, string>): string | undefined {
  if (column.kind === 'pressure') return unitLabel((cells.pressure_unit || 'psi') as Unit);
  if (column.kind === 'temperature') return unitLabel((cells.temperature_unit || 'degF') as Unit);
  if (column.kind === 'temperature difference')
    return differenceLabel((cells.temperature_unit || 'degF') as Unit);
  return undefined;
}

const numericKinds = new Set(['pressure', 'temperature', 'temperature difference', 'decimal', 'integer']);

export function RowForm({ rowClass, initial, version, fixed = [], onDone, onCancel }: Props) {
  const [cells, setCells] = useState<Record<string, string>>(initial);
  const [why, setWhy] = useState('');
  const save = useCommand('register.save');
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => {
    form.current?.querySelector<HTMLElement>('input:enabled, select:enabled')?.focus();
  }, []);
  const problems = save.error?.details.problems ?? [];
  const columns = columnsOf(rowClass).filter((column) => column.name !== 'class');
  const known = new Set(columns.map((column) => column.name));
  const loose = problems.filter((problem) => !known.has(problem.column));

  async function submit(event: FormEvent): Promise<void> {
    event.preventDefault();
    const given = Object.fromEntries(columns.map((column) => [column.name, cells[column.name] ?? '']));
    try {
      const { id } = await save.mutateAsync({ rowClass, cells: given, version, why });
      onDone(id);
    } catch {
      form.current?.querySelector<HTMLElement>('[aria-invalid="true"]')?.focus();
    }
  }

  return (
    <form ref={form} className="row-form" onSubmit={(event) => void submit(event)} noValidate>
      <div className="form-grid">
        {columns.map((column) => {
          const problem = problems.find((one) => one.column === column.name)?.reason ?? null;
          const must = column.on[rowClass] === 'must';
          const label = `${column.label}${must ? ' *' : ''}`;
          const value = cells[column.name] ?? '';
          const onChange = (next: string): void =>
            setCells((current) => ({ ...current, [column.name]: next }));
          const isFixed = fixed.includes(column.name);
          if (column.kind === 'choice')
            return (
              <SelectInput
                key={column.name}
                name={column.name}
                label={label}
                help={column.help}
                problem={problem}
                value={value}
                onChange={onChange}
                disabled={isFixed}
                options={[
                  { value: '', label: '–' },
                  ...(column.choices ?? []).map((choice) => ({ value: choice, label: choice })),
                ]}
              />
            );
          return (
            <TextInput
              key={column.name}
              name={column.name}
              label={label}
              help={column.help}
              problem={problem}
              value={value}
              onChange={onChange}
              disabled={isFixed}
              type={column.kind === 'date' ? 'date' : 'text'}
              numeric={numericKinds.has(column.kind)}
              unit={unitOf(column, cells)}
            />
          );
        })}
        {version === null ? null : (
          <TextInput label="Why it changes" value={why} onChange={setWhy} help="kept with the change" />
        )}
      </div>
      {save.error && (problems.length === 0 || loose.length > 0) ? <Failure error={save.error} /> : null}
      {save.error?.code === 'stale_version' ? (
        <NewerState current={save.error.details.current} own={cells} />
      ) : null}
      <div className="actions">
        <Button type="submit" tone="main" isPending={save.isPending}>
          {save.isPending ? 'Saving…' : 'Save'}
        </Button>
        <Button onPress={onCancel}>Leave unchanged</Button>
      </div>
    </form>
  );
}

/** Both states side by side when somebody else was faster. */
function NewerState({ current, own }: { current: unknown; own: Record<string, string> }) {
  const newer = (typeof current === 'object' && current !== null ? current : {}) as Record<string, string>;
  const names = [...new Set([...Object.keys(newer), ...Object.keys(own)])].filter(
    (name) => (newer[name] ?? '') !== (own[name] ?? ''),
  );
  return (
    <PlainTable
      label="What differs"
      caption="What differs"
      titles={['Column', 'In the book now', 'In this form']}
      rows={names.map((name) => ({ key: name, cells: [name, newer[name] ?? '', own[name] ?? ''] }))}
    />
  );
}
