import { useState } from 'react';
import { Link } from 'wouter';
import { useCall } from '../../api/client.ts';
import { SequenceChart } from '../../charts/sequence/SequenceChart.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { SelectInput } from '../../ui/fields.tsx';
import type { BranchView } from '../../../shared/contract/air.ts';
import { gapBetween } from '../../../shared/trade/sequencing.ts';

type Actuator = BranchView['actuators'][number];

const figure = (value: number): string => String(Number(value.toFixed(2)));

function gapText(one: Actuator, other: Actuator, gain: number | null, isMeasured: boolean): string {
  const rangeOf = ({ start, end }: Actuator) =>
    isMeasured
      ? { start: start.measured?.value ?? NaN, end: end.measured?.value ?? NaN }
      : { start: start.nominal, end: end.nominal };
  const gap = gapBetween(rangeOf(one), rangeOf(other), gain ?? 1);
  if (Number.isNaN(gap.pressure)) return 'not measured';
  const degrees = gain === null ? '' : `, ${figure(Math.abs(gap.degrees))} degrees`;
  return `${gap.pressure < 0 ? 'overlap' : 'gap'} ${figure(Math.abs(gap.pressure))} psi${degrees}`;
}

/** The actuators of a controller's branch: where each begins and ends, and what lies between. Nothing with none. */
export function BranchSequence({ deviceId }: { deviceId: number }) {
  const { data: branch } = useCall('air.branch', { deviceId });
  const [chosen, setChosen] = useState('');
  if (!branch || branch.actuators.length === 0) return null;
  const role = branch.setpoints.find((one) => one.role === chosen)?.role ?? branch.setpoints[0]?.role ?? '';
  const gain = branch.setpoints.find((one) => one.role === role)?.gain ?? null;
  const inOrder = branch.actuators.toSorted((a, b) => a.start.nominal - b.start.nominal);
  const pairs = inOrder.slice(1).map((other, index) => [inOrder[index], other] as const);
  return (
    <section aria-label="Sequence">
      <h2>Sequence of the branch</h2>
      {branch.setpoints.length > 1 ? (
        <div className="controls">
          <SelectInput
            label="Degrees by the setpoint"
            value={role}
            onChange={setChosen}
            options={branch.setpoints.map((one) => ({ value: one.role, label: one.role }))}
          />
        </div>
      ) : null}
      <SequenceChart branch={branch} role={role} />
      <PlainTable
        label="Springs of the branch"
        titles={['Actuator', 'Carries', 'Normally', '>On paper, psi', '>As measured, psi', 'Measured']}
        rows={inOrder.map(({ id, tag, duty, normal, start, end }) => ({
          key: id,
          cells: [
            <Link key="tag" href={`/register/${id}`}>
              {tag}
            </Link>,
            duty ?? 'not noted',
            normal,
            `${figure(start.nominal)} to ${figure(end.nominal)}`,
            start.measured && end.measured
              ? `${figure(start.measured.value)} to ${figure(end.measured.value)}`
              : '–',
            end.measured?.on ?? 'never',
          ],
        }))}
      />
      {pairs.length > 0 ? (
        <PlainTable
          label="Between the springs"
          titles={['Between', 'On paper', 'As measured']}
          rows={pairs.map(([one, other]) => ({
            key: `${one.tag} ${other.tag}`,
            cells: [
              `${one.tag} and ${other.tag}`,
              gapText(one, other, gain, false),
              gapText(one, other, gain, true),
            ],
          }))}
        />
      ) : null}
    </section>
  );
}
