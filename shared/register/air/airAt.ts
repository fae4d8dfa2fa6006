/**
 * Where which air stands at a moment: from time switches, holidays, hand switches, seasons and power, down to every device;
 * and what changes when a relay is energised, the power goes, or a station fails. Pressures in psi, as they are known best.
 * The rules of relays and regulators are those of `trade/switchover` (pneumatics reference 5).
 */
import { addDays } from '../../dates/plainDate.ts';
import type { PlainDate } from '../../dates/plainDate.ts';
import { thermalDutyOf } from '../../trade/actionMatch.ts';
import { airStateOfCoil, relayArrangement } from '../../trade/switchover.ts';
import type { AirState } from '../../trade/switchover.ts';
import { bestOf, downstreamOf } from '../findings/network.ts';
import type { AirNetwork, MainNode, NetworkNode, RegulatorNode, RelayNode } from '../findings/network.ts';
import { programmeStateAt, seasonStateAt } from './programme.ts';

export type Conditions = {
  date: PlainDate;
  /** Local clock, 0 to 1439. */
  minute: number;
  hasPower: boolean;
  /** Stations that give no air. */
  lost: ReadonlySet<number>;
  /** Coils that are held by hand: energised or not, whatever drives them. */
  coils: ReadonlyMap<number, boolean>;
  /** Minutes that a time switch is ahead of the clock, such as 60 where nobody set it back; else as it was read last. */
  ahead: ReadonlyMap<number, number>;
};

export type AirOf = {
  /** Null where nothing is known of a state, and on what has one pressure. */
  state: AirState | null;
  /** 0 where the air is lost; null where no pressure is known, as in a branch. */
  psi: number | null;
  /** When that pressure was read; null: it is a setting. */
  measuredOn: PlainDate | null;
  hasAir: boolean;
  /** Of a relay: whether its coil has current. */
  energised: boolean | null;
  /** What decides, in words. */
  why: string;
};

const DAY = 1440;

function clockOf({ date, minute }: Conditions, ahead: number): { date: PlainDate; minute: number } {
  const total = minute + ahead;
  const days = Math.floor(total / DAY);
  return { date: addDays(date, days), minute: total - days * DAY };
}

/** The main that a relay decides over: the nearest, through the regulator that it pilots, or directly. */
function mainBelow(network: AirNetwork, from: RelayNode): MainNode | null {
  return downstreamOf(network, from).find((one) => one.class === 'main') ?? null;
}

/** Air at every device of a network. A device on a supply loop has no air. */
export function airAt(network: AirNetwork, conditions: Conditions): Map<number, AirOf> {
  const known = new Map<number, AirOf>();
  const asking = new Set<number>();
  const nowhere: AirOf = {
    state: null,
    psi: 0,
    measuredOn: null,
    hasAir: false,
    energised: null,
    why: 'no air',
  };

  function of(id: number): AirOf {
    const held = known.get(id);
    if (held) return held;
    const node = network.nodes.get(id);
    if (!node || asking.has(id)) return nowhere;
    asking.add(id);
    const answer = workOut(node);
    asking.delete(id);
    known.set(id, answer);
    return answer;
  }

  function feederNodes(node: NetworkNode): NetworkNode[] {
    return node.feeders.flatMap((id) => network.nodes.get(id) ?? []);
  }

  function isFed(node: NetworkNode): boolean {
    return node.feeders.some((id) => of(id).hasAir);
  }

  function coil(relay: RelayNode): { energised: boolean; why: string } {
    const { coils, hasPower, ahead } = conditions;
    const byHand = coils.get(relay.id);
    if (byHand === true && !hasPower) return { energised: false, why: 'no power' };
    if (byHand !== undefined)
      return { energised: byHand, why: `held ${byHand ? 'energised' : 'de-energised'} by hand` };
    if (!hasPower) return { energised: false, why: 'no power' };
    const main = mainBelow(network, relay);
    const season = main && seasonStateAt(main.seasons, conditions.date);
    const natural = season ?? main?.naturalState ?? 'low';
    const clock = relay.timeSwitchId === null ? undefined : network.nodes.get(relay.timeSwitchId);
    const isTimed = clock?.class === 'time_switch' && season === null;
    const shown = isTimed ? Math.round(ahead.get(clock.id) ?? clock.ahead?.minutes ?? 0) : 0;
    const wanted = isTimed
      ? programmeStateAt({ ...clock, holidays: new Set(clock.holidays) }, clockOf(conditions, shown), natural)
      : natural;
    return {
      energised: wanted === relay.energisedState,
      why: isTimed
        ? `by ${clock.tag}${shown === 0 ? '' : `, its clock ${Math.abs(shown)} min ${shown > 0 ? 'ahead' : 'behind'}`}`
        : season
          ? 'by the season'
          : `by the ${relay.drivenBy ?? 'natural state of its main'}`,
    };
  }

  function ofRelay(relay: RelayNode): AirOf {
    const { energised, why } = coil(relay);
    const state = airStateOfCoil(relay.ports, energised);
    const chosen =
      relayArrangement(relay.ports) === 'select'
        ? feederNodes(relay)
            .filter((one): one is RegulatorNode => one.class === 'regulator')
            .toSorted((a, b) => a.low - b.low)
            .at(state === 'high' ? -1 : 0)
        : undefined;
    const hasAir = chosen ? of(chosen.id).hasAir : isFed(relay);
    return { state, psi: chosen ? of(chosen.id).psi : null, measuredOn: null, hasAir, energised, why };
  }

  function ofRegulator(regulator: RegulatorNode): AirOf {
    const hasAir = isFed(regulator);
    const pilot = regulator.pilotBy === null ? null : of(regulator.pilotBy);
    // A pilot without air is vented: the low pressure.
    const state = regulator.kind === 'single' || pilot === null ? null : pilot.hasAir ? pilot.state : 'low';
    const set = state === 'high' ? (regulator.high ?? regulator.low) : regulator.low;
    return {
      state,
      psi: hasAir ? set : 0,
      measuredOn: null,
      hasAir,
      energised: null,
      why: pilot === null ? 'its setting' : pilot.why,
    };
  }

  function ofMain(main: MainNode): AirOf {
    const hasAir = isFed(main);
    const above = feederNodes(main).map((one) => of(one.id));
    const driven = above.find(({ state }) => state !== null);
    const isForced = conditions.coils.size > 0 || !conditions.hasPower;
    const season = seasonStateAt(main.seasons, conditions.date);
    const [state, why]: [AirState | null, string] =
      main.kind === 'single'
        ? [null, 'one pressure']
        : main.isHeld && !isForced
          ? [main.naturalState, 'held as it was left']
          : driven
            ? [driven.state, driven.why]
            : [season ?? main.naturalState, season ? 'by the season' : 'its natural state'];
    const figure = state === 'high' ? main.high : main.low;
    const known = figure && hasAir ? bestOf(figure) : null;
    return {
      state,
      psi: hasAir ? (known?.value ?? null) : 0,
      measuredOn: known?.on ?? null,
      hasAir,
      energised: null,
      why,
    };
  }

  function workOut(node: NetworkNode): AirOf {
    switch (node.class) {
      case 'air_station': {
        const hasAir = !conditions.lost.has(node.id);
        return {
          state: null,
          psi: hasAir ? null : 0,
          measuredOn: null,
          hasAir,
          energised: null,
          why: hasAir ? '' : 'lost',
        };
      }
      case 'switchover_relay':
        return ofRelay(node);
      case 'regulator':
        return ofRegulator(node);
      case 'main':
        return ofMain(node);
      case 'time_switch':
        return { ...nowhere, psi: null, why: '' };
      default: {
        const above = node.feeders.map(of);
        const first = above.find(({ hasAir }) => hasAir) ?? above[0] ?? nowhere;
        const isBranch = node.class === 'actuator';
        return { ...first, energised: null, psi: first.hasAir ? (isBranch ? null : first.psi) : 0 };
      }
    }
  }

  for (const id of network.nodes.keys()) of(id);
  return known;
}

export type Changed = {
  main: MainNode;
  from: AirOf;
  to: AirOf;
  /** Setpoints that rule after and did not before, by role. */
  wakes: { role: string; count: number }[];
  /** Actuators that go to their spring position for want of air. */
  heatOpens: number;
  heatShuts: number;
  coolOpens: number;
  coolShuts: number;
  /** Coils that carry hot or chilled water by season. */
  coilOpens: number;
  coilShuts: number;
};

/** The mains whose air differs between two sets of conditions, with what follows for rooms. */
export function whatChanges(
  network: AirNetwork,
  before: ReadonlyMap<number, AirOf>,
  after: ReadonlyMap<number, AirOf>,
): Changed[] {
  const changed: Changed[] = [];
  for (const main of network.nodes.values()) {
    if (main.class !== 'main') continue;
    const [from, to] = [before.get(main.id), after.get(main.id)];
    if (!from || !to || (from.state === to.state && from.hasAir === to.hasAir && from.psi === to.psi))
      continue;
    changed.push({ main, from, to, ...followsFor(network, main, { from, to }) });
  }
  return changed.toSorted((a, b) => a.main.tag.localeCompare(b.main.tag, 'en', { numeric: true }));
}

function followsFor(
  network: AirNetwork,
  main: MainNode,
  { from, to }: { from: AirOf; to: AirOf },
): Omit<Changed, 'main' | 'from' | 'to'> {
  const wakes = new Map<string, number>();
  const count = { heatOpens: 0, heatShuts: 0, coolOpens: 0, coolShuts: 0, coilOpens: 0, coilShuts: 0 };
  const meaning = to.state === 'high' ? main.highMeans : to.state === 'low' ? main.lowMeans : null;
  for (const node of downstreamOf(network, main)) {
    if (node.class === 'controller' && to.hasAir && from.state !== to.state)
      for (const { role } of node.setpoints)
        if (role === meaning) wakes.set(role, (wakes.get(role) ?? 0) + 1);
    if (node.class !== 'actuator' || to.hasAir) continue;
    const duty = thermalDutyOf(node.duty);
    const opens = node.normal === 'open';
    if (duty === 'heating') count[opens ? 'heatOpens' : 'heatShuts'] += 1;
    if (duty === 'cooling') count[opens ? 'coolOpens' : 'coolShuts'] += 1;
    if (node.duty === 'changeover coil') count[opens ? 'coilOpens' : 'coilShuts'] += 1;
  }
  return { wakes: [...wakes].map(([role, of]) => ({ role, count: of })), ...count };
}
