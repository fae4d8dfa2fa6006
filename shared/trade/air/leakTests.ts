/**
 * What a station's own clock and gauge say of leaks. A control-air system bleeds by design: every test of the whole
 * measures leaks and normal bleed together, so that it is held against the budget, or against its own past, never against a
 * fixed limit. Volumes ft3, gauge pressures psi, times minutes, flows scfm. Forms of the on/off and bleed-down tests: energy
 * agency tip sheets, from memory; exact and regulated ones are worked out (air-energy reference, 1.4).
 */

import { chokedFrom, flowThrough } from './flow.ts';

const ATMOSPHERE = 14.7;
/** Rounded mean of the exact form over the simple one, for a fall to about half. */
export const BLEED_DOWN_FACTOR = 1.25;
export const CUBIC_FEET_PER_GALLON = 0.133681;

function above(name: string, ...values: number[]): void {
  if (values.some((value) => !(value > 0))) throw new RangeError(`${name} above zero`);
}

/** Share of the time that the compressor runs, 0 to 1; times in one unit. Throws RangeError unless both together last. */
export function runShare(on: number, off: number): number {
  if (!(on >= 0) || !(off >= 0) || on + off === 0)
    throw new RangeError('times of zero and more, together above zero');
  return on / (on + off);
}

export type Fall = { volume: number; from: number; to: number; minutes: number };

function requireFall({ volume, from, to, minutes }: Fall): void {
  above('a volume and a time', volume, minutes);
  if (!(from > to) || !(to >= 0)) throw new RangeError('a pressure that falls, to zero or more');
}

/**
 * A receiver that empties through the reducing valve: what is behind it takes the same flow whatever the receiver holds, so
 * that the pressure falls in a line and no factor applies. The volume is the receiver's side alone.
 */
export function regulatedDemand(fall: Fall): number {
  requireFall(fall);
  return (fall.volume * (fall.from - fall.to)) / (fall.minutes * ATMOSPHERE);
}

/** A vessel that empties through its own leaks: the simple form, times a factor; for a fall to about half. */
export function bleedDown(fall: Fall, factor: number = BLEED_DOWN_FACTOR): number {
  return regulatedDemand(fall) * factor;
}

/** The lowest pressure to which a vessel may be let down for a figure: below it the flow all but stops. psi. */
export const LEAST_END_PSI = 1;
const STEPS = 200;

/**
 * Flow through the leaks of a vessel at the pressure that it began with, over its mean while it fell: the factor by which
 * the simple form is too small. Choked all the way it is the exact form's; below that the flow falls faster, and it is
 * summed up (Simpson, one temperature, an opening that does not change). Throws RangeError where it ends below 1 psi.
 */
export function fallFactor(
  { from, to }: Pick<Fall, 'from' | 'to'>,
  atmospherePsi: number = ATMOSPHERE,
): { factor: number; isChoked: boolean } {
  if (!(from > to) || !(to >= LEAST_END_PSI))
    throw new RangeError(`a pressure that falls, to ${LEAST_END_PSI} psi and more`);
  if (to >= chokedFrom(atmospherePsi)) {
    const [first, last] = [from + atmospherePsi, to + atmospherePsi];
    return { factor: (first * Math.log(first / last)) / (from - to), isChoked: true };
  }
  const flowAt = (abovePsi: number): number =>
    flowThrough({ diameterIn: 1, coefficient: 1, abovePsi, atmospherePsi }).scfm;
  const first = flowAt(from);
  const step = (from - to) / STEPS;
  let sum = 0;
  for (let index = 0; index <= STEPS; index += 1)
    sum +=
      ((index === 0 || index === STEPS ? 1 : index % 2 === 1 ? 4 : 2) * first) / flowAt(to + index * step);
  return { factor: (sum * step) / 3 / (from - to), isChoked: false };
}

/** The same, exact: told at the pressure that it began with. */
export function bleedDownExact(fall: Fall): number {
  requireFall(fall);
  return regulatedDemand(fall) * fallFactor(fall).factor;
}

/** What the compressor delivers: a receiver pumped up, with the demand that went on meanwhile added. */
export function delivered(rise: {
  volume: number;
  from: number;
  to: number;
  minutes: number;
  demand: number;
}): number {
  const { volume, from, to, minutes, demand } = rise;
  above('a volume and a time', volume, minutes);
  if (!(to > from) || !(demand >= 0))
    throw new RangeError('a pressure that rises, and a demand of zero and more');
  return (volume * (to - from)) / (minutes * ATMOSPHERE) + demand;
}

/** Receiver volume, ft3, that holds a load for some minutes between two pressures. */
export function receiverVolume(
  load: number,
  minutes: number,
  { from, to }: { from: number; to: number },
): number {
  above('a load and a time', load, minutes);
  if (!(from > to)) throw new RangeError('a pressure that falls');
  return (minutes * load * ATMOSPHERE) / (from - to);
}

/** Share of the time that a compressor may run: wanted (works specifications), and most (common practice). */
export const RUN_LIMITS = { wanted: 1 / 3, most: 0.5 } as const;

/** How a run share stands against them: at a limit is within. */
export function runVerdict(share: number): 'good' | 'look' | 'too long' {
  return share > RUN_LIMITS.most + 1e-9 ? 'too long' : share > RUN_LIMITS.wanted + 1e-9 ? 'look' : 'good';
}

/** Capacity, scfm, that carries a load at a share of its running time. */
export function capacityFor(load: number, share: number = RUN_LIMITS.wanted): number {
  above('a share', share);
  return load / share;
}
