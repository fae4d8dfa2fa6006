/**
 * What decision rules risk over all devices of a kind (JCGM 106:2012, 9.5): a device's error is normal about 0, the
 * reading adds a normal error of its own. Limits are symmetric; all values in one unit.
 */
import { normalCdf, normalQuantile } from './dist/normal.ts';

export type Risk = {
  /** Share of all devices that are outside the tolerance and accepted. */
  falseAccept: number;
  /** Share of all devices that are inside the tolerance and rejected. */
  falseReject: number;
};

export type RiskCase = {
  /** Tolerance: a true error is inside from -limit to +limit. */
  limit: number;
  /** Acceptance limit: a reading is accepted from -acceptance to +acceptance. */
  acceptance: number;
  /** Standard deviation of the true errors, and of the reading. */
  spread: number;
  u: number;
};

/** Nodes and weights of Gauss-Legendre quadrature with 8 points on -1..1 (Abramowitz and Stegun, table 25.4). */
const NODES = [0.1834346424956498, 0.525532409916329, 0.7966664774136267, 0.9602898564975363];
const WEIGHTS = [0.362683783378362, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763];
const PANELS = 64;
/** So many standard deviations away there is nothing left that counts. */
const FAR = 9;

function integral(from: number, to: number, of: (x: number) => number): number {
  if (to <= from) return 0;
  const half = (to - from) / PANELS / 2;
  let sum = 0;
  for (let panel = 0; panel < PANELS; panel += 1) {
    const centre = from + (2 * panel + 1) * half;
    for (const [at, node] of NODES.entries())
      sum += WEIGHTS[at] * (of(centre - half * node) + of(centre + half * node));
  }
  return sum * half;
}

/** Spread of true errors of which a share, 0 to 1, is within the limit: limit / z((1 + share) / 2). */
export function spreadOf(limit: number, share: number): number {
  return limit / normalQuantile((1 + share) / 2);
}

/** The two risks, each to within 1e-9; one integral over the true error for each. */
export function riskOf({ limit, acceptance, spread, u }: RiskCase): Risk {
  const density = (error: number): number =>
    Math.exp(-0.5 * (error / spread) ** 2) / (spread * Math.sqrt(2 * Math.PI));
  const accepted = (error: number): number =>
    normalCdf((acceptance - error) / u) - normalCdf((-acceptance - error) / u);
  // By symmetry twice the side above 0; beyond `far` nothing is accepted, or there are no devices.
  const near = Math.max(0, acceptance - FAR * u);
  const far = Math.min(FAR * spread, acceptance + FAR * u);
  const falseAccept =
    integral(limit, near, density) +
    integral(Math.max(limit, near), far, (error) => density(error) * accepted(error));
  const inside = Math.min(limit, FAR * spread);
  const falseReject =
    integral(
      Math.min(near, inside),
      Math.min(inside, far),
      (error) => density(error) * (1 - accepted(error)),
    ) + integral(far, inside, density);
  return { falseAccept: 2 * falseAccept, falseReject: 2 * falseReject };
}

/** Share of readings, 0 to 1, that fall within the acceptance limit. */
export function observedInside({ acceptance, spread, u }: Omit<RiskCase, 'limit'>): number {
  return 2 * normalCdf(acceptance / Math.hypot(spread, u)) - 1;
}
