import { useState } from 'react';
import { Link } from 'wouter';
import { DataTable } from '../../tables/DataTable.tsx';
import type { TableColumn } from '../../tables/DataTable.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { useAddressFields } from '../../ui/address.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput } from '../../ui/fields.tsx';
import { sentence } from '../../ui/format.ts';
import { JobOutcome, useJob } from '../../ui/JobPanel.tsx';
import { Empty } from '../../ui/states.tsx';
import type { RetrofitQuantities } from '../../../shared/contract/retrofit.ts';
import { bandText, shown } from '../../../shared/energy/band.ts';
import { partsText, retrofitOptions, shareText } from '../../../shared/retrofit/units.ts';
import type { RetrofitOption } from '../../../shared/retrofit/units.ts';
import { Cautions } from './EnergyScreen.tsx';
import { EvidenceTabs } from './EvidenceTabs.tsx';
import { ScopeFields, scopeOfAddress } from './scope.tsx';

type Actuator = RetrofitQuantities['actuators'][number];

const optionWords: Record<RetrofitOption, string> = {
  'keep actuators': 'A: keep the actuators',
  'full electric': 'B: everything electric',
  'thermostats only': 'C: thermostats only',
};
const optionHelp: Record<RetrofitOption, string> = {
  'keep actuators': 'digital controllers move them through transducers; the air stays',
  'full electric': 'nothing hangs on the air any more',
  'thermostats only': 'radio thermostats on the tubing that is there; everything else stays',
};

const degrees = (value: number | null): string => (value === null ? '–' : value.toFixed(2));

function springText(
  start: { value: number } | number | null,
  end: { value: number } | number | null,
): string {
  const figure = (one: { value: number } | number | null): string =>
    one === null ? '–' : (typeof one === 'number' ? one : one.value).toFixed(1);
  return `${figure(start)} to ${figure(end)}`;
}

const actuatorColumns: readonly TableColumn<Actuator>[] = [
  {
    id: 'tag',
    title: 'Actuator',
    value: ({ tag }) => tag,
    cell: ({ tag, deviceId }) => <Link href={`/register/${deviceId}`}>{tag}</Link>,
  },
  { id: 'controller', title: 'Controller', value: ({ controller }) => controller },
  { id: 'room', title: 'Room', value: ({ building, room }) => [building, room].filter(Boolean).join(' / ') },
  { id: 'duty', title: 'Carries', value: ({ duty, kind }) => duty ?? kind },
  { id: 'normal', title: 'Normally', value: ({ normalPosition }) => normalPosition },
  { id: 'positioner', title: 'Positioner', value: ({ positioner }) => positioner },
  {
    id: 'nominal',
    title: 'Spring, psi',
    value: ({ springStart }) => springStart,
    cell: ({ springStart, springEnd }) => springText(springStart, springEnd),
    align: 'end',
  },
  {
    id: 'measured',
    title: 'Measured, psi',
    value: ({ measuredStart }) => measuredStart?.value ?? null,
    cell: ({ measuredStart, measuredEnd }) =>
      measuredStart || measuredEnd ? springText(measuredStart, measuredEnd) : 'never',
    align: 'end',
  },
  {
    id: 'on',
    title: 'On',
    value: ({ measuredStart, measuredEnd }) => measuredStart?.on ?? measuredEnd?.on ?? null,
  },
];

function Answer({ answer }: { answer: RetrofitQuantities }) {
  const { search, setField } = useAddressFields();
  const option = retrofitOptions.find((one) => one === search.get('option')) ?? 'keep actuators';
  const { newest, period, drift } = answer.distributions;
  const spread = (name: string, one: typeof newest) => ({
    key: name,
    cells: [
      name,
      one.count,
      shareText(one.within1),
      shareText(one.within2),
      shareText(one.beyond3),
      degrees(one.medianAbsolute),
      degrees(one.absolute90),
      shareText(one.warmShare),
    ],
  });
  return (
    <>
      <div className="controls">
        <SelectInput
          label="Option"
          value={option}
          onChange={(value) => setField('option', value)}
          options={retrofitOptions.map((one) => ({ value: one, label: optionWords[one] }))}
          help={optionHelp[option]}
        />
      </div>
      <PlainTable
        label="Quantities"
        titles={[
          'Unit',
          'Building',
          '>Units',
          '>Sensors',
          '>Controllers',
          '>Transducers',
          '>Electric actuators',
          '>Radio thermostats',
          '>AI',
          '>AO',
          '>BI',
          '>BO',
          '>Actuators kept',
        ]}
        rows={[
          ...answer.units.map((unit) => ({
            key: `${unit.building}${unit.kind}`,
            cells: [
              sentence(unit.kind),
              unit.building ?? '–',
              unit.units,
              ...partsText(unit.options[option]),
            ],
          })),
          {
            key: 'all',
            className: 'row-total',
            cells: [
              'All',
              '',
              answer.units.reduce((sum, { units }) => sum + units, 0),
              ...partsText(answer.totals[option]),
            ],
          },
        ]}
      />
      <h2>What the stations could shed</h2>
      <PlainTable
        label="Stations"
        titles={[
          'Station',
          '>Carries, scim',
          ...retrofitOptions.map((one) => `>${sentence(one)}, kWh a year`),
          'Air',
        ]}
        rows={answer.stations.map((station) => ({
          key: station.tag,
          cells: [
            station.tag,
            `${shown(station.now.typical)} (${shown(station.now.low)} to ${shown(station.now.high)})`,
            ...retrofitOptions.map((one) =>
              station.shedKwh[one] === null ? 'not known' : bandText(station.shedKwh[one]),
            ),
            station.words.join('; '),
          ],
        }))}
      />
      <p className="quiet">A station is counted with everything that hangs on it, whatever part is chosen.</p>
      <h2>Errors of setpoints</h2>
      <PlainTable
        label="Errors"
        titles={[
          'Errors as found',
          '>n',
          '>Within 1 °F',
          '>Within 2 °F',
          '>Beyond 3 °F',
          '>Median size, °F',
          '>90 % within, °F',
          '>Warm',
        ]}
        rows={[spread('newest of each', newest), spread('all of these days', period)]}
      />
      <p className="quiet">
        Median drift {degrees(drift.median)} °F a year (n {drift.count}). With small errors and a working
        night a conversion saves little in setpoints.
      </p>
      <h2>Actuators to keep</h2>
      <p>
        {answer.actuators.length} actuators; {answer.unmeasured} without a measured spring range
        {answer.unmeasured > 0 ? ': measure them before a transducer is ordered' : ''}.{' '}
        {answer.tubing.map(({ what, count }) => `${count} ${what}`).join(', ')}.
      </p>
      <DataTable
        label="Actuators"
        rows={answer.actuators}
        columns={actuatorColumns}
        rowKey={({ deviceId }) => String(deviceId)}
        empty={<p className="quiet">No actuator stands in this part.</p>}
      />
      <div className="columns">
        <section aria-label="What is there">
          <h2>What is there</h2>
          <PlainTable
            label="Devices by kind"
            titles={['What', '>Count']}
            rows={answer.inventory.map(({ what, count }) => ({ key: what, cells: [sentence(what), count] }))}
          />
        </section>
        <section aria-label="How to get there">
          <h2>Access</h2>
          {answer.access.length === 0 ? (
            <p className="quiet">No room has hours or a note.</p>
          ) : (
            <PlainTable
              label="Rooms with hours or a note"
              titles={['Room', 'May be entered', 'Note', '>Devices']}
              rows={answer.access.map((one) => ({
                key: one.place,
                cells: [one.place, one.windows || 'always', one.note, one.devices],
              }))}
            />
          )}
        </section>
      </div>
      <Cautions of={answer.cautions} />
    </>
  );
}

/** Points, parts and what is kept, under three ways of a retrofit. */
export function RetrofitScreen() {
  const { search } = useAddressFields();
  const job = useJob('retrofit.quantities');
  const [answer, setAnswer] = useState<RetrofitQuantities | null>(null);
  async function run(): Promise<void> {
    const result = await job.start(scopeOfAddress(search));
    if (result) setAnswer(result);
  }
  return (
    <>
      <h1>Retrofit quantities</h1>
      <EvidenceTabs here="/evidence/retrofit" />
      <p className="quiet">
        What a change to digital control would take, keep and shed, by what the register and the records say.
        For a first estimate: a survey and a designer settle it.
      </p>
      <div className="controls">
        <ScopeFields has="all" />
        <Button tone="main" isPending={job.isRunning} onPress={() => void run()}>
          Count
        </Button>
      </div>
      <JobOutcome
        job={job}
        empty={
          <Empty title="Not counted yet">
            <p>Choose a part of the site, or none for all of it, and press Count.</p>
          </Empty>
        }
      >
        {answer ? <Answer answer={answer} /> : null}
      </JobOutcome>
    </>
  );
}
