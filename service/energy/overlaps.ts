/** Heating and cooling of one branch that are open at once: heat and cold that are paid for against each other. */
import { bandOf, widened } from '../../shared/energy/band.ts';
import { BTU_PER_THERM } from '../../shared/energy/heating.ts';
import { sequencePairs, springOf } from '../../shared/register/findings/network.ts';
import { gapBetween, overlapWaste } from '../../shared/trade/sequencing.ts';
import { moneyOf, nothingWeighed } from './amounts.ts';
import type { Draft } from './amounts.ts';
import type { EnergyFacts } from './zones.ts';

const BTU_PER_TON_HOUR = 12_000;
const SAME_PSI = 0.05;

/** One entry a pair that overlaps. Without the loads of both coils it has no energy. */
export function overlapEntries(
  { network, settings, zones }: EnergyFacts,
  loads: ReadonlyMap<number, number>,
): Draft[] {
  const places = new Map(zones.map((zone) => [zone.deviceId, zone]));
  const entries: Draft[] = [];
  for (const node of network.nodes.values()) {
    if (node.class !== 'controller') continue;
    for (const { warm, cold } of sequencePairs(network, node)) {
      const [one, other] = [springOf(warm), springOf(cold)];
      const overlap = -gapBetween(one, other, 1).pressure;
      if (overlap <= SAME_PSI) continue;
      const place = places.get(node.id);
      const efficiency = place?.efficiency ?? null;
      const [heat, cool] = [loads.get(warm.id), loads.get(cold.id)];
      const isKnown = heat !== undefined && cool !== undefined && efficiency !== null;
      const waste = isKnown
        ? overlapWaste(overlap, heat / (one.end - one.start), cool / (other.end - other.start)).mean *
          settings.overlapHours
        : 0;
      // The hours are a guess: half or twice as many.
      const guessed = bandOf(waste / 2, waste * 1.5);
      const own = isKnown
        ? {
            therms: widened(guessed, 1 / (efficiency * BTU_PER_THERM), 0),
            kwh: widened(guessed, settings.kwPerTon / BTU_PER_TON_HOUR, 0),
          }
        : { therms: null, kwh: null };
      const amounts = { ...nothingWeighed, ...own, money: moneyOf(own, settings) };
      entries.push({
        kind: 'overlap',
        deviceId: node.id,
        tag: node.tag,
        role: '',
        building: place?.building ?? null,
        main: place?.main ?? null,
        words: `${warm.tag} heats and ${cold.tag} cools at once over ${overlap.toFixed(1)} psi${one.isMeasured && other.isMeasured ? '' : ', by the ranges on paper'}.`,
        errorDegF: null,
        isOutside: null,
        alone: amounts,
        inOrder: amounts,
        period: null,
        method: 'overlap of linear coils; a low estimate of others',
        base: isKnown
          ? `full loads ${heat} and ${cool} Btu/h, ${settings.overlapHours} h a year in the overlap, ${settings.kwPerTon} kW a ton`
          : 'full loads of both coils, or the heating efficiency, are not known',
        confidence: 'low',
        minutes: null,
      });
    }
  }
  return entries;
}
