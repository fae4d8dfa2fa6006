/** Switchovers that do not work, and the zones that never see their night: open follow-ups, and pressures that do not reach. */
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { findingsOf } from '../../shared/register/findings/index.ts';
import { downstreamOf, mainOf } from '../../shared/register/findings/network.ts';
import type { AirNetwork, NetworkNode } from '../../shared/register/findings/network.ts';

export type SwitchFault = {
  deviceId: number;
  tag: string;
  words: string;
  minutes: number | null;
  zoneIds: number[];
};

type Facts = {
  followUps: readonly { deviceId: number; tag: string; cause: string; openedAt: string }[];
  minutes: ReadonlyMap<number, number>;
  today: PlainDate;
  /** Controllers with a setpoint for the night. */
  zoneIds: ReadonlySet<number>;
};

/** What a time switch drives hangs on its relays. */
function belowOf(network: AirNetwork, node: NetworkNode): NetworkNode[] {
  if (node.class !== 'time_switch') return downstreamOf(network, node);
  return [...network.nodes.values()]
    .filter((one) => one.class === 'switchover_relay' && one.timeSwitchId === node.id)
    .flatMap((relay) => downstreamOf(network, relay));
}

/** The state that asks for the night at a controller; null where its main means something else. */
function nightState(network: AirNetwork, node: NetworkNode): 'low' | 'high' | null {
  const main = mainOf(network, node);
  return main?.highMeans === 'unoccupied' ? 'high' : main?.lowMeans === 'unoccupied' ? 'low' : null;
}

/** The faults, in the order in which they are mended: what somebody reported, then what pressures tell. A zone is counted with the first. */
export function switchFaults(
  network: AirNetwork,
  { followUps, minutes, today, zoneIds }: Facts,
): SwitchFault[] {
  const faults: SwitchFault[] = [];
  for (const { deviceId, tag, cause, openedAt } of followUps) {
    const node = network.nodes.get(deviceId);
    if (!node) continue;
    faults.push({
      deviceId,
      tag,
      words: `Open since ${openedAt.slice(0, 10)}: ${cause}. Taken to stay at the occupied pressure.`,
      minutes: minutes.get(deviceId) ?? null,
      zoneIds: [...new Set(belowOf(network, node).flatMap(({ id }) => (zoneIds.has(id) ? [id] : [])))],
    });
  }
  const failing = new Map<number, Set<number>>();
  const isFailing = { low: 'low-above-rating', high: 'high-below-rating' } as const;
  for (const { code, severity, deviceId } of findingsOf(network, today)) {
    if (severity === 'not checked' || (code !== isFailing.low && code !== isFailing.high)) continue;
    const node = network.nodes.get(deviceId);
    if (!node) continue;
    for (const { id } of [node, ...downstreamOf(network, node)]) {
      const own = network.nodes.get(id);
      if (!own || !zoneIds.has(id)) continue;
      const state = nightState(network, own);
      const main = mainOf(network, own);
      if (state === null || main === null || isFailing[state] !== code) continue;
      failing.set(main.id, (failing.get(main.id) ?? new Set()).add(id));
    }
  }
  for (const [mainId, ids] of failing) {
    const main = network.nodes.get(mainId);
    if (main)
      faults.push({
        deviceId: mainId,
        tag: main.tag,
        words: 'Its pressure does not reach the rated changeover for the night.',
        minutes: minutes.get(mainId) ?? null,
        zoneIds: [...ids],
      });
  }
  return faults.filter((fault) => fault.zoneIds.length > 0);
}
