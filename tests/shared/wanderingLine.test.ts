/** A line that may wander: against generalised least squares worked out with whole matrices, and against simulation. */
import fc from 'fast-check';
import { Matrix, determinant, inverse } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { createRandom } from '../../shared/planning/random.ts';
import { normalQuantile } from '../../shared/stats/dist/normal.ts';
import { tCdf } from '../../shared/stats/dist/studentT.ts';
import { leastSquares, predictionSpan } from '../../shared/stats/leastSquares.ts';
import {
  chanceBelow,
  driftDirection,
  nextReadingSpan,
  reachesAt,
  wanderingLine,
} from '../../shared/stats/wanderingLine.ts';

/** The same by the covariance of the readings themselves, an intercept and a slope, and the restricted likelihood. */
function byMatrices(x: readonly number[], y: readonly number[], at: number, value: number): number {
  const guesses = [0, 1, 10, 100].map((walk) => {
    const covariance = new Matrix(
      x.map((a, i) => x.map((b, j) => (i === j ? 1 : 0) + walk * Math.min(a - x[0], b - x[0]))),
    );
    const design = new Matrix(x.map((a) => [1, a]));
    const column = Matrix.columnVector([...y]);
    const weights = inverse(covariance);
    const normal = design.transpose().mmul(weights).mmul(design);
    const solved = inverse(normal).mmul(design.transpose()).mmul(weights).mmul(column);
    const residual = Matrix.sub(column, design.mmul(solved));
    const rss = residual.transpose().mmul(weights).mmul(residual).get(0, 0);
    const degrees = x.length - 2;
    const shared = Matrix.columnVector(x.map((a) => walk * Math.min(a - x[0], at - x[0])));
    const row = new Matrix([[1, at]]);
    const middle = row.mmul(solved).get(0, 0) + shared.transpose().mmul(weights).mmul(residual).get(0, 0);
    const lean = Matrix.sub(row, shared.transpose().mmul(weights).mmul(design));
    const own =
      1 +
      walk * (at - x[0]) -
      shared.transpose().mmul(weights).mmul(shared).get(0, 0) +
      lean.mmul(inverse(normal)).mmul(lean.transpose()).get(0, 0);
    return {
      logWeight:
        -(Math.log(determinant(covariance)) + Math.log(determinant(normal)) + degrees * Math.log(rss)) / 2,
      chance: tCdf((value - middle) / Math.sqrt((rss / degrees) * own), degrees),
    };
  });
  const top = Math.max(...guesses.map(({ logWeight }) => logWeight));
  const weights = guesses.map(({ logWeight }) => Math.exp(logWeight - top));
  const sum = weights.reduce((total, one) => total + one, 0);
  return guesses.reduce((total, { chance }, i) => total + (chance * weights[i]) / sum, 0);
}

const line = (x: readonly number[], y: readonly number[]) => {
  const found = wanderingLine(x, y);
  if (!found) throw new Error('no line');
  return found;
};

describe('a line that may wander', () => {
  const times = fc.array(fc.integer({ min: 20, max: 900 }), { minLength: 3, maxLength: 14 });
  it('is generalised least squares with four guesses, weighed by the restricted likelihood', () =>
    fc.assert(
      fc.property(times, fc.infiniteStream(fc.integer({ min: -2_000, max: 2_000 })), (gaps, stream) => {
        let day = 0;
        const x = gaps.map((gap) => (day += gap) / 365.25);
        const y = x.map(() => (stream.next().value ?? 0) / 1000);
        if (leastSquares(x, y)?.s === 0) return;
        const found = line(x, y);
        for (const [ahead, value] of [
          [0, 0.3],
          [1, -0.5],
          [4, 1],
        ])
          expect(chanceBelow(found, found.lastX + ahead, value)).toBeCloseTo(
            byMatrices(x, y, found.lastX + ahead, value),
            3,
          );
      }),
    ));
  it('its first guess is ordinary least squares, with its limits of the next reading', () => {
    const x = [0, 1.015743, 1.995893, 3.008898, 4.005476, 5.021218, 5.998631, 7.014374];
    const y = [0.1, 0.3, 0.2, 0.6, 0.5, 0.9, 0.8, 1.2];
    const found = line(x, y);
    const alone = { ...found, guesses: [{ ...found.guesses[0], weight: 1 }] };
    expect(found.guesses[0].walk).toBe(0);
    // Example A of tests/published/statistics.test.ts: 0.814349 to 1.643742.
    const span = nextReadingSpan(alone, 8.010951, 0.95);
    expect([span.low.toFixed(6), span.high.toFixed(6)]).toEqual(['0.814349', '1.643742']);
    const fit = leastSquares(x, y);
    expect(fit && predictionSpan(fit, 8.010951, 0.95)?.low).toBeCloseTo(span.low, 9);
  });
  it('an exact line has no spread: it crosses where it crosses', () => {
    const found = line([0, 1, 2, 3, 4], [0, 0.1, 0.2, 0.3, 0.4]);
    expect(driftDirection(found)).toEqual({ sign: 1, chance: 0 });
    expect(nextReadingSpan(found, 5, 0.95).high).toBeCloseTo(0.5, 12);
    for (const p of [0.025, 0.5, 0.975])
      expect(reachesAt(found, { limit: 1, side: 1, p, within: 50 })).toBeCloseTo(10, 6);
    expect(reachesAt(found, { limit: -1, side: -1, p: 0.5, within: 50 })).toBe(null);
  });
  it('equal readings go nowhere', () => {
    const found = line([0, 1, 2, 3, 4], [0.3, 0.3, 0.3, 0.3, 0.3]);
    expect(driftDirection(found).chance).toBe(1);
    expect(nextReadingSpan(found, 9, 0.95)).toEqual({ low: 0.3, high: 0.3 });
    expect(reachesAt(found, { limit: 0.3, side: 1, p: 0.5, within: 50 })).toBe(null);
  });
  it('too few readings, and times that do not ascend, are refused', () => {
    expect(wanderingLine([0, 1], [0, 1])).toBe(null);
    expect(() => wanderingLine([0, 2, 2], [0, 1, 2])).toThrow('ascend');
    expect(() => wanderingLine([0, 1], [0])).toThrow('a y for each x');
  });
  it('the limits of the next reading hold about what they say for a walk, where least squares holds less', () => {
    const random = createRandom(7);
    const normal = (): number => normalQuantile((random.next() + 0.5) / 2 ** 32);
    const x = Array.from({ length: 13 }, (_, i) => i);
    let [wander, straight, claimed] = [0, 0, 0];
    const rounds = 1_500;
    for (let round = 0; round < rounds; round += 1) {
      let level = 0;
      const y = x.map(() => (level += 0.4 * normal()) + 0.12 * normal());
      const [known, next] = [y.slice(0, 12), y[12]];
      const found = line(x.slice(0, 12), known);
      const span = nextReadingSpan(found, 12, 0.9);
      const fit = leastSquares(x.slice(0, 12), known);
      const other = fit && predictionSpan(fit, 12, 0.9);
      if (next >= span.low && next <= span.high) wander += 1;
      if (other && next >= other.low && next <= other.high) straight += 1;
      if (driftDirection(found).chance <= 0.05) claimed += 1;
    }
    expect(wander / rounds).toBeGreaterThan(0.87);
    expect(straight / rounds).toBeLessThan(0.82);
    expect(claimed / rounds).toBeLessThan(0.12);
  });
});
