import { useState } from 'react';
import { Link, useLocation } from 'wouter';
import { useCall } from '../../api/client.ts';
import { MonthChart } from '../../charts/months/MonthChart.tsx';
import { ColumnChooser, DataTable } from '../../tables/DataTable.tsx';
import type { TableColumn } from '../../tables/DataTable.tsx';
import { useAddressFields } from '../../ui/address.ts';
import { AirState } from '../../ui/AirState.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { differenceText, sentence } from '../../ui/format.ts';
import { addDays, monthOf } from '../../../shared/dates/plainDate.ts';
import { dueStanding } from '../../../shared/trade/due.ts';
import type { DueRow, DueSummary } from '../../../shared/contract/due.ts';

const columns: readonly TableColumn<DueRow>[] = [
  {
    id: 'tag',
    title: 'Tag',
    value: (row) => row.tag,
    cell: (row) => <Link href={`/register/${row.deviceId}`}>{row.tag}</Link>,
  },
  { id: 'role', title: 'Role', value: (row) => row.role || row.kind },
  {
    id: 'place',
    title: 'Place',
    value: (row) => [row.building, row.level, row.room].filter((word) => word).join(' / '),
  },
  { id: 'main', title: 'Main', value: (row) => row.main },
  {
    id: 'air',
    title: 'Air state',
    value: (row) => row.airState,
    cell: (row) => <AirState state={row.airState} />,
  },
  { id: 'last', title: 'Last done', value: (row) => row.lastDoneOn ?? 'never' },
  { id: 'due', title: 'Due', value: (row) => row.dueOn },
  {
    id: 'late',
    title: 'Days late',
    value: (row) => row.daysLate,
    align: 'end',
    cell: (row) => (row.daysLate > 0 ? <strong className="late">{row.daysLate}</strong> : '–'),
  },
  {
    id: 'error',
    title: 'Last found error',
    value: (row) => row.lastErrorMilli,
    align: 'end',
    cell: (row) => (
      <Link href={`/drift/${row.testPointId}`}>
        {differenceText(row.lastErrorMilli, row.unit, row.lastRelation)}
      </Link>
    ),
  },
];

const spans = [
  { value: '0', label: 'late only' },
  { value: '30', label: 'due in 30 days, with the late' },
  { value: '90', label: 'due in 90 days, with the late' },
  { value: '365', label: 'due in a year, with the late' },
];

const groupings: readonly { value: string; label: string; of: ((row: DueRow) => string) | undefined }[] = [
  { value: '', label: 'nothing', of: undefined },
  { value: 'main', label: 'main', of: (row) => (row.main ? `Main ${row.main}` : 'No main') },
  {
    value: 'level',
    label: 'level',
    of: (row) => [row.building, row.level].filter((word) => word).join(' / ') || 'No place noted',
  },
  { value: 'kind', label: 'kind', of: (row) => sentence(row.role ? `${row.role} setpoints` : row.kind) },
  { value: 'month', label: 'month due', of: (row) => monthOf(row.dueOn) },
];

function SummaryStrip({ summary }: { summary: DueSummary }) {
  const figures: { count: number; text: string; href?: string }[] = [
    { count: summary.late, text: 'late' },
    { count: summary.within30, text: 'due in 30 days' },
    { count: summary.within90, text: 'due in 90 days' },
    { count: summary.neverDone, text: 'never calibrated' },
    {
      count: summary.openFollowUps,
      text: summary.openFollowUps === 1 ? 'follow-up open' : 'follow-ups open',
      href: '/follow-ups',
    },
    {
      count: summary.lapsedGauges,
      text: summary.lapsedGauges === 1 ? 'gauge lapsed' : 'gauges lapsed',
      href: '/gauges',
    },
  ];
  return (
    <section aria-label="Where the book stands" className="strip">
      <ul>
        {figures.map((figure) => (
          <li key={figure.text}>
            <b>{figure.count}</b> {figure.href ? <Link href={figure.href}>{figure.text}</Link> : figure.text}
          </li>
        ))}
      </ul>
      {summary.uncheckedMains.length > 0 ? (
        <p>
          Supply not checked within a year:{' '}
          {summary.uncheckedMains
            .map((main) => `${main.tag} (${main.lastSupplyCheck ?? 'never'})`)
            .join(', ')}
          . Set the supply right before any controller on it.
        </p>
      ) : null}
    </section>
  );
}

/** What is late and what falls due: the first screen. */
export function DueScreen() {
  const { search, setField: set } = useAddressFields();
  const [, navigate] = useLocation();
  const [hidden, setHidden] = useState<ReadonlySet<string>>(new Set());
  const book = useCall('settings.book', {});
  const on = search.get('on') || book.data?.today;
  const days = search.get('days') ?? '90';
  const find = search.get('find') ?? '';
  const main = search.get('main') ?? '';
  const summary = useCall('due.summary', { on }, { enabled: on !== undefined });
  const until = on === undefined ? undefined : addDays(on, days === '0' ? -1 : Number(days));
  const ledger = useCall('due.ledger', { on, until }, { enabled: on !== undefined, keepPrevious: true });

  if (book.error) return <Failure error={book.error} />;
  if (summary.error) return <Failure error={summary.error} />;
  if (ledger.error) return <Failure error={ledger.error} />;
  if (!summary.data || !ledger.data || !on) return <Waiting what="Reading the due ledger…" />;
  if (book.data && book.data.testPoints === 0)
    return (
      <>
        <h1>Due</h1>
        <Empty title="This book has no register yet">
          <p>
            <Link href="/register/load">Load a register from CSV</Link>, or{' '}
            <Link href="/register/new">add the first device by hand</Link>. What is due shows here as soon as
            there is something to calibrate.
          </p>
        </Empty>
      </>
    );
  const wanted = find.toLowerCase();
  const mains = [...new Set(ledger.data.rows.map((row) => row.main).filter((tag) => tag !== null))].sort();
  const rows = ledger.data.rows.filter(
    (row) =>
      (main === '' || row.main === main) &&
      (wanted === '' ||
        [row.tag, row.role, row.kind, row.building, row.level, row.room, row.main].some((word) =>
          word?.toLowerCase().includes(wanted),
        )),
  );
  const lateCount = rows.filter((row) => dueStanding(row.dueOn, on) === 'late').length;
  return (
    <>
      <h1>Due</h1>
      <SummaryStrip summary={summary.data} />
      <MonthChart data={summary.data.months} />
      <section aria-label="Ledger with its filters">
        <h2>Ledger</h2>
        <div className="controls">
          <TextInput label="On" type="date" value={on} onChange={(value) => set('on', value)} />
          <SelectInput label="Show" value={days} onChange={(value) => set('days', value)} options={spans} />
          <SelectInput
            label="Main"
            value={main}
            onChange={(value) => set('main', value)}
            options={[{ value: '', label: 'all' }, ...mains.map((tag) => ({ value: tag, label: tag }))]}
          />
          <SelectInput
            label="Group by"
            value={search.get('group') ?? ''}
            onChange={(value) => set('group', value)}
            options={groupings}
          />
          <TextInput
            label="Find"
            type="search"
            value={find}
            onChange={(value) => set('find', value)}
            placeholder="tag, room, role"
          />
          <ColumnChooser columns={columns} hidden={hidden} onChange={setHidden} />
          <p className="count" role="status">
            {rows.length} test points, {lateCount} late
          </p>
        </div>
        <DataTable
          label="Due ledger"
          rows={rows}
          columns={columns}
          rowKey={(row) => String(row.testPointId)}
          hidden={hidden}
          groupOf={groupings.find((one) => one.value === (search.get('group') ?? ''))?.of}
          onOpen={(row) => navigate(`/register/${row.deviceId}`)}
          empty={<p className="quiet">Nothing falls due here. Widen the span, or clear the filter.</p>}
        />
      </section>
    </>
  );
}
