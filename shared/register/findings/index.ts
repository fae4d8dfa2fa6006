/** Every finding of a network, in the order of the codes: stops first, then looks, then what was not checked. */
import type { PlainDate } from '../../dates/plainDate.ts';
import {
  actionRule,
  calibrationPressureRule,
  changeoverRule,
  mainRule,
  pointRule,
  sequenceRule,
  strokeRule,
} from './controllerRules.ts';
import { findingCodes } from './finding.ts';
import type { Finding, Severity } from './finding.ts';
import type { AirNetwork, NetworkNode } from './network.ts';
import { airBudgetRule, airQualityRule, runShareRule } from './stationRules.ts';
import {
  relayFailStateRule,
  relayPortsRule,
  relayUndrivenRule,
  reliefRule,
  supplyPathRule,
  timeSwitchRule,
} from './supplyRules.ts';

function ofNode(network: AirNetwork, node: NetworkNode, today: PlainDate): Finding[] {
  const path = supplyPathRule(network, node);
  switch (node.class) {
    case 'air_station':
      return [
        ...path,
        ...airBudgetRule(network, node),
        ...runShareRule(network, node),
        ...airQualityRule(network, node),
      ];
    case 'regulator':
      return [...path, ...reliefRule(network, node)];
    case 'switchover_relay':
      return [
        ...path,
        ...relayPortsRule(network, node),
        ...relayFailStateRule(network, node),
        ...relayUndrivenRule(network, node),
      ];
    case 'time_switch':
      return timeSwitchRule(network, node, today);
    case 'controller':
      return [
        ...path,
        ...mainRule(network, node),
        ...changeoverRule(network, node),
        ...actionRule(network, node),
        ...sequenceRule(network, node),
        ...calibrationPressureRule(network, node),
      ];
    case 'actuator':
      return strokeRule(network, node);
    default:
      return path;
  }
}

const severities: readonly Severity[] = ['stop', 'look', 'not checked'];

/** All findings on a day; of some devices where `only` names them. */
export function findingsOf(
  network: AirNetwork,
  today: PlainDate,
  only: ReadonlySet<number> | null = null,
): Finding[] {
  const findings: Finding[] = [];
  for (const node of network.nodes.values()) findings.push(...ofNode(network, node, today));
  for (const point of network.points) {
    const node = network.nodes.get(point.deviceId);
    if (node) findings.push(...pointRule(node, point, today));
  }
  const rank = new Map(findingCodes.map((code, index) => [code, index]));
  return findings
    .filter(({ deviceId }) => only === null || only.has(deviceId))
    .toSorted(
      (a, b) =>
        severities.indexOf(a.severity) - severities.indexOf(b.severity) ||
        (rank.get(a.code) ?? 0) - (rank.get(b.code) ?? 0) ||
        a.tag.localeCompare(b.tag, 'en', { numeric: true }) ||
        a.about.localeCompare(b.about),
    );
}
