import { Link, useLocation, useSearchParams } from 'wouter';
import { useCall } from '../../api/client.ts';
import { SelectInput } from '../../ui/fields.tsx';
import { sentence } from '../../ui/format.ts';
import { rowClasses } from '../../../shared/register/columns.ts';
import { RowForm } from './RowForm.tsx';

/** Adds one place, device or setpoint by hand. */
export function NewRowScreen() {
  const [search, setSearch] = useSearchParams();
  const [, navigate] = useLocation();
  const settings = useCall('settings.all', {});
  const rowClass = rowClasses.find((one) => one === search.get('class')) ?? 'controller';
  const given = Object.fromEntries([...search.entries()].filter(([name]) => name !== 'class'));
  const site = settings.data?.site;
  const initial = {
    pressure_unit: site?.pressureUnit ?? 'psi',
    temperature_unit: site?.temperatureUnit ?? 'degF',
    ...given,
  };
  const back = given.tag && rowClass === 'setpoint' ? null : '/register';
  return (
    <>
      <p className="crumb">
        <Link href="/register">Register</Link>
      </p>
      <h1>Add to the register</h1>
      <div className="controls">
        <SelectInput
          label="What"
          value={rowClass}
          onChange={(value) => setSearch({ class: value })}
          options={rowClasses.map((one) => ({ value: one, label: sentence(one.replaceAll('_', ' ')) }))}
        />
      </div>
      {settings.data ? (
        <RowForm
          key={rowClass}
          rowClass={rowClass}
          initial={initial}
          version={null}
          onDone={(id) => navigate(id === null ? '/register' : `/register/${id}`)}
          onCancel={() => (back ? navigate(back) : history.back())}
        />
      ) : null}
    </>
  );
}
