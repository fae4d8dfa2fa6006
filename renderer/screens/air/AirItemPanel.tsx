import { Link } from 'wouter';
import { airText } from '../../charts/airTree/AirTree.tsx';
import type { TreeItem } from '../../charts/airTree/layout.ts';
import { Button } from '../../ui/Button.tsx';
import { AirState } from '../../ui/AirState.tsx';
import { minutesText } from '../../ui/format.ts';
import type { AirNode } from '../../../shared/contract/air.ts';
import type { AirOf, Conditions } from '../../../shared/register/air/airAt.ts';
import { downstreamOf } from '../../../shared/register/findings/network.ts';
import type { AirNetwork } from '../../../shared/register/findings/network.ts';
import { deviceClassLabels } from '../../../shared/trade/words.ts';

function devicesOf(item: TreeItem): AirNode[] {
  return [...(item.device ? [item.device] : []), ...item.children.flatMap(devicesOf)];
}

/** What an item feeds, directly or through others, what a relay pilots among it. */
export function belowOf(item: TreeItem, network: AirNetwork, byId: ReadonlyMap<number, AirNode>): AirNode[] {
  return item.device
    ? downstreamOf(network, item.device.node).flatMap(({ id }) => byId.get(id) ?? [])
    : item.children.flatMap(devicesOf);
}

function sumsOf(below: readonly AirNode[]) {
  const rooms = new Set(
    below.flatMap(({ building, room }) => (room === null ? [] : [`${building} ${room}`])),
  );
  const setpoints = below.reduce(
    (sum, { node }) => sum + (node.class === 'controller' ? node.setpoints.length : 0),
    0,
  );
  const minutes = below.reduce((sum, one) => sum + one.minutes, 0);
  return { devices: below.length, rooms: rooms.size, setpoints, minutes };
}

/** One device of the tree: its air and why, what its failure touches, and what may be supposed of it. */
export function AirItemPanel({
  item,
  own,
  below,
  conditions,
  onSuppose,
}: {
  item: TreeItem;
  own: AirOf | undefined;
  below: readonly AirNode[];
  conditions: Conditions;
  onSuppose: (change: { coil?: boolean | null; isLost?: boolean }) => void;
}) {
  const sums = sumsOf(below);
  const node = item.device?.node;
  const coil = node ? conditions.coils.get(node.id) : undefined;
  return (
    <section aria-label={`Of the tree, ${item.label}`} className="panel">
      <h2>
        {node ? <Link href={`/register/${node.id}`}>{item.label}</Link> : item.label}{' '}
        <span className="subtitle">{node ? deviceClassLabels[node.class] : ''}</span>
      </h2>
      {own ? (
        <p>
          {own.state ? <AirState state={own.state} /> : null} {airText(own)}
          {own.measuredOn === null ? '' : `, measured ${own.measuredOn}`}
          {own.why === '' ? '' : ` (${own.why})`}
        </p>
      ) : null}
      <p>
        {sums.devices === 0
          ? 'It feeds nothing.'
          : `Below it: ${sums.devices} devices, ${sums.setpoints} setpoints in ${sums.rooms} rooms, ${minutesText(sums.minutes)} of work, by itself or with others.`}
      </p>
      {item.device && item.device.stops + item.device.looks > 0 ? (
        <p>
          {item.device.stops + item.device.looks} open findings:{' '}
          <Link href={`/register/${item.device.node.id}`}>see them on its page</Link>.
        </p>
      ) : null}
      {node?.class === 'switchover_relay' ? (
        <div className="actions">
          <Button isDisabled={coil === true} onPress={() => onSuppose({ coil: true })}>
            Suppose it energised
          </Button>
          <Button isDisabled={coil === false} onPress={() => onSuppose({ coil: false })}>
            Suppose it without current
          </Button>
          <Button isDisabled={coil === undefined} onPress={() => onSuppose({ coil: null })}>
            As it is
          </Button>
        </div>
      ) : null}
      {node?.class === 'air_station' ? (
        <div className="actions">
          <Link href={`/register/station/${node.id}`} className="button button-plain">
            Station sheet
          </Link>
          <Button onPress={() => onSuppose({ isLost: !conditions.lost.has(node.id) })}>
            {conditions.lost.has(node.id) ? 'Suppose it runs again' : 'Suppose it fails'}
          </Button>
        </div>
      ) : null}
    </section>
  );
}
