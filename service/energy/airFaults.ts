/** Open leaks, and devices that bleed more than their kind: current of the compressors. */
import type { allLeaks } from '../../db/airRecords.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { bandOf, scaled } from '../../shared/energy/band.ts';
import type { Band } from '../../shared/energy/band.ts';
import { bleedKindOfNode } from '../../shared/register/air/stationUse.ts';
import { mainOf, nearestAbove } from '../../shared/register/findings/network.ts';
import type { NetworkNode } from '../../shared/register/findings/network.ts';
import { bleedDefaults } from '../../shared/trade/air/budget.ts';
import { TYPICAL_KW_PER_SCFM, energyOfFlow } from '../../shared/trade/air/cost.ts';
import { SCIM_PER_SCFM, scfmOf } from '../../shared/trade/air/flow.ts';
import { moneyOf, nothingWeighed } from './amounts.ts';
import type { Draft } from './amounts.ts';
import type { EnergyFacts } from './zones.ts';

/** The size of a hole is a guess: twice or half as much flows as well (air-energy reference 4.8). */
const SIZE_DOUBT = 2;

type Facts = {
  leaks: Awaited<ReturnType<typeof allLeaks>>;
  /** kW a scfm by station. */
  power: ReadonlyMap<number, number>;
  on: PlainDate;
};

export function airEntries({ network, settings, zones }: EnergyFacts, { leaks, power, on }: Facts): Draft[] {
  const places = new Map(zones.map((zone) => [zone.deviceId, zone]));
  const entryOf = (
    node: NetworkNode,
    scfm: Band,
    own: Pick<Draft, 'kind' | 'words' | 'method'> & { minutes: number | null },
  ): Draft => {
    const station = nearestAbove(network, node, 'air_station');
    const kwPerScfm = (station && power.get(station.id)) ?? null;
    const kwh = scaled(scfm, energyOfFlow(1, kwPerScfm ?? TYPICAL_KW_PER_SCFM));
    const amounts = { ...nothingWeighed, kwh, money: moneyOf({ therms: null, kwh }, settings) };
    const place =
      places.get(node.id) ?? node.feeders.map((id) => places.get(id)).find((one) => one !== undefined);
    return {
      deviceId: node.id,
      tag: node.tag,
      role: '',
      building: place?.building ?? null,
      main: place?.main ?? mainOf(network, node)?.tag ?? null,
      errorDegF: null,
      isOutside: null,
      alone: amounts,
      inOrder: amounts,
      period: null,
      base: `8760 h, ${(kwPerScfm ?? TYPICAL_KW_PER_SCFM).toFixed(2)} kW a scfm ${kwPerScfm === null ? '(usual)' : `of ${station?.tag ?? ''}`}; its price is run time, wet air and low mains, too`,
      confidence: 'low',
      ...own,
    };
  };
  const entries: Draft[] = [];
  for (const leak of leaks) {
    const node = network.nodes.get(leak.device_id);
    const isOpen =
      leak.replacedBy === null &&
      leak.found_on <= on &&
      (leak.mended_on === null || leak.mended_on > on) &&
      leak.retired_on === null;
    if (!node || !isOpen) continue;
    const flow = {
      low: scfmOf(leak.low_scim_milli) / SIZE_DOUBT,
      central: scfmOf(leak.typical_scim_milli),
      high: scfmOf(leak.high_scim_milli) * SIZE_DOUBT,
    };
    entries.push(
      entryOf(node, flow, {
        kind: 'leak',
        words: `Leak at ${leak.place}, found ${leak.found_on}.`,
        method: 'flow through a hole',
        minutes: null,
      }),
    );
  }
  for (const node of network.nodes.values()) {
    const kind = bleedKindOfNode(node);
    const measured = node.ownBleed?.measured;
    if (kind === null || !measured || measured.on > on) continue;
    const usual = bleedDefaults[kind];
    if (measured.value <= usual.high) continue;
    const excess = bandOf(
      (measured.value - usual.high) / SCIM_PER_SCFM,
      (measured.value - usual.low) / SCIM_PER_SCFM,
    );
    entries.push(
      entryOf(node, excess, {
        kind: 'bleed',
        words: `Bleeds ${measured.value.toFixed(1)} scim, measured ${measured.on}; its kind ${usual.low} to ${usual.high}.`,
        method: 'measured bleed above its kind',
        minutes: null,
      }),
    );
  }
  return entries;
}
