import { useState } from 'react';
import { Button } from '../../ui/Button.tsx';
import { useFocusBack } from '../../ui/focus.ts';
import type { AirTest, StationSheet } from '../../../shared/contract/stations.ts';
import { TestForm, kindsOfStation } from '../../airTests/TestForm.tsx';
import { TestsTable } from '../../airTests/TestsTable.tsx';

/** By the newest pump-up test of a day, else of the register. */
function capacityOn({ tests, capacity }: StationSheet, day: string): number | null {
  const newest = tests.find(
    ({ kind, doneOn, replacedBy }) => kind === 'pump-up' && doneOn <= day && replacedBy === null,
  );
  return newest?.scfm ?? capacity.nominal;
}

/** Leak and bleed tests of the station: log one, look at all. */
export function TestsSection({ sheet }: { sheet: StationSheet }) {
  const [open, setOpen] = useState<{ corrected: AirTest | null } | null>(null);
  const opener = useFocusBack(open !== null);
  return (
    <section aria-label="Tests">
      <div className="title-line">
        <h2>Tests</h2>
        {open ? null : (
          <Button tone="main" ref={opener} onPress={() => setOpen({ corrected: null })}>
            Log a test
          </Button>
        )}
      </div>
      <p className="quiet">
        Control air bleeds by design: a test of the whole measures leaks and normal bleed together. Hold it
        against the use by kind, and against its own past, not against a fixed share. A receiver is a pressure
        vessel: relieve it before a fitting is opened, and keep to the site’s lock-out.
      </p>
      {open ? (
        <TestForm
          key={open.corrected?.id ?? 0}
          deviceId={sheet.id}
          kinds={kindsOfStation}
          factsOn={(day) => ({ capacity: capacityOn(sheet, day), atmospherePsi: sheet.atmospherePsi })}
          units={{
            pressure: sheet.pressureUnit,
            volume: sheet.pressureUnit === 'kPa' ? 'L' : 'gal',
            flow: sheet.pressureUnit === 'kPa' ? 'L/min' : 'scfm',
          }}
          corrected={open.corrected}
          onClose={() => {
            setOpen(null);
          }}
        />
      ) : null}
      {sheet.tests.length === 0 ? (
        <p className="quiet">No test is logged yet.</p>
      ) : (
        <TestsTable
          tests={sheet.tests}
          label="Table of tests"
          onCorrect={(corrected) => setOpen({ corrected })}
        />
      )}
    </section>
  );
}
