/** Distribution functions, all from one library: the only place that names it. */
import cdfOfNormal from '@stdlib/stats-base-dists-normal-cdf';
import quantileOfNormal from '@stdlib/stats-base-dists-normal-quantile';
import quantileOfT from '@stdlib/stats-base-dists-t-quantile';

/** Phi(z): the share of a standard normal variable that is at most z. */
export function normalCdf(z: number): number {
  return cdfOfNormal(z, 0, 1);
}

/** The z below which a share p, 0 to 1, of a standard normal variable lies. */
export function normalQuantile(p: number): number {
  return quantileOfNormal(p, 0, 1);
}

/** The value below which a share p, 0 to 1, of Student's t with so many degrees of freedom (> 0) lies. */
export function tQuantile(p: number, degrees: number): number {
  return quantileOfT(p, degrees);
}
