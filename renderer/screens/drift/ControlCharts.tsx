import { useState } from 'react';
import { ControlChart } from '../../charts/control/ControlChart.tsx';
import { Button } from '../../ui/Button.tsx';
import type { DriftSeries } from '../../../shared/contract/drift.ts';
import { differenceLabel } from '../../../shared/units/units.ts';

/** The control chart, for who asks for it. */
export function ControlCharts({ series }: { series: DriftSeries }) {
  const [isOpen, setOpen] = useState(false);
  const { control } = series.statistics;
  if (control === null) return null;
  const unit = `${differenceLabel(series.unit)}${control.of === 'rate' ? ' a year' : ''}`;
  return (
    <section aria-label="Control chart" className="control-section">
      <Button onPress={() => setOpen(!isOpen)}>
        {isOpen ? 'Hide the control chart' : 'Show the control chart'}
      </Button>
      {isOpen ? (
        <>
          <p className="quiet">
            {control.of === 'rate'
              ? 'Its rate between visits (the intervals differ), '
              : 'What it moved between visits, '}
            with limits of three sigma by the moving range
            {control.isProvisional ? '; with fewer than eight values the limits are provisional' : ''}. Beyond
            means beyond, and a value on the centre breaks a run.{' '}
            {control.signals.length === 0
              ? 'No rule fires.'
              : control.signals.map(({ rule, at }) => `Value ${at + 1}: ${rule}.`).join(' ')}
          </p>
          <ControlChart chart={control} unit={unit} />
        </>
      ) : null}
    </section>
  );
}
