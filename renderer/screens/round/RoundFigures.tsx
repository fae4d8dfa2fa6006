import { useState } from 'react';
import { useCall } from '../../api/client.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { SelectInput } from '../../ui/fields.tsx';
import { minutesText } from '../../ui/format.ts';
import { roundLabel } from './roundLabel.ts';
import type { RoundOverview } from '../../../shared/contract/rounds.ts';

type Figures = RoundOverview['figures'];

function kept(value: number | null, text: (value: number) => string = String): string {
  return value === null ? 'not kept' : text(value);
}

/** What is told of a round: its word, its value, and what no round can have less of. */
const rows: [string, (figures: Figures) => string, (bounds: NonNullable<Figures['bounds']>) => string][] = [
  ['Tasks placed', (one) => String(one.placed), () => ''],
  ['Tasks not placed', (one) => String(one.unplaced), () => ''],
  ['Work', (one) => minutesText(one.taskMinutes), () => ''],
  ['Weighted days late', (one) => String(one.weightedDaysLate), (bounds) => String(bounds.lateness)],
  ['Switchovers by hand', (one) => String(one.switchovers), (bounds) => String(bounds.switchovers)],
  ['of these in occupied hours', (one) => String(one.switchoversOccupied), () => ''],
  ['Overtime', (one) => minutesText(one.overtimeMinutes), () => ''],
  ['Getting to places', (one) => minutesText(one.walkingMinutes), (bounds) => `${bounds.walking} points`],
  ['Walked on the floors', (one) => kept(one.walkedMetres, (metres) => `${metres} m`), () => ''],
  [
    'Above the even share of a week',
    (one) => minutesText(one.unevenMinutes),
    (bounds) => `${bounds.evenness} points, lateness included`,
  ],
  ['Mains changed again in a shift', (one) => kept(one.furtherChanges), () => ''],
  ['Shifts that waiting for others makes too long', (one) => kept(one.overruns), () => ''],
  ['Promised tasks moved', (one) => String(one.moves), () => ''],
  ['Promised tasks that only change persons', (one) => String(one.handOvers), () => ''],
  ['Total, points', (one) => String(one.total), (bounds) => String(bounds.total)],
];

/** What the round comes to, beside what no round can be better than, and beside another round when asked. */
export function RoundFigures({ id, figures }: { id: number; figures: Figures }) {
  const [chosen, setChosen] = useState('');
  const list = useCall('rounds.list', {});
  const { bounds } = figures;
  const others = list.data?.rounds.filter((round) => round.id !== id) ?? [];
  const beside = others.find((round) => String(round.id) === chosen);
  const left = bounds ? figures.total - bounds.total : null;
  return (
    <section aria-label="Figures of merit" className="panel">
      <h2>Figures</h2>
      {others.length > 0 ? (
        <SelectInput
          label="Lay beside"
          value={chosen}
          onChange={setChosen}
          options={[
            { value: '', label: 'no other round' },
            ...others.map((round) => ({ value: String(round.id), label: roundLabel(round) })),
          ]}
        />
      ) : null}
      <PlainTable
        label="Figures of the round"
        titles={['Figure', '>This round', ...(beside ? ['>Beside it'] : []), '>No round has less']}
        rows={rows.map(([word, value, least]) => ({
          key: word,
          cells: [
            word,
            value(figures),
            ...(beside ? [value(beside.figures)] : []),
            bounds ? least(bounds) : '',
          ],
        }))}
      />
      {left === null ? null : (
        <p className="quiet">
          One point is about a minute of a technician’s time. At most {left} points
          {figures.total > 0 ? `, ${Math.round((100 * left) / figures.total)} % of the total,` : ''} can still
          be won, what was put off by hand counted in; what can truly be won may be much less.
        </p>
      )}
    </section>
  );
}
