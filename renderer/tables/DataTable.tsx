/**
 * The one table of the program: TanStack Table for sorting and columns, TanStack Virtual for rows. Real table
 * markup; arrow keys move between rows, Enter opens one; all rows are there when printing is asked for small
 * tables, and the count is said for large ones.
 */
import {
  columnVisibilityFeature,
  createSortedRowModel,
  rowSortingFeature,
  sortFns,
  tableFeatures,
  useTable,
} from '@tanstack/react-table';
import type { ColumnDef, SortingState } from '@tanstack/react-table';
import { useVirtualizer } from '@tanstack/react-virtual';
import { useRef, useState } from 'react';
import type { KeyboardEvent, ReactNode } from 'react';

const features = tableFeatures({
  rowSortingFeature,
  columnVisibilityFeature,
  sortedRowModel: createSortedRowModel(),
  sortFns,
});
type Features = typeof features;

export type TableColumn<Row extends object> = {
  id: string;
  title: string;
  /** What is sorted by and, without `cell`, shown. */
  value: (row: Row) => string | number | null;
  cell?: (row: Row) => ReactNode;
  align?: 'end';
  /** Stays at the left while the others scroll sideways under it; one a table. */
  stays?: true;
};

type Props<Row extends object> = {
  label: string;
  rows: readonly Row[];
  columns: readonly TableColumn<Row>[];
  rowKey: (row: Row) => string;
  onOpen?: (row: Row) => void;
  hidden?: ReadonlySet<string>;
  /** Name of the group a row stands under; rows keep their order within a group. */
  groupOf?: (row: Row) => string;
  empty: ReactNode;
  initialSort?: { id: string; desc: boolean };
};

const ROW_HEIGHT = 34;
const VIRTUAL_FROM = 200;

function classOf({ align, stays }: Pick<TableColumn<never>, 'align' | 'stays'>): string | undefined {
  return stays ? 'stays' : align;
}

function toDefinitions<Row extends object>(columns: readonly TableColumn<Row>[]): ColumnDef<Features, Row>[] {
  return columns.map((column) => ({
    id: column.id,
    accessorFn: (row: Row) => column.value(row) ?? undefined,
    header: column.title,
    sortUndefined: 'last' as const,
  })) as ColumnDef<Features, Row>[];
}

export function DataTable<Row extends object>({
  label,
  rows,
  columns,
  rowKey,
  onOpen,
  hidden,
  groupOf,
  empty,
  initialSort,
}: Props<Row>) {
  const [sorting, setSorting] = useState<SortingState>(initialSort ? [initialSort] : []);
  const visibility: Record<string, boolean> = Object.fromEntries(
    columns.map((column) => [column.id, !hidden?.has(column.id)]),
  );
  const table = useTable({
    features,
    data: rows as Row[],
    columns: toDefinitions(columns),
    state: { sorting, columnVisibility: visibility },
    onSortingChange: setSorting,
    getRowId: rowKey,
  });
  const frame = useRef<HTMLDivElement>(null);
  const sorted = table.getRowModel().rows;
  const shown = columns.filter((column) => !hidden?.has(column.id));
  const lines = toLines(sorted, groupOf ? (row) => groupOf(row.original) : undefined);
  const isVirtual = lines.length > VIRTUAL_FROM;
  const virtual = useVirtualizer({
    count: lines.length,
    getScrollElement: () => frame.current,
    estimateSize: () => ROW_HEIGHT,
    overscan: 16,
    enabled: isVirtual,
  });
  const items = virtual.getVirtualItems();
  const visible = isVirtual
    ? items.map((item) => ({ line: lines[item.index], index: item.index }))
    : lines.map((line, index) => ({ line, index }));
  const firstRow = visible.find(({ line }) => line.row !== null)?.index;
  const before = isVirtual && items.length > 0 ? items[0].start : 0;
  const after = isVirtual && items.length > 0 ? virtual.getTotalSize() - items[items.length - 1].end : 0;

  if (rows.length === 0) return <>{empty}</>;
  return (
    <div className="table-frame data-table" ref={frame} role="region" aria-label={label} tabIndex={0}>
      <table aria-rowcount={lines.length + 1}>
        <caption className="visually-hidden">{label}</caption>
        <thead>
          <tr aria-rowindex={1}>
            {shown.map((column) => {
              const direction =
                sorting[0]?.id === column.id ? (sorting[0].desc ? 'descending' : 'ascending') : 'none';
              return (
                <th key={column.id} scope="col" aria-sort={direction} className={classOf(column)}>
                  <button
                    type="button"
                    className="sort"
                    onClick={() => setSorting([{ id: column.id, desc: direction === 'ascending' }])}
                  >
                    {column.title}
                    <span aria-hidden="true">
                      {direction === 'ascending' ? ' ↑' : direction === 'descending' ? ' ↓' : ''}
                    </span>
                  </button>
                </th>
              );
            })}
          </tr>
        </thead>
        <tbody>
          {before > 0 ? (
            <tr aria-hidden="true" className="spacer">
              <td colSpan={shown.length} style={{ height: before }} />
            </tr>
          ) : null}
          {visible.map(({ line, index }) =>
            line.row === null ? (
              <tr key={`group ${line.group}`} aria-rowindex={index + 2} className="group-row">
                <th colSpan={shown.length} scope="rowgroup">
                  {line.group} <span className="quiet">{line.count}</span>
                </th>
              </tr>
            ) : (
              <DataRow
                key={line.row.id}
                id={line.row.id}
                row={line.row.original}
                columns={shown}
                position={index + 2}
                isFirst={index === firstRow}
                onOpen={onOpen}
              />
            ),
          )}
          {after > 0 ? (
            <tr aria-hidden="true" className="spacer">
              <td colSpan={shown.length} style={{ height: after }} />
            </tr>
          ) : null}
        </tbody>
      </table>
    </div>
  );
}

type RowProps<Row extends object> = {
  id: string;
  row: Row;
  columns: readonly TableColumn<Row>[];
  position: number;
  isFirst: boolean;
  onOpen: ((row: Row) => void) | undefined;
};

/** The row above or below that can be walked to; group lines are stepped over. */
function neighbour(
  from: Element,
  direction: 'nextElementSibling' | 'previousElementSibling',
): HTMLElement | null {
  for (let next = from[direction]; next !== null; next = next[direction])
    if (next instanceof HTMLElement && next.dataset.row !== undefined) return next;
  return null;
}

function DataRow<Row extends object>({ id, row, columns, position, isFirst, onOpen }: RowProps<Row>) {
  function onKeyDown(event: KeyboardEvent<HTMLTableRowElement>): void {
    const current = event.currentTarget;
    if (event.key === 'Enter' && event.target === current && onOpen) onOpen(row);
    if (event.key !== 'ArrowDown' && event.key !== 'ArrowUp') return;
    const next = neighbour(
      current,
      event.key === 'ArrowDown' ? 'nextElementSibling' : 'previousElementSibling',
    );
    if (next === null) return;
    event.preventDefault();
    next.focus();
  }
  return (
    <tr
      data-row={id}
      aria-rowindex={position}
      tabIndex={isFirst ? 0 : -1}
      className={onOpen ? 'opens' : undefined}
      onKeyDown={onKeyDown}
      onDoubleClick={() => onOpen?.(row)}
    >
      {columns.map((column) => (
        <td key={column.id} className={classOf(column)}>
          {column.cell ? column.cell(row) : column.value(row)}
        </td>
      ))}
    </tr>
  );
}

type Line<R> = { row: R; group: string; count: 0 } | { row: null; group: string; count: number };

/** Rows as lines of the table; with groups, each under a line that names it, groups by name. */
function toLines<R>(rows: readonly R[], groupOf: ((row: R) => string) | undefined): Line<R>[] {
  if (!groupOf) return rows.map((row) => ({ row, group: '', count: 0 }));
  const groups = new Map<string, R[]>();
  for (const row of rows) {
    const own = groups.get(groupOf(row));
    if (own) own.push(row);
    else groups.set(groupOf(row), [row]);
  }
  return [...groups.entries()]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .flatMap(([group, own]): Line<R>[] => [
      { row: null, group, count: own.length },
      ...own.map((row): Line<R> => ({ row, group, count: 0 })),
    ]);
}

/** Ticks for the columns that are shown. */
export function ColumnChooser({
  columns,
  hidden,
  onChange,
}: {
  columns: readonly { id: string; title: string }[];
  hidden: ReadonlySet<string>;
  onChange: (hidden: Set<string>) => void;
}) {
  return (
    <details className="chooser">
      <summary>Columns</summary>
      <div className="chooser-list">
        {columns.map((column) => (
          <label key={column.id}>
            <input
              type="checkbox"
              checked={!hidden.has(column.id)}
              onChange={(event) => {
                const next = new Set(hidden);
                if (event.target.checked) next.delete(column.id);
                else next.add(column.id);
                onChange(next);
              }}
            />
            {column.title}
          </label>
        ))}
      </div>
    </details>
  );
}
