import { useState } from 'react';
import { Link } from 'wouter';
import { useCall } from '../../api/client.ts';
import { DataTable } from '../../tables/DataTable.tsx';
import type { TableColumn } from '../../tables/DataTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import type { PlaceRow } from '../../../shared/contract/register.ts';
import { rowKey } from '../../../shared/register/row.ts';
import { RowForm } from './RowForm.tsx';

const codeColumns = {
  building: ['building'],
  level: ['building', 'level'],
  room: ['building', 'room'],
} as const;

function columnsWith(edit: (row: PlaceRow) => void): TableColumn<PlaceRow>[] {
  const text = (id: string, title: string): TableColumn<PlaceRow> => ({
    id,
    title,
    value: (row) => row.values[id] ?? null,
  });
  return [
    { id: 'class', title: 'What', value: (row) => row.rowClass },
    text('building', 'Building'),
    text('level', 'Level'),
    text('room', 'Room'),
    text('name', 'Name'),
    text('use', 'Use'),
    { id: 'access', title: 'Access', value: (row) => row.values.access?.replaceAll('|', ', ') ?? null },
    {
      id: 'edit',
      title: 'Change',
      value: () => null,
      cell: (row) => (
        <Button tone="quiet" onPress={() => edit(row)}>
          Edit {row.values[row.rowClass]}
        </Button>
      ),
    },
  ];
}

/** Buildings, levels and rooms: where devices stand, and when a room may be entered. */
export function PlacesScreen() {
  const places = useCall('register.places', {});
  const [open, setOpen] = useState<PlaceRow | null>(null);
  if (places.error) return <Failure error={places.error} />;
  if (!places.data) return <Waiting what="Reading the places…" />;
  const close = (): void => setOpen(null);
  return (
    <>
      <p className="crumb">
        <Link href="/register">Register</Link>
      </p>
      <div className="title-line">
        <h1>Places</h1>
        <div className="actions">
          <Link href="/register/new?class=room" className="button button-plain">
            Add a place
          </Link>
        </div>
      </div>
      {open ? (
        <RowForm
          key={rowKey(open.rowClass, open.values)}
          rowClass={open.rowClass}
          initial={open.values}
          version={open.version}
          fixed={codeColumns[open.rowClass]}
          onDone={close}
          onCancel={close}
        />
      ) : null}
      <DataTable
        label="Places"
        rows={places.data.rows}
        columns={columnsWith(setOpen)}
        rowKey={(row) => rowKey(row.rowClass, row.values)}
        onOpen={setOpen}
        empty={
          <Empty title="No place yet">
            <p>
              <Link href="/register/new?class=building">Add the first building</Link>, or{' '}
              <Link href="/register/load">load a register</Link>.
            </p>
          </Empty>
        }
      />
    </>
  );
}
