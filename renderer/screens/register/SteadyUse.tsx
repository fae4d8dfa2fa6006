import { useState } from 'react';
import { useCall } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { plainFigure } from '../../ui/format.ts';
import type { AirTest } from '../../../shared/contract/stations.ts';
import { STANDARD } from '../../../shared/trade/air/flow.ts';
import { TestForm } from '../../airTests/TestForm.tsx';
import { TestsTable } from '../../airTests/TestsTable.tsx';

const kinds = ['bleed of a device'] as const;

/** What a device takes while nothing moves: measured, by its sheet, by its kind; the first that is known counts. */
export function SteadyUse({ deviceId }: { deviceId: number }) {
  const use = useCall('stations.bleed', { deviceId });
  const [open, setOpen] = useState<{ corrected: AirTest | null } | null>(null);
  if (!use.data || (use.data.kind === null && use.data.tests.length === 0)) return null;
  const { kind, byKind, sheet, measured, tests } = use.data;
  const counts = measured
    ? `${plainFigure(measured.value)} scim, measured ${measured.on}`
    : sheet !== null
      ? `${plainFigure(sheet)} scim, by its sheet`
      : byKind
        ? `${plainFigure(byKind.typical)} scim (${plainFigure(byKind.low)} to ${plainFigure(byKind.high)}), by its kind`
        : '–';
  return (
    <section aria-label="Steady air use">
      <h2>Steady air use</h2>
      <p>
        {kind === null ? 'It is out of service, and takes nothing' : counts}.{' '}
        <span className="quiet">
          Kind: {kind === 'none' ? 'dead-ended, no bleed' : kind}. What was measured counts before its sheet,
          and its sheet before its kind.
        </span>
      </p>
      {kind === null ? null : open ? (
        <TestForm
          key={open.corrected?.id ?? 0}
          deviceId={deviceId}
          kinds={kinds}
          factsOn={() => ({ capacity: null, atmospherePsi: STANDARD.atmospherePsi })}
          units={{ flow: 'scim' }}
          corrected={open.corrected}
          onClose={() => setOpen(null)}
        />
      ) : (
        <Button onPress={() => setOpen({ corrected: null })}>Log its measured use</Button>
      )}
      {tests.length > 0 ? (
        <TestsTable tests={tests} label="Measured use" onCorrect={(corrected) => setOpen({ corrected })} />
      ) : null}
    </section>
  );
}
