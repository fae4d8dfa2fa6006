/**
 * What kind of unit a controller and its actuators are, and how many points and parts it takes under three ways of a retrofit.
 * Points by kind: common engineering practice, from memory; no source (air-energy reference 5.4). They are for a first
 * estimate: a survey and a designer settle them.
 */

export const unitKinds = [
  'air handler',
  'plant',
  'air terminal with reheat',
  'air terminal, cooling only',
  'unit ventilator or constant-volume zone',
  'fan coil',
  'radiator or perimeter zone',
  'humidity control',
  'controller without actuators',
] as const;
export type UnitKind = (typeof unitKinds)[number];

/** A: digital controllers move the pneumatic actuators through transducers. B: everything electric. C: radio thermostats on the tubing that is there. */
export const retrofitOptions = ['keep actuators', 'full electric', 'thermostats only'] as const;
export type RetrofitOption = (typeof retrofitOptions)[number];

export type Range = { low: number; high: number };
export type Parts = {
  sensors: Range;
  controllers: Range;
  transducers: Range;
  electricActuators: Range;
  thermostats: Range;
  ai: Range;
  ao: Range;
  bi: Range;
  bo: Range;
  actuatorsKept: Range;
};

export type UnitFacts = {
  controllerKind: string;
  actuators: readonly { kind: 'valve' | 'damper'; duty: string | null }[];
};

const HOT = new Set(['hot water', 'steam']);
const OUTDOOR = new Set(['outdoor air', 'return air']);

/** The kind of unit, by its controller and what its actuators carry. */
export function unitKindOf({ controllerKind, actuators }: UnitFacts): UnitKind {
  if (controllerKind === 'humidity') return 'humidity control';
  const dampers = actuators.filter(({ kind }) => kind === 'damper');
  const hasOutdoor = dampers.some(({ duty }) => duty !== null && OUTDOOR.has(duty));
  if (controllerKind === 'receiver') return dampers.length > 0 ? 'air handler' : 'plant';
  if (actuators.length === 0) return 'controller without actuators';
  if (hasOutdoor) return 'unit ventilator or constant-volume zone';
  const valves = actuators.filter(({ kind }) => kind === 'valve');
  if (dampers.length > 0)
    return valves.length > 0 ? 'air terminal with reheat' : 'air terminal, cooling only';
  return valves.every(({ duty }) => duty !== null && HOT.has(duty))
    ? 'radiator or perimeter zone'
    : 'fan coil';
}

const just = (count: number): Range => ({ low: count, high: count });
const none = just(0);

/** Inputs and outputs besides the outputs that move actuators. */
const points: Record<UnitKind, { ai: Range; bi: Range; bo: Range }> = {
  'air handler': { ai: { low: 6, high: 9 }, bi: { low: 4, high: 6 }, bo: { low: 1, high: 3 } },
  plant: { ai: { low: 2, high: 3 }, bi: just(1), bo: just(1) },
  'air terminal with reheat': { ai: just(3), bi: { low: 0, high: 1 }, bo: { low: 0, high: 1 } },
  'air terminal, cooling only': { ai: just(2), bi: none, bo: none },
  'unit ventilator or constant-volume zone': { ai: just(2), bi: just(2), bo: just(1) },
  'fan coil': { ai: just(1), bi: none, bo: just(1) },
  'radiator or perimeter zone': { ai: just(1), bi: none, bo: none },
  'humidity control': { ai: just(1), bi: none, bo: none },
  'controller without actuators': { ai: just(1), bi: none, bo: none },
};

/** Radio thermostats take the place of room thermostats; what controls an air handler, a plant or humidity stays as it is. */
const hasThermostat = (kind: UnitKind): boolean =>
  kind !== 'air handler' && kind !== 'plant' && kind !== 'humidity control';

/** Points and parts of one unit. */
export function partsOf(facts: UnitFacts, option: RetrofitOption): Parts {
  const kind = unitKindOf(facts);
  const { ai, bi, bo } = points[kind];
  const moved = facts.actuators.length;
  const nothing: Parts = {
    sensors: none,
    controllers: none,
    transducers: none,
    electricActuators: none,
    thermostats: none,
    ai: none,
    ao: none,
    bi: none,
    bo: none,
    actuatorsKept: just(moved),
  };
  if (option === 'thermostats only')
    return hasThermostat(kind)
      ? { ...nothing, thermostats: just(1), ai: just(2), ao: just(1), sensors: none }
      : nothing;
  const digital = { ...nothing, sensors: ai, controllers: just(1), ai, bi, bo };
  if (option === 'full electric')
    return { ...digital, electricActuators: just(moved), ao: just(moved), actuatorsKept: none };
  // One transducer moves a whole branch where its springs keep the sequence; one an actuator where they do not.
  const transducers = { low: Math.min(1, moved), high: moved };
  return { ...digital, transducers, ao: transducers };
}

/** The parts in the order in which they are told. */
export const partKeys = [
  'sensors',
  'controllers',
  'transducers',
  'electricActuators',
  'thermostats',
  'ai',
  'ao',
  'bi',
  'bo',
  'actuatorsKept',
] as const satisfies readonly (keyof Parts)[];

/** Their titles in narrow tables. */
export const partTitles: readonly string[] = [
  'sensors',
  'controllers',
  'transducers',
  'electric',
  'thermostats',
  'AI',
  'AO',
  'BI',
  'BO',
  'kept',
];

/** Sums parts. */
export function sumOfParts(all: readonly Parts[]): Parts {
  return Object.fromEntries(
    partKeys.map((key) => [
      key,
      all.reduce((sum, one) => ({ low: sum.low + one[key].low, high: sum.high + one[key].high }), none),
    ]),
  ) as Parts;
}

/** A range as people read it. */
export function rangeText({ low, high }: Range): string {
  return low === high ? String(low) : `${low} to ${high}`;
}

/** A share in whole percent; a dash where it is not known. */
export function shareText(share: number | null): string {
  return share === null ? '–' : `${Math.round(share * 100)} %`;
}

/** Each part as it is written, in the order of the keys. */
export function partsText(parts: Parts): string[] {
  return partKeys.map((key) => rangeText(parts[key]));
}
