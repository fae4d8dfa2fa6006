/** A small table as it stands: no sorting, no virtual rows. The first cell of a row names it. */
import type { ReactNode } from 'react';

export type PlainRow = { key: string | number; cells: readonly ReactNode[]; className?: string };

type Props = {
  /** Name of the table for readers; two on one screen must differ. */
  label: string;
  /** Titles; one that begins with `>` is set to the right, as its figures are. */
  titles: readonly string[];
  rows: readonly PlainRow[];
  caption?: string;
};

const RIGHT = '>';

export function PlainTable({ label, titles, rows, caption }: Props) {
  const aligned = titles.map((title) => (title.startsWith(RIGHT) ? 'end' : undefined));
  return (
    <div className="table-frame" role="region" aria-label={label} tabIndex={0}>
      <table className="plain-table">
        {caption ? <caption>{caption}</caption> : null}
        <thead>
          <tr>
            {titles.map((title, index) => (
              <th key={title} scope="col" className={aligned[index]}>
                {title.replace(RIGHT, '')}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.key} className={row.className}>
              {row.cells.map((cell, index) =>
                index === 0 ? (
                  <th key={titles[index]} scope="row">
                    {cell}
                  </th>
                ) : (
                  <td key={titles[index]} className={aligned[index]}>
                    {cell}
                  </td>
                ),
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
