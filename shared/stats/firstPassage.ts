/**
 * When a steady drift with noise first reaches a distance: the inverse Gaussian law of a Wiener process with drift
 * (texts on reliability, from memory; checked against a reference library).  Distance and rate in one unit, years.
 */
import { chiSquareQuantile } from './dist/chiSquare.ts';
import { normalCdf, normalQuantile } from './dist/normal.ts';

/** Distance to go (> 0), rate toward it a year (> 0), noise by the root of a year (>= 0). */
export type Passage = { distance: number; rate: number; sigma: number };

function require({ distance, rate, sigma }: Passage): void {
  if (!(distance > 0) || !(rate > 0) || !(sigma >= 0))
    throw new RangeError('a first passage needs a distance and a rate above zero');
}

/** exp(z^2/2) times the upper normal tail beyond z, for z >= 0, without overflow. */
function scaledTail(z: number): number {
  if (z < 25) return Math.exp((z * z) / 2) * normalCdf(-z);
  const inverse = 1 / (z * z);
  return (1 - inverse + 3 * inverse * inverse - 15 * inverse ** 3) / (z * Math.sqrt(2 * Math.PI));
}

/** As `Passage`, with rate and noise known from so many degrees of freedom only. */
export type UnsurePassage = Passage & { rateError: number; degrees: number };

const RATES = 21;
const SIGMAS = 7;

/**
 * Years by which a share p has reached the distance where neither the rate nor the noise is known well: the law of the first
 * passage, averaged over the rates (Student's t about the estimate) and the noises (inverse chi square) that the increments
 * allow. Null where the share is not reached within some years: a rate may lead away as well.
 */
export function unsurePassageQuantile(passage: UnsurePassage, p: number, within: number): number | null {
  require(passage);
  const { distance, rate, sigma, rateError, degrees } = passage;
  const middle = (index: number, of: number): number => (index + 0.5) / of;
  const cases = Array.from({ length: SIGMAS }, (_, s) => {
    const factor = Math.sqrt(degrees / chiSquareQuantile(middle(s, SIGMAS), degrees));
    // The error of the rate goes with the noise: with the noise known the rate is normal about its estimate.
    return Array.from({ length: RATES }, (_r, r) => ({
      rate: rate + rateError * factor * normalQuantile(middle(r, RATES)),
      sigma: sigma * factor,
    }));
  }).flat();
  const reached = (years: number): number =>
    cases.reduce((sum, one) => sum + reachedBy({ distance, ...one }, years), 0) / cases.length;
  if (reached(within) < p) return null;
  let [low, high] = [0, within];
  for (let round = 0; round < 40; round += 1) {
    const half = (low + high) / 2;
    if (reached(half) < p) low = half;
    else high = half;
  }
  return (low + high) / 2;
}

/** As `passedBy`, for a rate that may lead away. */
function reachedBy({ distance, rate, sigma }: Passage, years: number): number {
  if (rate > 0) return passedBy({ distance, rate, sigma }, years);
  if (sigma === 0 || years <= 0) return 0;
  const spread = sigma * Math.sqrt(years);
  return Math.min(
    1,
    normalCdf((rate * years - distance) / spread) +
      Math.exp((2 * rate * distance) / (sigma * sigma)) * normalCdf(-(distance + rate * years) / spread),
  );
}

/** Chance, 0 to 1, that the distance was reached within some years. Throws RangeError unless distance and rate are above 0. */
export function passedBy(passage: Passage, years: number): number {
  require(passage);
  const { distance, rate, sigma } = passage;
  if (years <= 0) return 0;
  if (sigma === 0) return rate * years >= distance ? 1 : 0;
  const spread = sigma * Math.sqrt(years);
  const near = (rate * years - distance) / spread;
  const far = (distance + rate * years) / spread;
  // exp(2 r A / sigma^2) Phi(-far), written with the exponent of `near` so that neither factor overflows.
  return Math.min(1, normalCdf(near) + Math.exp(-(near * near) / 2) * scaledTail(far));
}

/** Mean and standard deviation of the years until the distance is reached. */
export function passageMoments(passage: Passage): { mean: number; sd: number } {
  require(passage);
  const { distance, rate, sigma } = passage;
  return { mean: distance / rate, sd: Math.sqrt((distance * sigma * sigma) / rate ** 3) };
}

/** Years by which a share p, 0 < p < 1, has reached the distance; by bisection to a billionth of a year. */
export function passageQuantile(passage: Passage, p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError('a share between 0 and 1');
  const { mean } = passageMoments(passage);
  if (passage.sigma === 0) return mean;
  let [low, high] = [0, mean];
  while (passedBy(passage, high) < p) [low, high] = [high, high * 2];
  while (high - low > 1e-10 * Math.max(1, high)) {
    const middle = (low + high) / 2;
    if (passedBy(passage, middle) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
