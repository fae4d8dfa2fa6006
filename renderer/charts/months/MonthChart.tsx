import { PlainTable } from '../../tables/PlainTable.tsx';
import { layoutMonths } from './layout.ts';
import type { MonthDatum } from './layout.ts';

const SIZE = { width: 1200, height: 200 };

/** Bars of what falls due by month, with the same figures as a table beneath. */
export function MonthChart({ data }: { data: readonly MonthDatum[] }) {
  const layout = layoutMonths(data, SIZE);
  return (
    <figure className="chart">
      <figcaption>
        Test points by the month they fall due
        {data.some((datum) => datum.late > 0) ? '; hatched: late already' : ''}
      </figcaption>
      <svg
        viewBox={`0 0 ${SIZE.width} ${SIZE.height}`}
        role="img"
        aria-label="Bar chart of test points due by month; the table below holds the same figures"
      >
        <defs>
          <pattern
            id="late-hatch"
            width="6"
            height="6"
            patternUnits="userSpaceOnUse"
            patternTransform="rotate(45)"
          >
            <rect width="6" height="6" className="hatch-ground" />
            <rect width="2.4" height="6" className="hatch-line" />
          </pattern>
        </defs>
        {layout.ticks.map((tick) => (
          <g key={tick.value}>
            <line x1={40} x2={SIZE.width - 8} y1={tick.y} y2={tick.y} className="grid" />
            <text x={36} y={tick.y + 4} textAnchor="end">
              {tick.value}
            </text>
          </g>
        ))}
        {layout.bars.map((bar) => (
          <g key={bar.month}>
            <rect x={bar.x} y={bar.y} width={bar.width} height={bar.height} className="bar" />
            <rect
              x={bar.x}
              y={layout.baseline - bar.lateHeight}
              width={bar.width}
              height={bar.lateHeight}
              fill="url(#late-hatch)"
            />
            {bar.total > 0 ? (
              <text x={bar.x + bar.width / 2} y={bar.y - 4} textAnchor="middle">
                {bar.total}
              </text>
            ) : null}
            <text x={bar.x + bar.width / 2} y={SIZE.height - 8} textAnchor="middle">
              {bar.label}
            </text>
          </g>
        ))}
      </svg>
      <details>
        <summary>Figures as a table</summary>
        <PlainTable
          label="Due by month"
          titles={['Month', '>Falls due', '>Late already']}
          rows={data.map((datum) => ({ key: datum.month, cells: [datum.month, datum.count, datum.late] }))}
        />
      </details>
    </figure>
  );
}
