import { useState } from 'react';
import { Link, useParams } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { CalibrationTable } from '../../ui/CalibrationTable.tsx';
import { Dialog } from '../../ui/Dialog.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { sentence, toleranceText, valueText } from '../../ui/format.ts';
import { Failure, Waiting } from '../../ui/states.tsx';
import type { DevicePage } from '../../../shared/contract/register.ts';
import { columnsOf, rolesOfController } from '../../../shared/register/columns.ts';
import type { RowClass } from '../../../shared/register/columns.ts';
import { deviceClassLabels } from '../../../shared/trade/words.ts';
import { differenceLabel, unitLabel } from '../../../shared/units/units.ts';
import { scaleUnitOf } from '../../../shared/register/testPoints.ts';
import type { ScaleUnit, TemperatureUnit, Unit } from '../../../shared/units/units.ts';
import { BranchSequence } from './BranchSequence.tsx';
import { DeviceFindings } from './DeviceFindings.tsx';
import { FollowUps } from './FollowUps.tsx';
import { ReplaceDialog } from './ReplaceDialog.tsx';
import { RowForm } from './RowForm.tsx';
import { SteadyUse } from './SteadyUse.tsx';

/** Unit of dial and throttling range: percent on a humidity controller. */
const dialColumns: readonly string[] = ['dial', 'throttling_range', 'tolerance'];

/** Values of a row as label and text, units beside quantities. */
function valueList(
  rowClass: RowClass,
  values: Record<string, string>,
  scale: ScaleUnit = (values.temperature_unit ?? 'degF') as TemperatureUnit,
): { label: string; text: string }[] {
  const skip = new Set(['class', 'tag', 'role', 'fed_by', 'pressure_unit', 'temperature_unit']);
  return columnsOf(rowClass)
    .filter((column) => !skip.has(column.name) && values[column.name])
    .map((column) => {
      const temperature = dialColumns.includes(column.name)
        ? scale
        : ((values.temperature_unit ?? 'degF') as TemperatureUnit);
      const unit =
        column.kind === 'pressure'
          ? unitLabel((values.pressure_unit ?? 'psi') as Unit)
          : column.kind === 'temperature'
            ? unitLabel(temperature)
            : column.kind === 'temperature difference'
              ? differenceLabel(temperature)
              : '';
      return {
        label: column.label,
        text: `${values[column.name].replaceAll('|', ', ')}${unit ? ` ${unit}` : ''}`,
      };
    });
}

function ValueList({
  rowClass,
  values,
  scale,
}: {
  rowClass: RowClass;
  values: Record<string, string>;
  scale?: ScaleUnit;
}) {
  return (
    <dl className="values">
      {valueList(rowClass, values, scale).map((item) => (
        <div key={item.label}>
          <dt>{item.label}</dt>
          <dd>{item.text}</dd>
        </div>
      ))}
    </dl>
  );
}

function Links({ title, links }: { title: string; links: DevicePage['feeds'] }) {
  return (
    <section aria-label={title}>
      <h2>{title}</h2>
      {links.length === 0 ? <p className="quiet">nothing noted</p> : null}
      <ul className="link-list">
        {links.map((link) => (
          <li key={`${link.id}${link.port}`}>
            <Link href={`/register/${link.id}`}>{link.tag}</Link> {deviceClassLabels[link.class]}
            {link.port === 'pilot' ? ', on the pilot port' : ''}
          </li>
        ))}
      </ul>
    </section>
  );
}

function RetireDialog({ page, onClose }: { page: DevicePage; onClose: () => void }) {
  const book = useCall('settings.book', {});
  const [on, setOn] = useState('');
  const [why, setWhy] = useState('');
  const retire = useCommand('register.retire');
  const date = on || book.data?.today || '';
  return (
    <Dialog title={`Retire ${page.values.tag}`} isOpen onClose={onClose}>
      <p>It stays in the book with its history; it is due no more and planned no more.</p>
      <TextInput label="Out of service on" type="date" value={date} onChange={setOn} />
      <TextInput label="Why" value={why} onChange={setWhy} />
      {retire.error ? <Failure error={retire.error} /> : null}
      <div className="actions">
        <Button
          tone="main"
          isPending={retire.isPending}
          onPress={() =>
            retire.mutate({ id: page.id, version: page.version, on: date, why }, { onSuccess: onClose })
          }
        >
          Retire
        </Button>
        <Button onPress={onClose}>Keep in service</Button>
      </div>
    </Dialog>
  );
}

function TestPoints({ page }: { page: DevicePage }) {
  return (
    <section aria-label="Test points">
      <h2>Test points</h2>
      {page.testPoints.length === 0 ? <p className="quiet">This device has none.</p> : null}
      {page.testPoints.length > 0 ? (
        <PlainTable
          label="Table of test points"
          titles={[
            'Test point',
            'Air state',
            '>Nominal',
            '>Tolerance',
            '>Interval',
            'Last done',
            'Due',
            'History',
          ]}
          rows={page.testPoints.map((point) => ({
            key: point.id,
            cells: [
              point.role ? `${point.role} setpoint` : point.kind,
              <AirState key="air" state={point.airState} />,
              valueText(point.nominalMilli, point.unit),
              toleranceText(point.toleranceMilli, point.unit),
              `${point.intervalDays} d`,
              point.lastDoneOn ?? 'never',
              point.active ? (point.dueOn ?? '–') : 'not planned',
              <Link key="drift" href={`/drift/${point.id}`}>
                drift of {point.role || point.kind}
              </Link>,
            ],
          }))}
        />
      ) : null}
    </section>
  );
}

function Setpoints({ page }: { page: DevicePage }) {
  const [editing, setEditing] = useState<number | null>(null);
  const have = page.setpoints.map((setpoint) => setpoint.values.role);
  const missing = rolesOfController(page.values.controller_kind ?? '').filter((role) => !have.includes(role));
  const units = `pressure_unit=${page.values.pressure_unit ?? 'psi'}&temperature_unit=${page.values.temperature_unit ?? 'degF'}`;
  return (
    <section aria-label="Setpoints">
      <h2>Setpoints</h2>
      <div className="columns">
        {page.setpoints.map((setpoint) => (
          <section
            key={setpoint.testPointId}
            aria-label={`${setpoint.values.role} setpoint`}
            className="panel"
          >
            <h3>{sentence(setpoint.values.role)}</h3>
            {editing === setpoint.testPointId ? (
              <RowForm
                rowClass="setpoint"
                initial={setpoint.values}
                version={setpoint.version}
                fixed={['tag', 'role']}
                onDone={() => setEditing(null)}
                onCancel={() => setEditing(null)}
              />
            ) : (
              <>
                <ValueList
                  rowClass="setpoint"
                  values={setpoint.values}
                  scale={scaleUnitOf(
                    page.values.controller_kind ?? '',
                    (setpoint.values.temperature_unit ?? null) as TemperatureUnit | null,
                  )}
                />
                <Button onPress={() => setEditing(setpoint.testPointId)}>
                  Edit the {setpoint.values.role} setpoint
                </Button>
              </>
            )}
          </section>
        ))}
      </div>
      {missing.map((role) => (
        <p key={role}>
          <Link
            href={`/register/new?class=setpoint&tag=${encodeURIComponent(page.values.tag)}&role=${role}&${units}`}
          >
            Add the {role} setpoint
          </Link>
        </p>
      ))}
    </section>
  );
}

/** Classes of devices that take air while nothing moves. */
const steadyUsers: ReadonlySet<RowClass> = new Set([
  'controller',
  'transmitter',
  'actuator',
  'switchover_relay',
]);

/** One device: what it is, what feeds it, what it feeds, its test points and history. */
export function DeviceScreen() {
  const id = Number(useParams<{ deviceId: string }>().deviceId);
  const page = useCall('register.device', { id });
  const [mode, setMode] = useState<'look' | 'edit' | 'retire' | 'replace'>('look');
  if (page.error) return <Failure error={page.error} />;
  if (!page.data) return <Waiting what="Reading the device…" />;
  const { data } = page;
  const place = [data.values.building, data.values.level, data.values.room]
    .filter((word) => word)
    .join(' / ');
  return (
    <>
      <p className="crumb">
        <Link href="/register">Register</Link>
      </p>
      <div className="title-line">
        <h1>
          {data.values.tag}{' '}
          <span className="subtitle">
            {[deviceClassLabels[data.rowClass], data.values.name, place].filter((word) => word).join(', ')}
          </span>
        </h1>
        <div className="actions">
          {data.values.retired_on ? null : (
            <Link href={`/bench/${data.id}`} className="button button-main">
              Open bench card
            </Link>
          )}
          {data.rowClass === 'air_station' ? (
            <Link href={`/register/station/${data.id}`} className="button button-plain">
              Station sheet
            </Link>
          ) : null}
          {data.rowClass === 'main' && !data.values.retired_on
            ? (data.values.main_kind === 'two-pressure' ? ['low', 'high'] : ['any']).map((state) => (
                <Link key={state} href={`/paper/main/${data.id}/${state}`} className="button button-plain">
                  Paper sheet{state === 'any' ? '' : `, ${state}`}
                </Link>
              ))
            : null}
          <Button onPress={() => setMode('edit')}>Edit</Button>
          {data.values.retired_on || data.rowClass === 'main' ? null : (
            <Button onPress={() => setMode('replace')}>Replace</Button>
          )}
          {data.values.retired_on ? null : <Button onPress={() => setMode('retire')}>Retire</Button>}
        </div>
      </div>
      {data.replacedBy ? (
        <p className="notice" role="note">
          Replaced on {data.replacedBy.on} by{' '}
          <Link href={`/register/${data.replacedBy.id}`}>{data.replacedBy.tag}</Link>.
        </p>
      ) : null}
      {data.replaces ? (
        <p className="quiet">
          Stands since {data.replaces.on} in the place of{' '}
          <Link href={`/register/${data.replaces.id}`}>{data.replaces.tag}</Link>, whose records stay there.
        </p>
      ) : null}
      <FollowUps followUps={data.followUps} />
      {data.values.retired_on ? null : <DeviceFindings deviceId={data.id} />}
      {mode === 'replace' ? <ReplaceDialog page={data} onClose={() => setMode('look')} /> : null}
      {mode === 'retire' ? <RetireDialog page={data} onClose={() => setMode('look')} /> : null}
      {mode === 'edit' ? (
        <RowForm
          rowClass={data.rowClass}
          initial={data.values}
          version={data.version}
          fixed={['tag']}
          onDone={() => setMode('look')}
          onCancel={() => setMode('look')}
        />
      ) : (
        <div className="columns">
          <section aria-label="Fields" className="panel">
            <ValueList rowClass={data.rowClass} values={data.values} />
          </section>
          <section aria-label="Supply" className="panel">
            <Links title="Fed by" links={data.fedBy} />
            <Links title="Feeds" links={data.feeds} />
            {data.main ? (
              <p>
                On main <Link href={`/register/${data.main.id}`}>{data.main.tag}</Link>
              </p>
            ) : null}
          </section>
        </div>
      )}
      {data.rowClass === 'controller' ? <Setpoints page={data} /> : null}
      {data.rowClass === 'controller' && !data.values.retired_on ? (
        <BranchSequence deviceId={data.id} />
      ) : null}
      {steadyUsers.has(data.rowClass) ? <SteadyUse deviceId={data.id} /> : null}
      <TestPoints page={data} />
      <section aria-label="History">
        <h2>Records</h2>
        <CalibrationTable rows={data.history} />
      </section>
      {data.changes.length > 0 ? (
        <section aria-label="Changes">
          <h2>Changes of settings</h2>
          <PlainTable
            label="Table of changes"
            titles={['When', 'What', 'From', 'To', 'By', 'Why']}
            rows={data.changes.map((change) => ({
              key: change.id,
              cells: [
                change.at.slice(0, 16).replace('T', ' '),
                change.what,
                change.from ?? '–',
                change.to ?? '–',
                change.person ?? '–',
                change.why,
              ],
            }))}
          />
        </section>
      ) : null}
    </>
  );
}
