/** Least squares with several terms, by Householder reflections (library), and the test whether a drift bends. */
import { Matrix, QrDecomposition, inverse } from 'ml-matrix';
import { mean } from 'simple-statistics';
import { tTwoSided } from './dist/studentT.ts';

export type TermsFit = { coefficients: number[]; errors: number[]; s: number; degrees: number };

/**
 * Fits y = sum of coefficients times columns; `rows` holds one list of term values a reading. Columns are brought to the
 * same size first: without that powers of large figures lose all their digits. Null without a degree of freedom, or where
 * the terms do not differ.
 */
export function fitTerms(rows: readonly (readonly number[])[], y: readonly number[]): TermsFit | null {
  if (rows.length !== y.length) throw new RangeError('terms need a y for each row');
  const width = rows[0]?.length ?? 0;
  const degrees = rows.length - width;
  if (width === 0 || degrees < 1) return null;
  const sizes = Array.from(
    { length: width },
    (_, j) => Math.max(...rows.map((row) => Math.abs(row[j]))) || 1,
  );
  const design = new Matrix(rows.map((row) => row.map((value, j) => value / sizes[j])));
  const qr = new QrDecomposition(design);
  if (!qr.isFullRank()) return null;
  const solved = qr.solve(Matrix.columnVector([...y])).to1DArray();
  const rss = rows.reduce((sum, row, i) => {
    const fitted = row.reduce((total, value, j) => total + (value / sizes[j]) * solved[j], 0);
    return sum + (y[i] - fitted) ** 2;
  }, 0);
  const s = Math.sqrt(rss / degrees);
  const back = inverse(qr.upperTriangularMatrix);
  const errors = Array.from({ length: width }, (_, j) => s * Math.hypot(...back.getRow(j)));
  return {
    coefficients: solved.map((value, j) => value / sizes[j]),
    errors: errors.map((value, j) => value / sizes[j]),
    s,
    degrees,
  };
}

/**
 * Two-sided chance of so strong a bend where the drift is a straight line: the t test of the square term of a centred
 * parabola. Null under five readings, without scatter, or when x does not vary enough.
 */
export function bendChance(x: readonly number[], y: readonly number[]): number | null {
  if (x.length < 5) return null;
  const middle = mean([...x]);
  const fit = fitTerms(
    x.map((at) => [1, at - middle, (at - middle) ** 2]),
    y,
  );
  if (!fit || fit.s === 0 || fit.errors[2] === 0) return null;
  return tTwoSided(fit.coefficients[2] / fit.errors[2], fit.degrees);
}
