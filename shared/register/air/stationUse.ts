/** What hangs on a station takes while nothing moves: by kind, and by the device where its own use is known. */
import { airBudget, bleedKindOf } from '../../trade/air/budget.ts';
import type { BleedKind, Budget } from '../../trade/air/budget.ts';
import { downstreamOf } from '../findings/network.ts';
import type { AirNetwork, NetworkNode, OwnBleed, StationNode } from '../findings/network.ts';

/** The kind by which a node bleeds; null for what the budget does not count. */
export function bleedKindOfNode(node: NetworkNode): BleedKind | null {
  return bleedKindOf({
    class: node.class,
    controllerKind: node.class === 'controller' ? node.kind : null,
    pipes: node.class === 'controller' ? node.pipes : null,
    positioner: node.class === 'actuator' ? node.positioner : null,
  });
}

/** scim by the newest measurement, else by the device's sheet; null where neither is known. */
export function knownBleed(own: OwnBleed | null): number | null {
  return own?.measured?.value ?? own?.sheet ?? null;
}

/** The budget of a station: everything below it, each device once. */
export function budgetOf(network: AirNetwork, station: StationNode): Budget {
  const counts = new Map<BleedKind, number>();
  const known = new Map<BleedKind, { count: number; scim: number }>();
  for (const node of downstreamOf(network, station)) {
    const kind = bleedKindOfNode(node);
    if (kind === null) continue;
    const own = knownBleed(node.ownBleed);
    if (own === null) counts.set(kind, (counts.get(kind) ?? 0) + 1);
    else {
      const sum = known.get(kind) ?? { count: 0, scim: 0 };
      known.set(kind, { count: sum.count + 1, scim: sum.scim + own });
    }
  }
  return airBudget(counts, known);
}
