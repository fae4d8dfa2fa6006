import { PlainTable } from '../../tables/PlainTable.tsx';
import { minutesText } from '../../ui/format.ts';
import type { RoundOverview } from '../../../shared/contract/rounds.ts';

/** What the round comes to, beside what no round can be better than. */
export function RoundFigures({ figures }: { figures: RoundOverview['figures'] }) {
  const { bounds } = figures;
  const rows: [string, string, string][] = [
    ['Tasks placed', String(figures.placed), ''],
    ['Tasks not placed', String(figures.unplaced), ''],
    ['Work', minutesText(figures.taskMinutes), ''],
    ['Weighted days late', String(figures.weightedDaysLate), bounds ? String(bounds.lateness) : ''],
    ['Switchovers by hand', String(figures.switchovers), bounds ? String(bounds.switchovers) : ''],
    ['of these in occupied hours', String(figures.switchoversOccupied), ''],
    ['Overtime', minutesText(figures.overtimeMinutes), ''],
    ['Getting to places', minutesText(figures.walkingMinutes), ''],
    ['Walked on the floors', figures.walkedMetres === null ? 'not kept' : `${figures.walkedMetres} m`, ''],
    ['Above the even share of a week', minutesText(figures.unevenMinutes), ''],
    [
      'Shifts that waiting for others makes too long',
      figures.overruns === null ? 'not kept' : String(figures.overruns),
      '',
    ],
    ['Promised tasks moved', String(figures.moves), ''],
    ['of the others, to another person', String(figures.handOvers), ''],
    ['Total, points', String(figures.total), bounds ? String(bounds.total) : ''],
  ];
  const left = bounds ? figures.total - bounds.total : null;
  return (
    <section aria-label="Figures of merit" className="panel">
      <h2>Figures</h2>
      <PlainTable
        label="Figures of the round"
        titles={['Figure', '>This round', '>No round has less']}
        rows={rows.map((cells) => ({ key: cells[0], cells }))}
      />
      {left === null ? null : (
        <p className="quiet">
          One point is about a minute of a technician’s time. At most {left} points
          {figures.total > 0 ? `, ${Math.round((100 * left) / figures.total)} % of the total,` : ''} can still
          be won; what can truly be won may be much less.
        </p>
      )}
    </section>
  );
}
