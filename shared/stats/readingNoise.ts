/**
 * How much of what moves between visits is the reading itself? Of three increments in a row of one untouched device, two
 * neighbours share the reading between them, the outer two share none: the squared difference of neighbours carries 6 u^2
 * of reading noise, that of the outer pair 4 u^2, and both the same of everything else. Pooled over many devices the
 * difference gives u^2; of one device alone it says nothing. Increments over nearly equal times only. Our own derivation,
 * checked by simulation in the tests.
 */
import type { DriftPoint } from './driftSeries.ts';

export type NoiseTerms = { neighbours: number; outer: number; count: number };

/** Times within a tenth of each other count as equal. */
const NEARLY = 1.1;

/** Terms of one history, in squared units; add them up over many. */
export function noiseTerms(points: readonly DriftPoint[]): NoiseTerms {
  const terms: NoiseTerms = { neighbours: 0, outer: 0, count: 0 };
  const isUntouched = (point: DriftPoint): boolean => point.adjustmentMilli === 0 && point.event === 'none';
  for (let at = 3; at < points.length; at += 1) {
    const four = points.slice(at - 3, at + 1);
    const [, b, c, d] = four;
    const times = [b, c, d].map(({ days }) => days ?? 0);
    const isUsable =
      four
        .slice(1)
        .every((one) => one.driftMilli !== null && !one.driftFlagged && one.series === four[0].series) &&
      isUntouched(b) &&
      isUntouched(c) &&
      Math.min(...times) > 0 &&
      Math.max(...times) <= NEARLY * Math.min(...times);
    if (!isUsable) continue;
    const [one, two, three] = [b, c, d].map(({ driftMilli }) => (driftMilli ?? 0) / 1000);
    terms.neighbours += ((two - one) ** 2 + (three - two) ** 2) / 2;
    terms.outer += (three - one) ** 2;
    terms.count += 1;
  }
  return terms;
}

/** From so many stretches on the noise is told. */
export const NOISE_FROM = 100;

/** Standard deviation of one reading, in units; 0 where there are too few stretches, or where they show none. */
export function pooledNoise({ neighbours, outer, count }: NoiseTerms): number {
  return count < NOISE_FROM ? 0 : Math.sqrt(Math.max(0, (neighbours - outer) / count / 2));
}

/** Two sets of terms together. */
export function addNoise(a: NoiseTerms, b: NoiseTerms): NoiseTerms {
  return { neighbours: a.neighbours + b.neighbours, outer: a.outer + b.outer, count: a.count + b.count };
}
