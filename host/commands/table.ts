/** Columns of text for the terminal. */

/** Rows with their columns aligned; the first row is the head. */
export function table(rows: readonly (readonly string[])[]): string {
  const widths = rows.reduce<number[]>(
    (sizes, row) => row.map((cell, index) => Math.max(sizes[index] ?? 0, cell.length)),
    [],
  );
  return rows
    .map((row) =>
      row
        .map((cell, index) => cell.padEnd(widths[index]))
        .join('  ')
        .trimEnd(),
    )
    .join('\n');
}
