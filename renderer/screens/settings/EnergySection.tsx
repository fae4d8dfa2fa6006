import { useState } from 'react';
import { useCall, useCommand } from '../../api/client.ts';
import { readBase64 } from '../../platform/files.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { problemOf } from '../../ui/FormActions.tsx';
import { Failure, ProblemList, Waiting } from '../../ui/states.tsx';
import { OWN_WEATHER } from '../../../shared/energy/kinds.ts';
import type { EnergyLoad, EnergySettings } from '../../../shared/contract/energy.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';

type Held = OutputOf<'energy.settings'>;
type Figure = Exclude<keyof EnergySettings, 'currency' | 'weather'>;

const figures: readonly { key: Figure; label: string; unit: string; help: string; mayBeEmpty: boolean }[] = [
  {
    key: 'heatPricePerTherm',
    label: 'Heat',
    unit: 'a therm',
    help: 'empty: no money is shown for setpoints',
    mayBeEmpty: true,
  },
  {
    key: 'electricityPricePerKwh',
    label: 'Electricity',
    unit: 'a kWh',
    help: 'empty: no money is shown for air',
    mayBeEmpty: true,
  },
  {
    key: 'balanceBelowDegF',
    label: 'Balance point below the setpoint',
    unit: '°F',
    help: 'where a building’s loss and gains are not known',
    mayBeEmpty: false,
  },
  {
    key: 'overlapHours',
    label: 'Hours in an overlap',
    unit: 'a year',
    help: 'how long a branch rests where heating and cooling are both open',
    mayBeEmpty: false,
  },
  {
    key: 'kwPerTon',
    label: 'Cooling',
    unit: 'kW a ton',
    help: 'current of the plant for its cold',
    mayBeEmpty: false,
  },
  {
    key: 'repairMinutes',
    label: 'Work of a repair',
    unit: 'min',
    help: 'a leak, a bleed, an overlap, or a main without minutes of its own; a guess',
    mayBeEmpty: false,
  },
];

/** A price has more decimals than a thousandth of a dollar: read as it is written, with a point or a comma. */
function numberOf(text: string): number | null {
  const plain = text.trim().replace(',', '.');
  return /^\d+(?:\.\d+)?$/u.test(plain) ? Number(plain) : null;
}

function Load({
  call,
  label,
  help,
}: {
  call: 'energy.loadWeather' | 'energy.loadBills';
  label: string;
  help: string;
}) {
  const load = useCommand(call);
  const [file, setFile] = useState<File | null>(null);
  const [answer, setAnswer] = useState<EnergyLoad | null>(null);
  async function run(dryRun: boolean): Promise<void> {
    if (!file) return;
    setAnswer(null);
    setAnswer(await load.mutateAsync({ file: await readBase64(file), dryRun }).catch(() => null));
  }
  return (
    <div className="energy-load">
      <div className="field">
        <label htmlFor={call}>{label}</label>
        <input
          id={call}
          type="file"
          accept=".csv,text/csv"
          aria-describedby={`${call}-help`}
          onChange={(event) => {
            setFile(event.target.files?.[0] ?? null);
            setAnswer(null);
          }}
        />
        <span className="field-help" id={`${call}-help`}>
          {help}
        </span>
      </div>
      <div className="actions">
        <Button isDisabled={!file} isPending={load.isPending} onPress={() => void run(true)}>
          Try {label.toLowerCase()} dry
        </Button>
        <Button isDisabled={!file} isPending={load.isPending} onPress={() => void run(false)}>
          Load {label.toLowerCase()}
        </Button>
      </div>
      {load.error ? <Failure error={load.error} /> : null}
      {answer ? <p role="status">{answer.message}</p> : null}
      {answer && answer.problems.length > 0 ? <ProblemList problems={answer.problems} /> : null}
    </div>
  );
}

const textOf = ({ values }: Held): Record<string, string> =>
  Object.fromEntries(figures.map(({ key }) => [key, values[key] === null ? '' : String(values[key])]));

function Form({ held }: { held: Held }) {
  const [version, setVersion] = useState(held.version);
  const [text, setText] = useState(() => textOf(held));
  const [currency, setCurrency] = useState(held.values.currency);
  const [weather, setWeather] = useState(held.values.weather);
  // What was saved, or came with a file, is shown as the book has it; the form stays, and the focus in it.
  if (version !== held.version) {
    setVersion(held.version);
    setText(textOf(held));
    setCurrency(held.values.currency);
    setWeather(held.values.weather);
  }
  const [wrong, setWrong] = useState<Record<string, string>>({});
  const save = useCommand('energy.saveSettings');
  function submit(): void {
    const problems: Record<string, string> = {};
    const read: Record<string, number | null> = {};
    for (const { key, mayBeEmpty } of figures) {
      read[key] = numberOf(text[key]);
      if (read[key] === null && (text[key].trim() !== '' || !mayBeEmpty))
        problems[key] = 'not a number above zero';
    }
    setWrong(problems);
    if (Object.keys(problems).length > 0) return;
    save.mutate({
      ...(read as Pick<EnergySettings, Figure>),
      currency,
      weather,
      version: held.version,
    });
  }
  return (
    <>
      <div className="form-grid">
        <TextInput label="Currency" value={currency} onChange={setCurrency} help="written before an amount" />
        {figures.map(({ key, label, unit, help }) => (
          <TextInput
            key={key}
            label={label}
            numeric
            unit={unit}
            value={text[key]}
            onChange={(value) => setText({ ...text, [key]: value })}
            help={help}
            problem={wrong[key] ?? problemOf(save.error, key)}
          />
        ))}
        <SelectInput
          label="Weather"
          value={weather}
          onChange={setWeather}
          options={[
            { value: '', label: 'none' },
            ...(held.own ? [{ value: OWN_WEATHER, label: `the site’s own: ${held.own.name}` }] : []),
            ...held.stations.map(({ id, name }) => ({ value: id, label: name })),
          ]}
          help="normals of a public station near by, or the site’s own file below"
          problem={problemOf(save.error, 'weather')}
        />
      </div>
      <Button isPending={save.isPending} onPress={submit}>
        Save prices and weather
      </Button>
      {save.error ? <Failure error={save.error} /> : null}
    </>
  );
}

/** What energy costs, and the weather: without them setpoints rank by degree-hours alone. */
export function EnergySection() {
  const held = useCall('energy.settings', {});
  if (held.error) return <Failure error={held.error} />;
  if (!held.data) return <Waiting what="Reading prices and weather…" />;
  return (
    <section aria-label="Energy" className="panel">
      <h2>Energy</h2>
      <Form held={held.data} />
      <div className="columns">
        <Load
          call="energy.loadWeather"
          label="Weather file"
          help="CSV: date or month with mean_temp_degF or mean_temp_degC, or a station’s file of normals"
        />
        <Load
          call="energy.loadBills"
          label="Bills"
          help="CSV: meter, month (YYYY-MM), use, unit (therm or kWh), cost"
        />
      </div>
      {held.data.bills.length > 0 ? (
        <p className="quiet">
          In the book:{' '}
          {held.data.bills
            .map(
              ({ meter, unit, months, from, to }) => `${meter}, ${months} months ${from} to ${to}, ${unit}`,
            )
            .join('; ')}
          .
        </p>
      ) : null}
    </section>
  );
}
