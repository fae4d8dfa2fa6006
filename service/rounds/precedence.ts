/**
 * What must be done before what, sparse: station before regulator, regulator before relay and time switch,
 * those before the proof of the mains they serve, that before their controllers, and a spring-range test before
 * a controller that is calibrated to it. Where a tier has no task in the round, the next one above stands in.
 */
import type { BookDb } from '../../db/book.ts';

export type SupplyGraph = {
  classOf: Map<number, string>;
  /** Everything that a device gets air, pilot air or its switching from. */
  above: Map<number, number[]>;
  /** Actuators that a controller feeds, in the register's order. */
  actuators: Map<number, number[]>;
  mainOf: Map<number, number | null>;
};

/** The supply paths of the book, air and pilot, with the time switch above its relay. */
export async function supplyGraph(db: BookDb): Promise<SupplyGraph> {
  const devices = await db
    .selectFrom('device')
    .select(['id', 'class', 'main_id'])
    .where('retired_on', 'is', null)
    .execute();
  const classOf = new Map<number, string>(devices.map((device) => [device.id, device.class]));
  const above = new Map<number, number[]>();
  const actuators = new Map<number, number[]>();
  const add = (map: Map<number, number[]>, key: number, value: number): void => {
    map.set(key, [...(map.get(key) ?? []), value]);
  };
  for (const { from_id, to_id } of await db
    .selectFrom('supplies')
    .select(['from_id', 'to_id'])
    .orderBy('to_id')
    .orderBy('position')
    .execute()) {
    if (!classOf.has(from_id) || !classOf.has(to_id)) continue;
    add(above, to_id, from_id);
    if (classOf.get(from_id) === 'controller' && classOf.get(to_id) === 'actuator')
      add(actuators, from_id, to_id);
  }
  for (const row of await db.selectFrom('switchover_relay').select(['device_id', 'time_switch_id']).execute())
    if (row.time_switch_id !== null && classOf.has(row.device_id))
      add(above, row.device_id, row.time_switch_id);
  return { classOf, above, actuators, mainOf: new Map(devices.map((device) => [device.id, device.main_id])) };
}

/** Every device above another one, however far. */
function allAbove(graph: SupplyGraph, id: number): Set<number> {
  const found = new Set<number>();
  const queue = [...(graph.above.get(id) ?? [])];
  while (queue.length > 0) {
    const next = queue.pop() as number;
    if (found.has(next)) continue;
    found.add(next);
    queue.push(...(graph.above.get(next) ?? []));
  }
  return found;
}

type Tiers = { stations: string[]; regulators: string[]; switching: string[] };

/** Task ids above a device, by tier. */
function tiersAbove(graph: SupplyGraph, ids: Iterable<number>, taskOf: ReadonlyMap<number, string>): Tiers {
  const tiers: Tiers = { stations: [], regulators: [], switching: [] };
  for (const id of ids) {
    const task = taskOf.get(id);
    if (task === undefined) continue;
    const deviceClass = graph.classOf.get(id);
    if (deviceClass === 'air_station') tiers.stations.push(task);
    else if (deviceClass === 'regulator') tiers.regulators.push(task);
    else if (deviceClass === 'switchover_relay' || deviceClass === 'time_switch') tiers.switching.push(task);
  }
  for (const list of Object.values(tiers)) list.sort();
  return tiers;
}

function firstFilled(...tiers: string[][]): string[] {
  return tiers.find((tier) => tier.length > 0) ?? [];
}

/**
 * Predecessor task ids of every device that has a supply task or hangs on a main. `taskOf` names the check
 * task of each station, regulator, relay, time switch and main in the round.
 */
export function supplyPredecessors(
  graph: SupplyGraph,
  taskOf: ReadonlyMap<number, string>,
): Map<number, string[]> {
  const aboveMain = new Map<number, Set<number>>();
  for (const [id, deviceClass] of graph.classOf)
    if (deviceClass === 'main') aboveMain.set(id, allAbove(graph, id));
  /** A relay or time switch serves the mains that it stands above. */
  const supplyOfMains = (id: number): Set<number> => {
    const all = new Set<number>();
    for (const above of aboveMain.values()) if (above.has(id)) for (const one of above) all.add(one);
    return all;
  };
  const predecessors = new Map<number, string[]>();
  for (const [id, deviceClass] of graph.classOf) {
    if (deviceClass === 'regulator')
      predecessors.set(id, tiersAbove(graph, allAbove(graph, id), taskOf).stations);
    else if (deviceClass === 'switchover_relay' || deviceClass === 'time_switch') {
      const tiers = tiersAbove(graph, new Set([...supplyOfMains(id), ...allAbove(graph, id)]), taskOf);
      predecessors.set(id, firstFilled(tiers.regulators, tiers.stations));
    } else if (deviceClass === 'main') {
      const tiers = tiersAbove(graph, aboveMain.get(id) ?? [], taskOf);
      predecessors.set(id, firstFilled(tiers.switching, tiers.regulators, tiers.stations));
    } else if (deviceClass === 'controller' || deviceClass === 'transmitter') {
      const main = graph.mainOf.get(id);
      if (main === null || main === undefined) continue;
      const proof = taskOf.get(main);
      const tiers = tiersAbove(graph, aboveMain.get(main) ?? [], taskOf);
      predecessors.set(
        id,
        firstFilled(proof === undefined ? [] : [proof], tiers.switching, tiers.regulators, tiers.stations),
      );
    }
  }
  return predecessors;
}
