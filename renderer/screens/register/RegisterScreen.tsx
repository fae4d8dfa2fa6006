import { useInfiniteQuery } from '@tanstack/react-query';
import { useDeferredValue, useEffect, useMemo } from 'react';
import { Link, useLocation } from 'wouter';
import { call, useCall } from '../../api/client.ts';
import type { ApiError } from '../../api/transport.ts';
import { saveFile } from '../../platform/files.ts';
import { DataTable } from '../../tables/DataTable.tsx';
import type { TableColumn } from '../../tables/DataTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { useAddressFields } from '../../ui/address.ts';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { sentence } from '../../ui/format.ts';
import { useJobAtOpening } from '../../ui/JobPanel.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import type { RegisterListRow } from '../../../shared/contract/register.ts';
import type { Severity } from '../../../shared/register/findings/finding.ts';
import { deviceClassLabels, deviceClasses } from '../../../shared/trade/words.ts';

const PAGE = 2000;

const columns: readonly TableColumn<RegisterListRow>[] = [
  {
    id: 'tag',
    title: 'Tag',
    value: (row) => row.tag,
    cell: (row) => <Link href={`/register/${row.id}`}>{row.tag}</Link>,
  },
  { id: 'class', title: 'Class', value: (row) => deviceClassLabels[row.class] },
  { id: 'name', title: 'Name', value: (row) => row.name },
  {
    id: 'place',
    title: 'Place',
    value: (row) => [row.building, row.level, row.room].filter((word) => word).join(' / '),
  },
  { id: 'main', title: 'Main', value: (row) => row.main },
  { id: 'since', title: 'In service', value: (row) => row.inServiceOn },
  {
    id: 'state',
    title: 'State',
    value: (row) => (row.retiredOn ? `retired ${row.retiredOn}` : 'in service'),
  },
];

/** Open findings of a device as marks; nothing where there is none. */
function FindingMarks({ open }: { open: OpenFindings | undefined }) {
  if (!open) return null;
  return (
    <span className="severity">
      {open.stop > 0 ? <span className="severity-stop">■ {open.stop}</span> : null}{' '}
      {open.look > 0 ? `◆ ${open.look}` : ''} {open['not checked'] > 0 ? `○ ${open['not checked']}` : ''}
    </span>
  );
}

type OpenFindings = Record<Severity, number>;

/** Open findings by device, as they stood when the register was opened. */
function useOpenFindings(): ReadonlyMap<number, OpenFindings> {
  const { answer } = useJobAtOpening('findings.list');
  return useMemo(() => {
    const byDevice = new Map<number, OpenFindings>();
    for (const { deviceId, severity, accepted } of answer?.findings ?? []) {
      if (accepted !== null) continue;
      const open = byDevice.get(deviceId) ?? { stop: 0, look: 0, 'not checked': 0 };
      byDevice.set(deviceId, { ...open, [severity]: open[severity] + 1 });
    }
    return byDevice;
  }, [answer]);
}

function findingsColumn(open: ReadonlyMap<number, OpenFindings>): TableColumn<RegisterListRow> {
  return {
    id: 'findings',
    title: 'Findings',
    value: ({ id }) => {
      const own = open.get(id);
      // The gravest first when it is sorted.
      return own ? -(own.stop * 1_000_000 + own.look * 1_000 + own['not checked']) : null;
    },
    cell: ({ id }) => <FindingMarks open={open.get(id)} />,
  };
}

/** All devices in one table: find, filter, open, add, load, export. */
export function RegisterScreen() {
  const { search, setField: set } = useAddressFields();
  const [, navigate] = useLocation();
  const facets = useCall('register.facets', {});
  const findings = useOpenFindings();
  const find = search.get('find') ?? '';
  const wanted = useDeferredValue(find);
  const number = (name: string): number | null => (search.get(name) ? Number(search.get(name)) : null);
  const filter = {
    find: wanted,
    class: deviceClasses.find((one) => one === search.get('class')) ?? null,
    mainId: number('main'),
    levelId: number('level'),
    state:
      (['in service', 'retired'] as const).find((one) => one === search.get('state')) ?? ('all' as const),
  };
  const pages = useInfiniteQuery({
    queryKey: ['register.list', filter],
    queryFn: ({ pageParam }) => call('register.list', { ...filter, offset: pageParam, limit: PAGE }),
    initialPageParam: 0,
    getNextPageParam: (last, all) => {
      const loaded = all.reduce((sum, page) => sum + page.rows.length, 0);
      return loaded < last.total ? loaded : undefined;
    },
    placeholderData: (previous) => previous,
  });
  // Sorting needs every row: the rest is fetched while the first page is looked at.
  const { hasNextPage, isFetchingNextPage, fetchNextPage } = pages;
  useEffect(() => {
    if (hasNextPage && !isFetchingNextPage) void fetchNextPage();
  }, [hasNextPage, isFetchingNextPage, fetchNextPage]);
  const rows = pages.data?.pages.flatMap((page) => page.rows) ?? [];
  const total = pages.data?.pages[0]?.total ?? 0;
  const isFiltered = [...search.keys()].length > 0;
  if (pages.error) return <Failure error={pages.error as ApiError} />;
  return (
    <>
      <div className="title-line">
        <h1>Register</h1>
        <div className="actions">
          <Link href="/register/new" className="button button-plain">
            Add
          </Link>
          <Link href="/register/air" className="button button-plain">
            Air tree
          </Link>
          <Link href="/register/station" className="button button-plain">
            Air stations
          </Link>
          <Link href="/register/findings" className="button button-plain">
            Findings
          </Link>
          <Link href="/register/places" className="button button-plain">
            Places
          </Link>
          <Link href="/register/load" className="button button-plain">
            Load CSV
          </Link>
          <Button onPress={() => void saveFile('register.export', {})}>Export CSV</Button>
        </div>
      </div>
      <div className="controls">
        <TextInput
          label="Find"
          type="search"
          value={find}
          onChange={(value) => set('find', value)}
          placeholder="tag, name, room, main"
        />
        <SelectInput
          label="Class"
          value={search.get('class') ?? ''}
          onChange={(value) => set('class', value)}
          options={[
            { value: '', label: 'all' },
            ...(facets.data?.classes ?? []).map((one) => ({
              value: one.class,
              label: `${deviceClassLabels[one.class]} (${one.count})`,
            })),
          ]}
        />
        <SelectInput
          label="Main"
          value={search.get('main') ?? ''}
          onChange={(value) => set('main', value)}
          options={[
            { value: '', label: 'all' },
            ...(facets.data?.mains ?? []).map((one) => ({ value: String(one.id), label: one.tag })),
          ]}
        />
        <SelectInput
          label="Level"
          value={search.get('level') ?? ''}
          onChange={(value) => set('level', value)}
          options={[
            { value: '', label: 'all' },
            ...(facets.data?.levels ?? []).map((one) => ({
              value: String(one.id),
              label: `${one.building} ${one.name || one.code}`,
            })),
          ]}
        />
        <SelectInput
          label="State"
          value={search.get('state') ?? ''}
          onChange={(value) => set('state', value)}
          options={[
            { value: '', label: 'all' },
            ...['in service', 'retired'].map((one) => ({ value: one, label: sentence(one) })),
          ]}
        />
        <p className="count" role="status">
          {total} devices{hasNextPage ? `, ${rows.length} read so far` : ''}
        </p>
      </div>
      {pages.data ? (
        <DataTable
          label="Register"
          rows={rows}
          columns={[...columns, findingsColumn(findings)]}
          rowKey={(row) => String(row.id)}
          onOpen={(row) => navigate(`/register/${row.id}`)}
          empty={
            isFiltered ? (
              <p className="quiet">No device fits. Change the words, or clear a filter.</p>
            ) : (
              <Empty title="The register is empty">
                <p>
                  <Link href="/register/load">Load it from CSV</Link>, or{' '}
                  <Link href="/register/new">add the first building by hand</Link>.
                </p>
              </Empty>
            )
          }
        />
      ) : (
        <Waiting what="Reading the register…" />
      )}
    </>
  );
}
