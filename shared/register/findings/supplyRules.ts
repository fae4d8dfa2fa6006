/** Findings of the supply: paths, mains, relays, reliefs and time switches. Bases: pneumatics reference 1.3, 5, 6. */
import { addDays, daysBetween } from '../../dates/plainDate.ts';
import type { PlainDate } from '../../dates/plainDate.ts';
import { airStateOnPowerLoss, relayAgrees, relayArrangement } from '../../trade/switchover.ts';
import { psiText } from './finding.ts';
import type { Finding } from './finding.ts';
import type { AirNetwork, NetworkNode, RegulatorNode, RelayNode, TimeSwitchNode } from './network.ts';

type Told = Omit<Finding, 'deviceId' | 'tag' | 'about' | 'figures'> &
  Partial<Pick<Finding, 'about' | 'figures'>>;

/** A finding of a node. */
export function of(node: NetworkNode, told: Told): Finding {
  return { deviceId: node.id, tag: node.tag, about: '', figures: {}, ...told };
}

/** What a rule lacks. */
export function lacking(
  node: NetworkNode,
  code: Finding['code'],
  field: string,
  about: string = '',
): Finding {
  return of(node, {
    code,
    severity: 'not checked',
    about,
    figures: { missing: field },
    words: `Not checked: ${field} is not in the register.`,
    advice: `Fill in ${field}.`,
  });
}

const needsSupply: ReadonlySet<string> = new Set([
  'regulator',
  'switchover_relay',
  'main',
  'controller',
  'transmitter',
]);

/** `supply-orphan`, `supply-loop`: every path up from a device. */
export function supplyPathRule(network: AirNetwork, node: NetworkNode): Finding[] {
  let reachesStation = node.class === 'air_station';
  let isLoop = false;
  const done = new Set<number>();
  const walk = (one: NetworkNode, path: ReadonlySet<number>): void => {
    if (one.class === 'air_station') reachesStation = true;
    for (const id of one.feeders) {
      if (id === node.id || path.has(id)) {
        isLoop = isLoop || id === node.id;
        continue;
      }
      const feeder = network.nodes.get(id);
      if (!feeder || done.has(id)) continue;
      done.add(id);
      walk(feeder, new Set(path).add(id));
    }
  };
  walk(node, new Set([node.id]));
  const findings: Finding[] = [];
  if (isLoop)
    findings.push(
      of(node, {
        code: 'supply-loop',
        severity: 'stop',
        words: 'Its supply path comes back to itself.',
        advice: 'Follow the tubing and correct what feeds what.',
      }),
    );
  if (!reachesStation && needsSupply.has(node.class))
    findings.push(
      of(node, {
        code: 'supply-orphan',
        severity: 'stop',
        words: 'No path leads up to an air station.',
        advice: 'Find where its air comes from and enter what feeds it.',
      }),
    );
  return findings;
}

/** `relay-ports`: ports, coil state and arrangement agree. */
export function relayPortsRule(network: AirNetwork, relay: RelayNode): Finding[] {
  const { ports, energisedState, pilots } = relay;
  const figures = {
    'open without current': ports.no,
    'open with current': ports.nc,
    'air state energised': energisedState,
  };
  const stop = (words: string, advice: string): Finding[] => [
    of(relay, { code: 'relay-ports', severity: 'stop', figures, words, advice }),
  ];
  const arrangement = relayArrangement(ports);
  if (arrangement === null)
    return stop(
      `Its ports hold ${ports.no} and ${ports.nc}: neither a pilot (supply air and exhaust) nor a choice of two regulators.`,
      'See what sits on each port and enter that.',
    );
  if (!relayAgrees(ports, energisedState))
    return stop(
      `With current it gives the ${energisedState === 'low' ? 'high' : 'low'} state by its ports, and the register says ${energisedState}.`,
      'Energise it and see which pressure comes; correct the ports or the state.',
    );
  const regulatorsPiloted = pilots.flatMap((id) => network.nodes.get(id) ?? []);
  if (arrangement === 'pilot') {
    if (pilots.length === 0)
      return stop(
        'It has supply air and exhaust, as for a pilot, and pilots no regulator.',
        'Enter it as the pilot of the two-pressure regulator, or correct its ports.',
      );
    const single = regulatorsPiloted.find((one) => one.class === 'regulator' && one.kind === 'single');
    return single
      ? stop(
          `It pilots ${single.tag}, which has a single pressure.`,
          'Correct the kind of the regulator, or what pilots it.',
        )
      : [];
  }
  const feeders = relay.feeders.flatMap((id) => network.nodes.get(id) ?? []);
  const regulators = feeders.filter((one): one is RegulatorNode => one.class === 'regulator');
  if (regulators.length !== 2)
    return stop(
      `It chooses between two regulators and is fed by ${regulators.length}.`,
      'Enter both regulators as what feeds it.',
    );
  return regulators[0].low === regulators[1].low
    ? stop(
        `Both regulators that it chooses between are set to ${psiText({ value: regulators[0].low })}.`,
        'Set one low and one high, or correct their settings in the register.',
      )
    : [];
}

/** `relay-fail-state`: where the air goes without current. */
export function relayFailStateRule(_: AirNetwork, relay: RelayNode): Finding[] {
  const given = airStateOnPowerLoss(relay.ports);
  if (given === null) return [];
  if (relay.powerLossState === null)
    return [lacking(relay, 'relay-fail-state', 'the state wanted on power loss')];
  return given === relay.powerLossState
    ? []
    : [
        of(relay, {
          code: 'relay-fail-state',
          severity: 'look',
          figures: { wanted: relay.powerLossState, given },
          words: `Without current it gives ${given}; ${relay.powerLossState} is wanted when the power fails.`,
          advice: 'Swap the ports and the drive, or settle which state is safe in frost and in heat.',
        }),
      ];
}

/** `relay-undriven`. */
export function relayUndrivenRule(_: AirNetwork, relay: RelayNode): Finding[] {
  return relay.drivenBy !== null
    ? []
    : [
        of(relay, {
          code: 'relay-undriven',
          severity: 'stop',
          words: 'No time switch, hand switch or signal drives it.',
          advice: 'Find what switches its coil and enter that.',
        }),
      ];
}

/** `relief-low`: the relief valve stands above the highest setting. */
export function reliefRule(_: AirNetwork, regulator: RegulatorNode): Finding[] {
  const highest = Math.max(regulator.low, regulator.high ?? regulator.low);
  if (regulator.relief === null) return [lacking(regulator, 'relief-low', 'the relief setting')];
  return regulator.relief > highest
    ? []
    : [
        of(regulator, {
          code: 'relief-low',
          severity: 'stop',
          figures: {
            relief: psiText({ value: regulator.relief }),
            'highest setting': psiText({ value: highest }),
          },
          words: `The relief is set to ${psiText({ value: regulator.relief })}, not above the highest setting of ${psiText({ value: highest })}.`,
          advice:
            'Have the relief set above the highest setting, or find the right figure; it is a safety device.',
        }),
      ];
}

const WEEKDAYS = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday', 'Sunday'] as const;
const HOLIDAYS_AHEAD_DAYS = 60;

/** `time-switch-gap`: every day has a programme, and the holidays reach far enough. */
export function timeSwitchRule(_: AirNetwork, clock: TimeSwitchNode, today: PlainDate): Finding[] {
  const findings: Finding[] = [];
  const bare =
    clock.restState !== null
      ? []
      : WEEKDAYS.filter(
          (_day, index) => !clock.spans.some(({ weekdays }) => weekdays.includes(String(index + 1))),
        );
  if (bare.length > 0 || (clock.spans.length === 0 && clock.restState === null))
    findings.push(
      of(clock, {
        code: 'time-switch-gap',
        severity: 'look',
        about: 'programme',
        figures: { days: bare.join(', ') },
        words: `It has no programme for ${bare.join(', ')}, and no state for other times.`,
        advice: 'Read its programme and enter it, with the state at other times.',
      }),
    );
  const last = clock.holidays.toSorted().at(-1) ?? null;
  if (last === null || last < addDays(today, HOLIDAYS_AHEAD_DAYS))
    findings.push(
      of(clock, {
        code: 'time-switch-gap',
        severity: 'look',
        about: 'holidays',
        figures: { 'last holiday': last ?? 'none' },
        words:
          last === null
            ? 'It has no holidays.'
            : last < today
              ? `Its holidays ended on ${last}.`
              : `Its holidays end on ${last}, in ${daysBetween(today, last)} days.`,
        advice: 'Load the holidays of the coming year into the switch and the register.',
      }),
    );
  return findings;
}
