/** Student's t, from the library. It makes code at run time, which the page's policy forbids: for the service only. */
import cdfOfT from '@stdlib/stats-base-dists-t-cdf';
import quantileOfT from '@stdlib/stats-base-dists-t-quantile';

const asked = new Map<string, number>();

/**
 * The value below which a share p, 0 to 1, of Student's t with so many degrees of freedom (> 0) lies. Kept once worked
 * out: of whole books the same few are asked for a hundred thousand times.
 */
export function tQuantile(p: number, degrees: number): number {
  const key = `${p} ${degrees}`;
  const known = asked.get(key);
  if (known !== undefined) return known;
  const value = quantileOfT(p, degrees);
  if (asked.size < 10_000) asked.set(key, value);
  return value;
}

/** The share of Student's t with so many degrees of freedom (> 0) that is at most `t`. */
export function tCdf(t: number, degrees: number): number {
  return cdfOfT(t, degrees);
}

/** Chance, 0 to 1, that Student's t lies as far from zero as `t`, on either side; from the lower tail, so that small ones are exact. */
export function tTwoSided(t: number, degrees: number): number {
  return 2 * cdfOfT(-Math.abs(t), degrees);
}
