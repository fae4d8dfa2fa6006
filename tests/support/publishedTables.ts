/** Tables of tests/published/data as rows of cells, and how far a figure may lie from the one of a table. */
import { readFileSync } from 'node:fs';
import path from 'node:path';

const folder = path.join(import.meta.dirname, '../published/data');

/** The rows below the titles. */
export function rowsOf(file: string): string[][] {
  return readFileSync(path.join(folder, file), 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map(
      (line) =>
        line.match(/("[^"]*"|[^,]*)(,|$)/g)?.map((cell) => cell.replace(/,$/, '').replace(/^"|"$/g, '')) ??
        [],
    );
}

/** A tolerance as the tables write it: a number, or percent of the expected figure; zero is a billionth of it. */
export function allowedOf(expected: number, tolerance: string): number {
  return tolerance.endsWith('%')
    ? (Math.abs(expected) * Number(tolerance.replace('%', ''))) / 100
    : Math.max(Number(tolerance), Math.abs(expected) * 1e-9);
}
