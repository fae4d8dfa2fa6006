/** Chi square, from the library; for the service only, as Student's t. */
import quantileOfChiSquare from '@stdlib/stats-base-dists-chisquare-quantile';

/** The value below which a share p, 0 to 1, of chi square with so many degrees of freedom (> 0) lies. */
export function chiSquareQuantile(p: number, degrees: number): number {
  return quantileOfChiSquare(p, degrees);
}
