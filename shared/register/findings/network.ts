/**
 * The air side of a register as the findings see it: devices with their feeds, pressures in psi, temperatures in degF. Where
 * something was measured the newest figure stands beside the nominal one, with its date.
 */
import type { PlainDate } from '../../dates/plainDate.ts';
import type { NormalPosition } from '../../trade/actuators.ts';
import type { CalibrationBasis, ControllerAction } from '../../trade/proportional.ts';
import { thermalDutyOf } from '../../trade/actionMatch.ts';
import type { AirState, PortContent } from '../../trade/switchover.ts';
import type { DeviceClass } from '../../trade/words.ts';
import type { Seasons } from '../air/programme.ts';

/** psi; `tolerance` is what its test point allows. */
export type Figure = {
  nominal: number;
  measured: Measured | null;
  tolerance: number;
};

/** What was read last, and when. */
export type Measured = { value: number; on: PlainDate };

export type OwnBleed = { sheet: number | null; measured: Measured | null };

export type NetworkBase = {
  id: number;
  tag: string;
  class: DeviceClass;
  inServiceOn: PlainDate | null;
  /** What feeds it air, and what it feeds, in the order of the register. Retired ones are not in the network. */
  feeders: number[];
  fed: number[];
  /** What it takes while nothing moves, scim, where it was measured or its sheet says it; null: by its kind. */
  ownBleed: OwnBleed | null;
};

export type StationNode = NetworkBase & {
  class: 'air_station';
  /** scfm: of the register, and of the newest pump-up test. */
  capacity: { nominal: number | null; measured: Measured | null };
  coldestDegF: number | null;
  dewPoint: { degF: number; psi: number; on: PlainDate } | null;
  /** The newest share of the time that it ran, 0 to 1, of a card or a test. */
  run: { share: number; on: PlainDate } | null;
  /** Of the newest test of each: mg/m3, and micrometres. */
  oil: Measured | null;
  particle: Measured | null;
};
export type RegulatorNode = NetworkBase & {
  class: 'regulator';
  kind: 'single' | 'two-pressure';
  low: number;
  high: number | null;
  relief: number | null;
  pilotBy: number | null;
};
export type RelayNode = NetworkBase & {
  class: 'switchover_relay';
  ports: { no: PortContent; nc: PortContent };
  energisedState: AirState;
  powerLossState: AirState | null;
  drivenBy: 'time switch' | 'hand switch' | 'building signal' | null;
  timeSwitchId: number | null;
  /** Regulators whose pilot it is. */
  pilots: number[];
};
export type TimeSwitchNode = NetworkBase & {
  class: 'time_switch';
  /** Minutes by which its clock was ahead of the right time when it was read last. */
  ahead: { minutes: number; on: PlainDate } | null;
  spans: { weekdays: string; from: number; to: number; state: AirState }[];
  restState: AirState | null;
  holidays: PlainDate[];
};
export type MainNode = NetworkBase & {
  class: 'main';
  kind: 'single' | 'two-pressure';
  lowMeans: string | null;
  highMeans: string | null;
  low: Figure;
  high: Figure | null;
  seasons: Seasons;
  /** Its state where neither a season nor a time switch says another. */
  naturalState: AirState;
  /** Stays as it was left, its time switch overridden. */
  isHeld: boolean;
};
export type SetpointFacts = {
  role: string;
  action: ControllerAction;
  /** Pressure by the unit of the scale; null on a scale that is no temperature. */
  gain: number;
  /** Unit of a difference of its scale. */
  unit: 'degF' | 'degC' | 'percent';
  outputLow: number;
  outputHigh: number;
  basis: CalibrationBasis;
  stated: number | null;
};
export type ControllerNode = NetworkBase & {
  class: 'controller';
  kind: 'single' | 'two-setpoint' | 'changeover' | 'receiver' | 'humidity';
  rated: { low: number; high: number } | null;
  trips: { rising: number; falling: number } | null;
  pipes: string | null;
  setpoints: SetpointFacts[];
};
export type ActuatorNode = NetworkBase & {
  class: 'actuator';
  start: Figure;
  end: Figure;
  normal: NormalPosition;
  duty: string | null;
  positioner: string | null;
};
export type TransmitterNode = NetworkBase & { class: 'transmitter' };

export type NetworkNode =
  | StationNode
  | RegulatorNode
  | RelayNode
  | TimeSwitchNode
  | MainNode
  | ControllerNode
  | ActuatorNode
  | TransmitterNode;

/** One test point with what its newest record used. */
export type PointFacts = {
  deviceId: number;
  kind: string;
  role: string;
  toleranceText: string;
  /** Tolerance over the error limit of what it was read with, the worst of its instruments; null where that is not known. */
  ratio: number | null;
  intervalDays: number;
  lastDoneOn: PlainDate | null;
  isRead: boolean;
};

export type AirNetwork = {
  nodes: ReadonlyMap<number, NetworkNode>;
  points: readonly PointFacts[];
};

/** The nearest node of a class above a device, itself included; null without one. The first path counts. */
export function nearestAbove<C extends NetworkNode['class']>(
  network: AirNetwork,
  from: NetworkNode,
  wanted: C,
): Extract<NetworkNode, { class: C }> | null {
  const seen = new Set<number>();
  let level: NetworkNode[] = [from];
  while (level.length > 0) {
    const next: NetworkNode[] = [];
    for (const node of level) {
      if (node.class === wanted) return node as Extract<NetworkNode, { class: C }>;
      if (seen.has(node.id)) continue;
      seen.add(node.id);
      for (const id of node.feeders) {
        const feeder = network.nodes.get(id);
        if (feeder) next.push(feeder);
      }
    }
    level = next;
  }
  return null;
}

/** The nearest main above a device, itself included; null without one. */
export function mainOf(network: AirNetwork, from: NetworkNode): MainNode | null {
  return nearestAbove(network, from, 'main');
}

/** Actuators that a controller moves. */
export function actuatorsOf(network: AirNetwork, controller: NetworkNode): ActuatorNode[] {
  return controller.fed.flatMap((id) => {
    const node = network.nodes.get(id);
    return node?.class === 'actuator' ? [node] : [];
  });
}

/** Each actuator of a branch that heats beside each that cools. */
export function sequencePairs(
  network: AirNetwork,
  controller: NetworkNode,
): { warm: ActuatorNode; cold: ActuatorNode }[] {
  const actuators = actuatorsOf(network, controller);
  const cooling = actuators.filter((one) => thermalDutyOf(one.duty) === 'cooling');
  return actuators
    .filter((one) => thermalDutyOf(one.duty) === 'heating')
    .flatMap((warm) => cooling.map((cold) => ({ warm, cold })));
}

/** The spring of an actuator as it is known best. */
export function springOf({ start, end }: ActuatorNode): { start: number; end: number; isMeasured: boolean } {
  const [from, to] = [bestOf(start), bestOf(end)];
  return { start: from.value, end: to.value, isMeasured: from.on !== null && to.on !== null };
}

/** Everything that a device feeds, directly or through others, itself left out. */
export function downstreamOf(network: AirNetwork, from: NetworkNode): NetworkNode[] {
  const seen = new Set<number>([from.id]);
  const found: NetworkNode[] = [];
  const queue = [...from.fed, ...(from.class === 'switchover_relay' ? from.pilots : [])];
  for (let at = 0; at < queue.length; at += 1) {
    const id = queue[at];
    if (seen.has(id)) continue;
    seen.add(id);
    const node = network.nodes.get(id);
    if (!node) continue;
    found.push(node);
    queue.push(...node.fed, ...(node.class === 'switchover_relay' ? node.pilots : []));
  }
  return found;
}

/** The figure that counts: what was measured, else what is written; with its date where it was measured. */
export function bestOf<T extends number | null>({
  nominal,
  measured,
}: {
  nominal: T;
  measured: Measured | null;
}): { value: T | number; on: PlainDate | null } {
  return measured ? { value: measured.value, on: measured.on } : { value: nominal, on: null };
}

/**
 * By how much a main may lie on the wrong side of a rated figure: nothing on paper; half of its tolerance where it was read,
 * for a rated figure lies off the real changeover, and one reading is off by a tenth or two. Common practice, no source.
 */
export function ratedSlack({ measured, tolerance }: Figure): number {
  return measured ? tolerance / 2 : 0;
}
