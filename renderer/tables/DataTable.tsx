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
};

type Props<Row extends object> = {
  label: string;
  rows: readonly Row[];
  columns: readonly TableColumn<Row>[];
  rowKey: (row: Row) => string;
  onOpen?: (row: Row) => void;
  hidden?: ReadonlySet<string>;
  /** Called when the last rows come into view, for tables that load page by page. */
  onNearEnd?: () => void;
  empty: ReactNode;
  initialSort?: { id: string; desc: boolean };
};

const ROW_HEIGHT = 34;
const VIRTUAL_FROM = 200;

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
  onNearEnd,
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
  const isVirtual = sorted.length > VIRTUAL_FROM;
  const virtual = useVirtualizer({
    count: sorted.length,
    getScrollElement: () => frame.current,
    estimateSize: () => ROW_HEIGHT,
    overscan: 16,
    enabled: isVirtual,
    onChange: (instance) => {
      const last = instance.getVirtualItems().at(-1);
      if (onNearEnd && last && last.index >= sorted.length - 40) onNearEnd();
    },
  });
  const items = virtual.getVirtualItems();
  const visible = isVirtual
    ? items.map((item) => ({ row: sorted[item.index], index: item.index }))
    : sorted.map((row, index) => ({ row, index }));
  const before = isVirtual && items.length > 0 ? items[0].start : 0;
  const after = isVirtual && items.length > 0 ? virtual.getTotalSize() - items[items.length - 1].end : 0;

  function onKeyDown(event: KeyboardEvent<HTMLTableRowElement>, row: Row): void {
    const current = event.currentTarget;
    if (event.key === 'Enter' && event.target === current && onOpen) onOpen(row);
    const next =
      event.key === 'ArrowDown'
        ? current.nextElementSibling
        : event.key === 'ArrowUp'
          ? current.previousElementSibling
          : null;
    if (next instanceof HTMLElement && next.tabIndex >= -1 && next.dataset.row !== undefined) {
      event.preventDefault();
      next.focus();
    }
  }

  if (rows.length === 0) return <>{empty}</>;
  return (
    <div className="table-frame data-table" ref={frame} role="region" aria-label={label} tabIndex={0}>
      <table aria-rowcount={sorted.length + 1}>
        <caption className="visually-hidden">{label}</caption>
        <thead>
          <tr aria-rowindex={1}>
            {shown.map((column) => {
              const direction =
                sorting[0]?.id === column.id ? (sorting[0].desc ? 'descending' : 'ascending') : 'none';
              return (
                <th
                  key={column.id}
                  scope="col"
                  aria-sort={direction}
                  className={column.align === 'end' ? 'end' : undefined}
                >
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
          {visible.map(({ row, index }) => (
            <tr
              key={row.id}
              data-row={row.id}
              aria-rowindex={index + 2}
              tabIndex={index === visible[0].index ? 0 : -1}
              className={onOpen ? 'opens' : undefined}
              onKeyDown={(event) => onKeyDown(event, row.original)}
              onDoubleClick={() => onOpen?.(row.original)}
            >
              {shown.map((column) => (
                <td key={column.id} className={column.align === 'end' ? 'end' : undefined}>
                  {column.cell ? column.cell(row.original) : column.value(row.original)}
                </td>
              ))}
            </tr>
          ))}
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
