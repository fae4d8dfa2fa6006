import { scaleLinear } from 'd3-scale';
import { YGrid } from '../YGrid.tsx';
import { ERROR_EDGES } from '../../../shared/stats/errorEdges.ts';

const SIZE = { width: 560, height: 320 };
const PLOT = { left: 46, right: 548, top: 14, bottom: 286 };

/** Distribution of as-found errors, in tolerances; the end bars hold everything beyond. */
export function ErrorBars({ bars, label }: { bars: readonly number[]; label: string }) {
  const y = scaleLinear([0, Math.max(1, ...bars)], [PLOT.bottom, PLOT.top]).nice(4);
  const x = scaleLinear([ERROR_EDGES[0], ERROR_EDGES[ERROR_EDGES.length - 1]], [PLOT.left, PLOT.right]);
  const words = bars.map((count, index) => `${ERROR_EDGES[index]} to ${ERROR_EDGES[index + 1]}: ${count}`);
  return (
    <figure className="chart drift-chart">
      <svg
        viewBox={`0 0 ${SIZE.width} ${SIZE.height}`}
        role="img"
        aria-label={`${label}, errors in tolerances. ${words.join('; ')}`}
      >
        <rect x={x(-1)} width={x(1) - x(-1)} y={PLOT.top} height={PLOT.bottom - PLOT.top} className="band" />
        <YGrid
          ticks={y
            .ticks(4)
            .filter(Number.isInteger)
            .map((value) => ({ value, y: y(value) }))}
          plot={PLOT}
        />
        {bars.map((count, index) => (
          <rect
            key={ERROR_EDGES[index]}
            x={x(ERROR_EDGES[index]) + 1}
            width={x(ERROR_EDGES[index + 1]) - x(ERROR_EDGES[index]) - 2}
            y={y(count)}
            height={PLOT.bottom - y(count)}
            className="bar"
          />
        ))}
        {[-2, -1, 0, 1, 2].map((value) => (
          <text key={value} x={x(value)} y={PLOT.bottom + 18} textAnchor="middle">
            {value > 0 ? `+${value}` : value < 0 ? `−${Math.abs(value)}` : '0'}
          </text>
        ))}
      </svg>
      <figcaption className="legend">{label}: errors as found, in tolerances</figcaption>
    </figure>
  );
}
