import { useState } from 'react';
import { PlainTable } from '../tables/PlainTable.tsx';
import { Button } from '../ui/Button.tsx';
import type { AirTest } from '../../shared/contract/stations.ts';
import { formatMilli } from '../../shared/units/units.ts';
import { AirResult, resultText } from './AirResult.tsx';

const SHOWN = 12;

function readingText({ readings }: AirTest): string {
  return readings
    .map(({ quantity, valueMilli, unit }) => `${quantity} ${formatMilli(valueMilli)} ${unit}`)
    .join(', ');
}

/** The tests with their readings, newest first; corrected ones stay, struck. */
export function TestsTable({
  tests,
  label,
  onCorrect,
}: {
  tests: readonly AirTest[];
  label: string;
  onCorrect: (test: AirTest) => void;
}) {
  const [isAll, setAll] = useState(false);
  const [openId, setOpenId] = useState<number | null>(null);
  const open = tests.find(({ id }) => id === openId);
  return (
    <>
      <PlainTable
        label={label}
        titles={['Test', 'Done on', 'By', 'Comes to', '>Factor', 'Read', 'What next']}
        rows={tests.map((test, index) => ({
          key: test.id,
          className: [
            test.replacedBy === null ? '' : 'struck',
            // On paper all of them stand.
            isAll || index < SHOWN ? '' : 'paper-only',
          ].join(' '),
          cells: [
            test.kind,
            <span key="on" className="nowrap">
              {test.doneOn}
            </span>,
            test.person,
            test.measures === 'quality' ? '–' : resultText(test),
            test.factor === null ? '–' : test.factor.toFixed(2),
            [
              readingText(test),
              test.gauge === null ? '' : `gauge ${test.gauge}`,
              test.note,
              test.reason === '' ? '' : `corrected: ${test.reason}`,
            ]
              .filter((part) => part !== '')
              .join('; '),
            <span key="next" className="row-actions">
              {test.measures === 'quality' ? null : (
                <Button tone="quiet" onPress={() => setOpenId(test.id === openId ? null : test.id)}>
                  Why: test {test.id}
                </Button>
              )}
              {test.replacedBy === null ? (
                <Button tone="quiet" onPress={() => onCorrect(test)}>
                  Correct test {test.id}
                </Button>
              ) : (
                `corrected by test ${test.replacedBy}`
              )}
            </span>,
          ],
        }))}
      />
      {open ? (
        <section aria-label={`Test ${open.id}`} className="panel">
          <h3>
            Test {open.id}: {open.kind}, {open.doneOn}
          </h3>
          <AirResult result={open} />
        </section>
      ) : null}
      {tests.length > SHOWN ? (
        <p>
          <Button tone="quiet" onPress={() => setAll(!isAll)}>
            {isAll ? `Show the newest ${SHOWN} alone` : `Show all ${tests.length} tests`}
          </Button>
        </p>
      ) : null}
    </>
  );
}
