import { useState } from 'react';
import { Link } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { useFocusBack } from '../../ui/focus.ts';
import { Dialog } from '../../ui/Dialog.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { useDraft } from '../../ui/draft.ts';
import { FormActions, problemOf } from '../../ui/FormActions.tsx';
import { flowText, plainFigure, valueText } from '../../ui/format.ts';
import type { Leak, StationSheet } from '../../../shared/contract/stations.ts';
import { diameterText } from '../../../shared/trade/air/leaks.ts';
import { LeakForm } from './LeakForm.tsx';

function MendDialog({ leak, onClose }: { leak: Leak; onClose: () => void }) {
  const book = useCall('settings.book', {});
  const [on, setOn] = useState('');
  const { draft, change, forget } = useDraft(`leak mended ${leak.id}`, { note: '' });
  const mend = useCommand('stations.mendLeak');
  const mendedOn = on === '' ? (book.data?.today ?? '') : on;
  return (
    <Dialog title={`Leak ${leak.id} is mended`} isOpen onClose={onClose}>
      <p>
        {leak.tag}, {leak.place}. It stays in the log.
      </p>
      <TextInput
        label="Mended on"
        type="date"
        value={mendedOn}
        onChange={setOn}
        problem={problemOf(mend.error, 'mendedOn')}
      />
      <TextInput
        label="What was done, and how it was proved"
        value={draft.note}
        onChange={(note) => change({ note })}
      />
      <FormActions
        what="repair"
        error={mend.error}
        isPending={mend.isPending}
        onSave={() =>
          mend.mutate(
            { leakId: leak.id, mendedOn, note: draft.note },
            { onSuccess: () => (forget(), onClose()) },
          )
        }
        onLeave={onClose}
      />
    </Dialog>
  );
}

type Open = { what: 'form'; corrected: Leak | null } | { what: 'mend'; leak: Leak };

/** The log of leaks of the station and of everything below it. */
export function LeaksSection({ sheet }: { sheet: StationSheet }) {
  const [open, setOpen] = useState<Open | null>(null);
  const [elsewhere, setElsewhere] = useState('');
  const opener = useFocusBack(open?.what === 'form');
  const { leaks, openLeaks } = sheet;
  return (
    <section aria-label="Leaks">
      <div className="title-line">
        <h2>Leaks</h2>
        {open?.what === 'form' ? null : (
          <Button tone="main" ref={opener} onPress={() => setOpen({ what: 'form', corrected: null })}>
            Log a leak
          </Button>
        )}
      </div>
      <p>
        {openLeaks.count === 0
          ? 'No open leak is in the log.'
          : `${openLeaks.count} open: about ${flowText(openLeaks.typical)} together (${plainFigure(openLeaks.low)} to ${plainFigure(openLeaks.high)}).`}{' '}
        <span className="quiet">
          A leak of control air costs little by itself; it makes the compressor run long, the air wet and the
          mains low.
        </span>
      </p>
      {open?.what === 'form' ? (
        <LeakForm
          key={open.corrected?.id ?? 0}
          sheet={sheet}
          corrected={open.corrected}
          onClose={(stations) => {
            setOpen(null);
            setElsewhere(
              stations === null || stations.includes(sheet.tag)
                ? ''
                : stations.length === 0
                  ? 'Logged; no air station feeds that device, so that it stands on no sheet.'
                  : `Logged on the sheet of ${stations.join(', ')}, which feeds that device.`,
            );
          }}
        />
      ) : null}
      {elsewhere === '' ? null : (
        <p className="notice" role="status">
          {elsewhere}
        </p>
      )}
      {leaks.length > 0 ? (
        <PlainTable
          label="Log of leaks"
          titles={[
            'Leak',
            'At',
            'Place',
            'Found',
            '>Size',
            '>Behind it',
            '>Low',
            '>Likely, scfm',
            '>High',
            'Standing',
          ]}
          rows={leaks.map((leak) => ({
            key: leak.id,
            className: leak.replacedBy === null ? undefined : 'struck',
            cells: [
              leak.id,
              <Link key="tag" href={`/register/${leak.deviceId}`} className="nowrap">
                {leak.tag}
              </Link>,
              [leak.place, leak.note, leak.reason === '' ? '' : `corrected: ${leak.reason}`]
                .filter((part) => part !== '')
                .join('; '),
              <span key="on" className="nowrap">
                {leak.foundOn} {leak.person}
              </span>,
              <span key="size" className="nowrap">
                {diameterText(leak.diameterMicro, leak.diameterUnit)}
              </span>,
              valueText(leak.pressureMilli, leak.pressureUnit),
              plainFigure(leak.flow.low),
              plainFigure(leak.flow.typical),
              plainFigure(leak.flow.high),
              <span key="standing" className="row-actions">
                {leak.replacedBy !== null ? <span>corrected by leak {leak.replacedBy}</span> : null}
                {leak.goneOn === null || leak.replacedBy !== null ? null : (
                  <span>device retired {leak.goneOn}</span>
                )}
                {leak.replacedBy !== null ? null : leak.mended ? (
                  <span>
                    mended {leak.mended.on} {leak.mended.person}
                  </span>
                ) : (
                  <Button tone="quiet" onPress={() => setOpen({ what: 'mend', leak })}>
                    Leak {leak.id} is mended
                  </Button>
                )}
                {leak.replacedBy === null ? (
                  <Button tone="quiet" onPress={() => setOpen({ what: 'form', corrected: leak })}>
                    Correct leak {leak.id}
                  </Button>
                ) : null}
              </span>,
            ],
          }))}
        />
      ) : null}
      {open?.what === 'mend' ? <MendDialog leak={open.leak} onClose={() => setOpen(null)} /> : null}
    </section>
  );
}
