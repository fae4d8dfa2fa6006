import { useState } from 'react';
import { Link, useSearchParams } from 'wouter';
import { DataTable } from '../../tables/DataTable.tsx';
import type { TableColumn } from '../../tables/DataTable.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { useAddressFields } from '../../ui/address.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { signedText } from '../../ui/format.ts';
import { JobOutcome, useJob } from '../../ui/JobPanel.tsx';
import { Empty } from '../../ui/states.tsx';
import { energyKinds } from '../../../shared/energy/kinds.ts';
import type { EnergyEntry, EnergyRanking } from '../../../shared/contract/energy.ts';
import { bandText } from '../../../shared/energy/band.ts';
import { EvidenceTabs } from './EvidenceTabs.tsx';

/** Fuel and current, each with its band; a dash where neither is known. */
function energyTexts({ therms, kwh }: EnergyEntry['alone']): string[] {
  const parts = [...(therms ? [`${bandText(therms)} therms`] : []), ...(kwh ? [`${bandText(kwh)} kWh`] : [])];
  return parts.length === 0 ? ['–'] : parts;
}

const energyText = (amounts: EnergyEntry['alone']): string => energyTexts(amounts).join('; ');

/** What matters most stands first: a narrow window shows that much. */
function columnsWith(currency: string): TableColumn<EnergyEntry>[] {
  return [
    { id: 'rank', title: 'Rank', value: ({ rank }) => rank, align: 'end' },
    {
      id: 'tag',
      title: 'At',
      value: ({ tag, role }) => `${tag} ${role}`.trim(),
      cell: ({ tag, role, deviceId }) => (
        <>
          <Link href={`/register/${deviceId}`}>{tag}</Link> {role}
        </>
      ),
      stays: true,
    },
    { id: 'kind', title: 'What', value: ({ kind }) => kind },
    {
      id: 'error',
      title: 'Off, °F',
      value: ({ errorDegF }) => errorDegF,
      cell: ({ errorDegF }) => (errorDegF === null ? '–' : signedText(errorDegF, 1)),
      align: 'end',
    },
    {
      id: 'money',
      title: 'Alone, a year',
      value: ({ alone }) => alone.money?.central ?? null,
      cell: ({ alone }) => bandText(alone.money, currency),
      align: 'end',
    },
    {
      id: 'order',
      title: 'In order',
      value: ({ inOrder }) => inOrder.money?.central ?? null,
      cell: ({ inOrder }) => bandText(inOrder.money, currency),
      align: 'end',
    },
    {
      id: 'minutes',
      title: 'Min',
      value: ({ minutes }) => minutes,
      cell: ({ minutes }) => minutes ?? '–',
      align: 'end',
    },
    {
      id: 'hours',
      title: '°F·h a year',
      value: ({ alone }) => alone.degreeHours?.central ?? null,
      cell: ({ alone }) => bandText(alone.degreeHours),
      align: 'end',
    },
    {
      id: 'energy',
      title: 'Energy a year',
      value: ({ alone }) => alone.therms?.central ?? alone.kwh?.central ?? null,
      cell: ({ alone }) => energyText(alone),
      align: 'end',
    },
  ];
}

/** One figure, written as a band is. */
const figureText = (value: number, currency = ''): string =>
  bandText({ low: value, central: value, high: value }, currency);

function Entry({ entry, currency, close }: { entry: EnergyEntry; currency: string; close: () => void }) {
  const { period, perHour } = entry;
  const lines: [string, string][] = [
    ['Method', entry.method],
    ['Base', entry.base],
    ['Confidence', entry.confidence],
    [
      'Alone',
      `${bandText(entry.alone.degreeHours)} °F·h; ${energyText(entry.alone)}; ${bandText(entry.alone.money, currency)} a year`,
    ],
    [
      'In order',
      `${bandText(entry.inOrder.degreeHours)} °F·h; ${energyText(entry.inOrder)}; ${bandText(entry.inOrder.money, currency)} a year`,
    ],
    ...(period
      ? [
          [
            'In the period, by its visits',
            `${figureText(period.degreeHours)} °F·h${period.therms === null ? '' : `, ${period.therms.toFixed(1)} therms`}; its error is known on ${period.knownDays} days`,
          ] as [string, string],
        ]
      : []),
    ...(perHour === null
      ? []
      : [
          [
            'An hour of work saves',
            entry.alone.money
              ? `${figureText(perHour, currency)} a year`
              : `${figureText(perHour)} °F·h a year`,
          ] as [string, string],
        ]),
  ];
  return (
    <section aria-label={`Entry ${entry.rank}`} className="panel panel-below">
      <div className="panel-head">
        <h2>
          {entry.rank}. {entry.kind}, {entry.tag} {entry.role}
        </h2>
        <Button onPress={close}>Close</Button>
      </div>
      <p>{entry.words}</p>
      <ul className="lines">
        {lines.map(([name, words]) => (
          <li key={name}>
            <strong>{name}:</strong> {words}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Ranking({ ranking }: { ranking: EnergyRanking }) {
  const [search] = useSearchParams();
  const { setField } = useAddressFields();
  const [open, setOpen] = useState<number | null>(null);
  const kind = search.get('kind') ?? '';
  const rows = ranking.entries.filter((entry) => kind === '' || entry.kind === kind);
  const chosen = ranking.entries.find(({ rank }) => rank === open);
  const { total, counts, currency } = ranking;
  return (
    <>
      <p className="lead">
        Mended in order, together: {bandText(total.money, currency)} a year; {energyText(total)};{' '}
        {bandText(total.degreeHours)} °F·h.
      </p>
      <p className="quiet">
        {counts.weighed} setpoints weighed: {counts.near} lie within half their tolerance and have no line,{' '}
        {counts.unknown} have no reading that tells, {counts.noZone} keep no room. Weather:{' '}
        {ranking.weather ? `${ranking.weather.name} (${ranking.weather.source})` : 'none chosen'}. “Alone” is
        a year of it were it the only fault; “in order” is what is left to save after what acts on the same
        zone before it (switchover, night, day) was mended: only these may be added. A minus: putting it right
        costs heat.
      </p>
      {ranking.lacking.length > 0 ? (
        <ul className="notice lines">
          {ranking.lacking.map((one) => (
            <li key={one}>{one}</li>
          ))}
          <li>
            Prices and weather are in <Link href="/settings">Settings</Link>, losses and areas in the{' '}
            <Link href="/register/places">register</Link>.
          </li>
        </ul>
      ) : null}
      <div className="controls">
        <SelectInput
          label="Show"
          value={kind}
          onChange={(value) => setField('kind', value)}
          options={[
            { value: '', label: `everything (${ranking.entries.length})` },
            ...energyKinds.map((one) => ({
              value: one,
              label: `${one} (${ranking.entries.filter((entry) => entry.kind === one).length})`,
            })),
          ]}
        />
      </div>
      <DataTable
        label="Ranking"
        rows={rows}
        columns={columnsWith(currency)}
        rowKey={({ rank }) => String(rank)}
        onOpen={({ rank }) => setOpen(rank)}
        empty={
          <Empty title="Nothing to weigh">
            <p>No setpoint stands off by more than half its tolerance, and no leak is open.</p>
          </Empty>
        }
      />
      {chosen ? <Entry entry={chosen} currency={currency} close={() => setOpen(null)} /> : null}
      <h2>By main</h2>
      <p className="quiet">A cause in common, such as a supply or a hand, weighs more than single rooms.</p>
      <PlainTable
        label="By main"
        titles={['Main', '>Zones', '>Mean error, °F', '>°F·h', '>Energy', '>In order, a year']}
        rows={ranking.mains.map((one) => ({
          key: one.main ?? '',
          cells: [
            <span key="main" className="nowrap">
              {one.main ?? 'no main'}
            </span>,
            one.zones,
            one.meanErrorDegF === null ? '–' : signedText(one.meanErrorDegF, 2),
            bandText(one.inOrder.degreeHours),
            energyTexts(one.inOrder).map((text) => <div key={text}>{text}</div>),
            bandText(one.inOrder.money, currency),
          ],
        }))}
      />
      <Cautions of={ranking.cautions} />
    </>
  );
}

/** What limits the figures: always there, never folded away. */
export function Cautions({ of }: { of: readonly string[] }) {
  return (
    <section aria-label="What limits these figures" className="panel">
      <h2>What limits these figures</h2>
      <ul>
        {of.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
    </section>
  );
}

/** What each drifted setpoint and fault weighs in energy, with its method, its band and its cautions. */
export function EnergyScreen() {
  const { search, setField } = useAddressFields();
  const job = useJob('energy.rank');
  const [ranking, setRanking] = useState<EnergyRanking | null>(null);
  async function run(): Promise<void> {
    const result = await job.start({
      from: search.get('from') || null,
      to: search.get('to') || null,
    });
    if (result) setRanking(result);
  }
  return (
    <>
      <h1>Energy weight</h1>
      <EvidenceTabs here="/evidence/energy" />
      <p className="quiet">
        Which error is worth a visit: by what it costs in a year, as well as heat can be known of a building
        whose controllers report nothing. Estimates, not bills.
      </p>
      <div className="controls">
        <TextInput
          label="Period from"
          type="date"
          value={search.get('from') ?? ''}
          onChange={(value) => setField('from', value)}
        />
        <TextInput
          label="to"
          type="date"
          value={search.get('to') ?? ''}
          onChange={(value) => setField('to', value)}
          help="empty: the year to today"
        />
        <Button tone="main" isPending={job.isRunning} onPress={() => void run()}>
          Weigh
        </Button>
      </div>
      <JobOutcome
        job={job}
        empty={
          <Empty title="Not weighed yet">
            <p>Press Weigh: every setpoint’s history is read, and each error and fault gets its price.</p>
          </Empty>
        }
      >
        {ranking ? <Ranking ranking={ranking} /> : null}
      </JobOutcome>
    </>
  );
}
