/** The beta and binomial distributions, from the library; for the service only, as Student's t. */
import quantileOfBeta from '@stdlib/stats-base-dists-beta-quantile';
import pmfOfBinomial from '@stdlib/stats-base-dists-binomial-pmf';
import quantileOfBinomial from '@stdlib/stats-base-dists-binomial-quantile';

/** The value below which a share p, 0 to 1, of a beta variable with shapes a, b (> 0) lies. */
export function betaQuantile(p: number, a: number, b: number): number {
  return quantileOfBeta(p, a, b);
}

/** Chance of x successes in n trials of chance p. */
export function binomialPmf(x: number, n: number, p: number): number {
  return pmfOfBinomial(x, n, p);
}

/** The fewest successes in n trials of chance p that are reached with a chance of r, 0 to 1. */
export function binomialQuantile(r: number, n: number, p: number): number {
  return quantileOfBinomial(r, n, p);
}
