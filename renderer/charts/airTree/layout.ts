/**
 * Geometry of the air tree: station, regulators, relays, mains, levels, controllers, actuators from left to right. Each
 * device stands under the first that feeds it; further feeds and pilots are lines of their own. Laid out by d3-hierarchy.
 */
import { hierarchy, tree } from 'd3-hierarchy';
import type { AirNode } from '../../../shared/contract/air.ts';

export const NODE = { width: 168, height: 34, row: 42, column: 214 } as const;

export type TreeItem = {
  key: string;
  label: string;
  /** Null on a group of one level. */
  device: AirNode | null;
  children: TreeItem[];
};

export type PlacedItem = {
  item: TreeItem;
  key: string;
  parent: string | null;
  depth: number;
  x: number;
  y: number;
  /** Devices below it, whether shown or not. */
  below: number;
  isOpen: boolean;
};

export type TreeLayout = {
  placed: PlacedItem[];
  links: { key: string; path: string; from: string; to: string }[];
  /** Second feeds and pilots. */
  extra: { key: string; path: string; isPilot: boolean }[];
  bounds: { left: number; top: number; right: number; bottom: number };
};

const byTag = (a: TreeItem, b: TreeItem): number => a.label.localeCompare(b.label, 'en', { numeric: true });

/** The items of a network, stations first; what hangs on no station stands under an item of its own. */
export function treeOf(nodes: readonly AirNode[]): TreeItem {
  const devices = new Map(nodes.map((one) => [one.node.id, one]));
  const childrenOf = new Map<number, AirNode[]>();
  const roots: AirNode[] = [];
  for (const one of nodes) {
    const { node } = one;
    if (node.class === 'time_switch') continue;
    const parent = node.feeders.find((id) => devices.has(id));
    if (parent === undefined) roots.push(one);
    else childrenOf.set(parent, [...(childrenOf.get(parent) ?? []), one]);
  }
  const made = new Set<number>();
  const itemOf = (one: AirNode): TreeItem => {
    made.add(one.node.id);
    const below = (childrenOf.get(one.node.id) ?? []).filter(({ node }) => !made.has(node.id));
    const key = String(one.node.id);
    return {
      key,
      label: one.node.tag,
      device: one,
      children: one.node.class === 'main' ? byLevel(key, below, itemOf) : below.map(itemOf).toSorted(byTag),
    };
  };
  const stations = roots.filter(({ node }) => node.class === 'air_station').map(itemOf);
  const others = roots.filter(({ node }) => node.class !== 'air_station').map(itemOf);
  // A supply loop hangs on nothing: its devices are shown with the others.
  const looped = nodes
    .filter(({ node }) => node.class !== 'time_switch' && !made.has(node.id))
    .map((one) => (made.has(one.node.id) ? null : itemOf(one)))
    .filter((one) => one !== null);
  const astray: TreeItem[] =
    others.length + looped.length === 0
      ? []
      : [{ key: 'astray', label: 'On no station', device: null, children: [...others, ...looped] }];
  return {
    key: 'site',
    label: 'All air',
    device: null,
    children: [...stations.toSorted(byTag), ...astray],
  };
}

function byLevel(key: string, below: readonly AirNode[], itemOf: (one: AirNode) => TreeItem): TreeItem[] {
  const levels = new Map<string, TreeItem[]>();
  const mains: TreeItem[] = [];
  for (const one of below) {
    if (one.node.class === 'main') {
      mains.push(itemOf(one));
      continue;
    }
    const level = one.level === null ? 'no level' : `${one.building ?? ''} ${one.level}`.trim();
    levels.set(level, [...(levels.get(level) ?? []), itemOf(one)]);
  }
  return [
    ...mains.toSorted(byTag),
    ...[...levels]
      .map(([label, children]) => ({
        key: `${key}-${label.replaceAll(/[^A-Za-z0-9]+/g, '-')}`,
        label,
        device: null,
        children: children.toSorted(byTag),
      }))
      .toSorted(byTag),
  ];
}

/** Keys of the level groups: closed to begin with. */
export function levelKeys(item: TreeItem): string[] {
  const own = item.device === null && item.key !== 'site' && item.key !== 'astray' ? [item.key] : [];
  return [...own, ...item.children.flatMap(levelKeys)];
}

function countBelow(item: TreeItem, counts: Map<string, number>): number {
  const count = item.children.reduce(
    (sum, child) => sum + (child.device ? 1 : 0) + countBelow(child, counts),
    0,
  );
  counts.set(item.key, count);
  return count;
}

function elbow(from: { x: number; y: number }, to: { x: number; y: number }): string {
  const [x0, y0] = [from.x + NODE.width, from.y + NODE.height / 2];
  const [x1, y1] = [to.x, to.y + NODE.height / 2];
  const middle = (x0 + x1) / 2;
  return `M${x0} ${y0}C${middle} ${y0} ${middle} ${y1} ${x1} ${y1}`;
}

/** Lays the open part of a tree out. Keys in `closed` show none of their children. */
export function layoutTree(root: TreeItem, closed: ReadonlySet<string>): TreeLayout {
  const counts = new Map<string, number>();
  countBelow(root, counts);
  const laid = tree<TreeItem>().nodeSize([NODE.row, NODE.column])(
    hierarchy(root, (item) => (closed.has(item.key) ? [] : item.children)),
  );
  const placed = laid.descendants().map((one): PlacedItem => ({
    item: one.data,
    key: one.data.key,
    parent: one.parent?.data.key ?? null,
    depth: one.depth,
    x: one.y,
    y: one.x,
    below: counts.get(one.data.key) ?? 0,
    isOpen: !closed.has(one.data.key) && one.data.children.length > 0,
  }));
  const at = new Map(placed.map((one) => [one.key, one]));
  const links = placed.flatMap((one) => {
    const parent = one.parent === null ? undefined : at.get(one.parent);
    return parent ? [{ key: one.key, path: elbow(parent, one), from: parent.key, to: one.key }] : [];
  });
  const extra = placed.flatMap((one) => {
    const node = one.item.device?.node;
    if (!node) return [];
    const second = node.feeders.slice(1).flatMap((id) => {
      const feeder = at.get(String(id));
      return feeder ? [{ key: `${id} ${node.id}`, path: elbow(feeder, one), isPilot: false }] : [];
    });
    const pilot =
      node.class === 'regulator' && node.pilotBy !== null ? at.get(String(node.pilotBy)) : undefined;
    if (!pilot) return second;
    // Regulator and pilot stand in one column: the line runs down their left side.
    const [x, y0, y1] = [one.x, pilot.y + NODE.height / 2, one.y + NODE.height / 2];
    const path = `M${pilot.x} ${y0}C${x - 34} ${y0} ${x - 34} ${y1} ${x} ${y1}`;
    return [...second, { key: `pilot ${node.id}`, path, isPilot: true }];
  });
  const xs = placed.map(({ x }) => x);
  const ys = placed.map(({ y }) => y);
  return {
    placed,
    links,
    extra,
    bounds: {
      left: Math.min(...xs) - 20,
      top: Math.min(...ys) - 20,
      right: Math.max(...xs) + NODE.width + 20,
      bottom: Math.max(...ys) + NODE.height + 20,
    },
  };
}

/** Keys from the root down to an item; empty where it is not in the tree. */
export function pathTo(root: TreeItem, key: string): string[] {
  if (root.key === key) return [root.key];
  for (const child of root.children) {
    const path = pathTo(child, key);
    if (path.length > 0) return [root.key, ...path];
  }
  return [];
}
