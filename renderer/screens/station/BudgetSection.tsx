import { Link } from 'wouter';
import { LoadBar } from '../../charts/load/LoadBar.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { flowText, percentText, plainFigure, sentence } from '../../ui/format.ts';
import type { StationSheet } from '../../../shared/contract/stations.ts';
import { runVerdict } from '../../../shared/trade/air/leakTests.ts';

const verdicts = {
  good: 'That is within the third that is wanted.',
  look: 'More than the third that is wanted: look for leaks, bleed and a worn pump.',
  'too long': 'More than half: too long. Leaks, load or a worn pump; a pump-up test tells which.',
} as const;

function capacityText({ capacity }: StationSheet): string {
  const { nominal, measured } = capacity;
  if (measured)
    return `${flowText(measured.value)}, measured ${measured.on}${nominal === null ? '' : `; the register says ${flowText(nominal)}`}`;
  return nominal === null
    ? 'not known: enter it, or log a pump-up test'
    : `${flowText(nominal)}, of the register`;
}

function unexplainedWords({ unexplained, openLeaks, budget }: StationSheet): string {
  if (unexplained === null) return '';
  const { low, typical, high } = unexplained;
  if (low > 0)
    return `Even the high figures leave ${flowText(low)} unexplained, typically ${flowText(typical)}; the open leaks of the log come to about ${flowText(openLeaks.typical)}.`;
  if (high < 0)
    return `It takes less than even the low figures of its kinds (${flowText(budget.scfm.low)}): some stand shut off?`;
  return `Of that the typical figures leave ${flowText(typical)} unexplained (${plainFigure(low)} to ${plainFigure(high)}): within what the kinds may differ. Read it as a trend.`;
}

/** What hangs on the station, what it can deliver, and how long it runs. */
export function BudgetSection({ sheet }: { sheet: StationSheet }) {
  const { budget, run } = sheet;
  const { share } = budget;
  return (
    <section aria-label="What it has to carry">
      <h2>What it has to carry</h2>
      <p className="lead">
        {run
          ? `It runs ${percentText(run.share)} of the time (${run.on})${run.scfm === null ? '' : `, which is ${flowText(run.scfm)}`}${run.kwhAYear === null ? '' : `, and takes some ${plainFigure(Math.round(run.kwhAYear / 10) * 10)} kWh a year`}. ${verdicts[runVerdict(run.share)]}`
          : 'How long it runs was never logged: time three cycles on its card, or log a test.'}
      </p>
      {unexplainedWords(sheet) === '' ? null : <p>{unexplainedWords(sheet)}</p>}
      <p>
        Capacity: {capacityText(sheet)}.{' '}
        {share === null
          ? ''
          : `What hangs on it takes ${percentText(share.typical)} of that while nothing moves (${percentText(share.low)} to ${percentText(share.high)}).`}
      </p>
      {sheet.sharedWith.length === 0 ? null : (
        <p className="notice" role="note">
          {sheet.sharedWith.join(', ')} {sheet.sharedWith.length === 1 ? 'feeds' : 'feed'} some of the same:
          what hangs there is counted here whole, and so are its leaks.
        </p>
      )}
      {share ? <LoadBar use={share} run={run?.share ?? null} /> : null}
      <PlainTable
        label="Air use by kind"
        titles={['Kind', '>Devices', '>Of them known', '>Low, scim', '>Typical, scim', '>High, scim']}
        rows={[
          ...budget.lines.map(({ kind, count, known, scim }) => ({
            key: kind,
            cells: [
              kind === 'none' ? 'Dead-ended, no bleed' : sentence(kind),
              count,
              known,
              plainFigure(scim.low),
              plainFigure(scim.typical),
              plainFigure(scim.high),
            ],
          })),
          {
            key: 'sum',
            className: 'sum-row',
            cells: [
              `Together, ${flowText(budget.scfm.typical)}`,
              budget.lines.reduce((sum, { count }) => sum + count, 0),
              budget.lines.reduce((sum, { known }) => sum + known, 0),
              plainFigure(budget.scim.low),
              plainFigure(budget.scim.typical),
              plainFigure(budget.scim.high),
            ],
          },
        ]}
      />
      <p className="quiet">
        The figures by kind are common practice without a standard behind them; a device’s own sheet stands
        before them, and what was measured before both. Enter either on the page of the device, in the{' '}
        <Link href="/register">register</Link>.
      </p>
    </section>
  );
}
