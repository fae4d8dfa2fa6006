import { useState } from 'react';
import { Link } from 'wouter';
import { useCall } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { toleranceText, valueText } from '../../ui/format.ts';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import type { Gauge } from '../../../shared/contract/gauges.ts';
import { shownRatio } from '../../../shared/cards/instruments.ts';
import { formatMilli } from '../../../shared/units/units.ts';
import { CertificateForm } from './CertificateForm.tsx';
import { GaugeForm, blankGauge, gaugeText } from './GaugeForm.tsx';

function accuracyText(gauge: Gauge): string {
  const limit = gauge.limitMilli === null ? '' : ` (${toleranceText(gauge.limitMilli, gauge.unit)})`;
  if (gauge.accuracyForm === 'grade') return `grade ${gauge.accuracyGrade ?? '–'}${limit}`;
  if (gauge.accuracyMilli === null) return 'not noted';
  return gauge.accuracyForm === 'absolute'
    ? toleranceText(gauge.accuracyMilli, gauge.unit)
    : `${formatMilli(gauge.accuracyMilli)} % of span${limit}`;
}

const signs = { good: '✓', coarse: '!', 'too coarse': '✗' } as const;

function fitnessText(gauge: Gauge): string {
  if (gauge.fitness.length === 0) return gauge.limitMilli === null ? 'not known' : '–';
  return gauge.fitness
    .map(({ kind, ratio, adequacy }) => `${signs[adequacy]} ${kind} ${shownRatio(ratio)}×`)
    .join(', ');
}

function Certificates({ gauge }: { gauge: Gauge }) {
  return (
    <PlainTable
      label={`Certificates of ${gauge.tag}`}
      titles={['Number', 'Issued', 'Valid until', '>States', 'Note']}
      rows={gauge.certificates.map((one) => ({
        key: one.id,
        cells: [
          one.number,
          one.issuedOn,
          one.dueOn,
          one.doubtMilli === null ? '–' : `U ${toleranceText(one.doubtMilli, gauge.unit)}`,
          one.note,
        ],
      }))}
    />
  );
}

type Open = { what: 'form'; gauge: Gauge | null } | { what: 'certificate'; gauge: Gauge };

/** The gauge drawer: reference instruments, how good they are, and their certificates. */
export function GaugesScreen() {
  const list = useCall('gauges.list', {});
  const [open, setOpen] = useState<Open | null>(null);
  const [shownId, setShownId] = useState<number | null>(null);
  if (list.error) return <Failure error={list.error} />;
  if (!list.data) return <Waiting what="Opening the drawer…" />;
  const { rows } = list.data;
  const shown = rows.find((row) => row.id === shownId) ?? null;
  return (
    <>
      <div className="title-line">
        <h1>Gauge drawer</h1>
        <Button tone="main" onPress={() => setOpen({ what: 'form', gauge: null })}>
          Add an instrument
        </Button>
      </div>
      <p className="lead">
        An instrument must be twice as good as the tolerance that it is used against, and should be four
        times. Its accuracy, its certificate and its scale make up its part of the doubt of every reading.
      </p>
      {open?.what === 'form' ? (
        <GaugeForm
          key={open.gauge?.id ?? 0}
          start={open.gauge ? gaugeText(open.gauge) : blankGauge}
          onClose={() => setOpen(null)}
        />
      ) : null}
      {open?.what === 'certificate' ? (
        <CertificateForm key={open.gauge.id} gauge={open.gauge} onClose={() => setOpen(null)} />
      ) : null}
      {rows.length === 0 ? (
        <Empty title="No instrument yet">
          <p>Add the gauges and thermometers that readings are taken with: no card closes without them.</p>
        </Empty>
      ) : (
        <PlainTable
          label="Instruments"
          titles={['Tag', 'Range', 'Accuracy', 'Good enough for', 'Certificate', '>Records', 'What next']}
          rows={rows.map((gauge) => ({
            key: gauge.id,
            className: gauge.retiredOn === null ? undefined : 'struck',
            cells: [
              <span key="tag" className="nowrap">
                {gauge.tag}
              </span>,
              `${formatMilli(gauge.rangeLowMilli)} to ${valueText(gauge.rangeHighMilli, gauge.unit)}`,
              accuracyText(gauge),
              fitnessText(gauge),
              gauge.certificateDueOn === null
                ? '! none noted'
                : gauge.isLapsed
                  ? `! lapsed ${gauge.certificateDueOn}`
                  : `until ${gauge.certificateDueOn}`,
              gauge.records,
              <span key="actions" className="row-actions">
                <Button tone="quiet" onPress={() => setOpen({ what: 'form', gauge })}>
                  Edit {gauge.tag}
                </Button>
                <Button tone="quiet" onPress={() => setOpen({ what: 'certificate', gauge })}>
                  Certificate for {gauge.tag}
                </Button>
                <Button tone="quiet" onPress={() => setShownId(gauge.id)}>
                  History of {gauge.tag}
                </Button>
                <Link href={`/gauges/${gauge.id}/trace`}>Found wrong: trace {gauge.tag}</Link>
              </span>,
            ],
          }))}
        />
      )}
      {shown ? (
        <section aria-label={`History of ${shown.tag}`} className="panel">
          <h2>History of {shown.tag}</h2>
          {shown.certificates.length > 0 ? (
            <Certificates gauge={shown} />
          ) : (
            <p className="quiet">No certificate is entered.</p>
          )}
          {shown.faults.map((fault) => (
            <p key={fault.id}>
              Found {valueText(fault.biasMilli, shown.unit)} off on {fault.foundOn}, in doubt since{' '}
              {fault.sinceOn}. {fault.note}
            </p>
          ))}
        </section>
      ) : null}
    </>
  );
}
