/**
 * What the devices of a station take while nothing moves, scim. No table of standards exists: low, typical and high by kind
 * are defaults to be overwritten from a device's own sheet (restrictor flows worked out; the rest from memory of the trade).
 */
import { SCIM_PER_SCFM } from './flow.ts';

export const bleedKinds = [
  'one-pipe, 0.005 in',
  'one-pipe, 0.007 in',
  'two-pipe',
  'transmitter',
  'receiver-controller',
  'bleed relay',
  'positioner',
  'transducer, bleed',
  'transducer, non-bleed',
  'none',
] as const;
export type BleedKind = (typeof bleedKinds)[number];
export type Bleed = { low: number; typical: number; high: number };

export const bleedDefaults: Record<BleedKind, Bleed> = {
  'one-pipe, 0.005 in': { low: 12, typical: 16, high: 22 },
  'one-pipe, 0.007 in': { low: 22, typical: 30, high: 43 },
  'two-pipe': { low: 8, typical: 15, high: 35 },
  transmitter: { low: 22, typical: 30, high: 43 },
  'receiver-controller': { low: 10, typical: 30, high: 60 },
  'bleed relay': { low: 10, typical: 15, high: 40 },
  positioner: { low: 15, typical: 30, high: 80 },
  'transducer, bleed': { low: 20, typical: 40, high: 80 },
  'transducer, non-bleed': { low: 0, typical: 2, high: 10 },
  none: { low: 0, typical: 0, high: 1 },
};

/** The kind by which a device of the register bleeds; null for what the budget does not count. */
export function bleedKindOf(device: {
  class: string;
  controllerKind?: string | null;
  pipes?: string | null;
  positioner?: string | null;
}): BleedKind | null {
  const { class: kind, controllerKind, pipes, positioner } = device;
  if (kind === 'controller') {
    if (controllerKind === 'receiver') return 'receiver-controller';
    return pipes === '1' ? 'one-pipe, 0.007 in' : 'two-pipe';
  }
  if (kind === 'transmitter') return 'transmitter';
  if (kind === 'actuator') return positioner === 'yes' ? 'positioner' : 'none';
  return kind === 'switchover_relay' ? 'none' : null;
}

/** `known`: devices of the kind whose own figure, measured or of their sheet, stands before the kind's. */
export type BudgetLine = { kind: BleedKind; count: number; known: number; scim: Bleed };
export type Budget = { lines: BudgetLine[]; scim: Bleed; scfm: Bleed };

function times({ low, typical, high }: Bleed, count: number): Bleed {
  return { low: low * count, typical: typical * count, high: high * count };
}

/**
 * Sums a list of counts by kind, and of the devices whose own use is known, scim. Lines in the order of the kinds.
 */
export function airBudget(
  counts: ReadonlyMap<BleedKind, number>,
  known: ReadonlyMap<BleedKind, { count: number; scim: number }> = new Map(),
): Budget {
  const lines = bleedKinds.flatMap((kind): BudgetLine[] => {
    const count = counts.get(kind) ?? 0;
    const own = known.get(kind) ?? { count: 0, scim: 0 };
    if (count + own.count === 0) return [];
    const { low, typical, high } = times(bleedDefaults[kind], count);
    return [
      {
        kind,
        count: count + own.count,
        known: own.count,
        scim: { low: low + own.scim, typical: typical + own.scim, high: high + own.scim },
      },
    ];
  });
  const scim = lines.reduce(
    (sum, line) => ({
      low: sum.low + line.scim.low,
      typical: sum.typical + line.scim.typical,
      high: sum.high + line.scim.high,
    }),
    { low: 0, typical: 0, high: 0 },
  );
  return { lines, scim, scfm: times(scim, 1 / SCIM_PER_SCFM) };
}

/** Demand that the budget does not explain, scfm: what the run share says, less the budget. A trend, not an absolute. */
export function unexplained(capacity: number, share: number, budget: number): number {
  return capacity * share - budget;
}
