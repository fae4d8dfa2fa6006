/** Labelled fields. Every field shows its own problem beneath it and ties it to the input for readers. */
import { useId } from 'react';
import type { ReactNode } from 'react';

type Common = { label: string; help?: string; problem?: string | null; className?: string };

function FieldFrame({
  label,
  help,
  problem,
  className,
  children,
}: Common & { children: (ids: { id: string; describedBy: string | undefined }) => ReactNode }) {
  const id = useId();
  const notes = [help ? `${id}-help` : '', problem ? `${id}-problem` : '']
    .filter((note) => note !== '')
    .join(' ');
  return (
    <div className={`field ${problem ? 'field-wrong' : ''} ${className ?? ''}`}>
      <label htmlFor={id}>{label}</label>
      {children({ id, describedBy: notes === '' ? undefined : notes })}
      {help ? (
        <span className="field-help" id={`${id}-help`}>
          {help}
        </span>
      ) : null}
      {problem ? (
        <span className="field-problem" id={`${id}-problem`}>
          {problem}
        </span>
      ) : null}
    </div>
  );
}

type TextProps = Common & {
  value: string;
  onChange: (value: string) => void;
  type?: 'text' | 'date' | 'search' | 'time';
  unit?: string;
  numeric?: boolean;
  disabled?: boolean;
  required?: boolean;
  placeholder?: string;
  name?: string;
};

export function TextInput({
  value,
  onChange,
  type = 'text',
  unit,
  numeric,
  disabled,
  required,
  placeholder,
  name,
  ...frame
}: TextProps) {
  return (
    <FieldFrame {...frame}>
      {({ id, describedBy }) => (
        <span className="input-line">
          <input
            id={id}
            name={name}
            type={type}
            value={value}
            disabled={disabled}
            required={required}
            placeholder={placeholder}
            aria-describedby={describedBy}
            aria-invalid={frame.problem ? true : undefined}
            inputMode={numeric ? 'decimal' : undefined}
            className={numeric ? 'numeric' : undefined}
            autoComplete="off"
            onChange={(event) => onChange(event.target.value)}
          />
          {unit ? <span className="unit">{unit}</span> : null}
        </span>
      )}
    </FieldFrame>
  );
}

type SelectProps = Common & {
  value: string;
  onChange: (value: string) => void;
  options: readonly { value: string; label: string }[];
  disabled?: boolean;
  name?: string;
};

export function SelectInput({ value, onChange, options, disabled, name, ...frame }: SelectProps) {
  return (
    <FieldFrame {...frame}>
      {({ id, describedBy }) => (
        <select
          id={id}
          name={name}
          value={value}
          disabled={disabled}
          aria-describedby={describedBy}
          aria-invalid={frame.problem ? true : undefined}
          onChange={(event) => onChange(event.target.value)}
        >
          {options.map((option) => (
            <option key={option.value} value={option.value}>
              {option.label}
            </option>
          ))}
        </select>
      )}
    </FieldFrame>
  );
}

type CheckProps = {
  label: ReactNode;
  checked: boolean;
  onChange: (checked: boolean) => void;
  disabled?: boolean;
  problem?: string | null;
  name?: string;
};

export function CheckInput({ label, checked, onChange, disabled, problem, name }: CheckProps) {
  const id = useId();
  return (
    <div className={`check ${problem ? 'field-wrong' : ''}`}>
      <input
        id={id}
        name={name}
        type="checkbox"
        checked={checked}
        disabled={disabled}
        aria-describedby={problem ? `${id}-problem` : undefined}
        onChange={(event) => onChange(event.target.checked)}
      />
      <label htmlFor={id}>{label}</label>
      {problem ? (
        <span className="field-problem" id={`${id}-problem`}>
          {problem}
        </span>
      ) : null}
    </div>
  );
}
