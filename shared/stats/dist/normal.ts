/** The normal distribution, from the library; its own file, because the page may use no code that is made at run time. */
import cdfOfNormal from '@stdlib/stats-base-dists-normal-cdf';
import quantileOfNormal from '@stdlib/stats-base-dists-normal-quantile';

/** Phi(z): the share of a standard normal variable that is at most z. */
export function normalCdf(z: number): number {
  return cdfOfNormal(z, 0, 1);
}

/** The z below which a share p, 0 to 1, of a standard normal variable lies. */
export function normalQuantile(p: number): number {
  return quantileOfNormal(p, 0, 1);
}
