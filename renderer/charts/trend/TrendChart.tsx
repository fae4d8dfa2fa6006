import type { StationTrend } from '../../../shared/contract/stations.ts';
import { plainFigure } from '../../ui/format.ts';
import { YGrid } from '../YGrid.tsx';
import { layoutTrend } from './layout.ts';

const SIZE = { width: 560, height: 200 };

/** One quantity over the years: rings are read on the card, squares in a test; the line is the median of slopes. */
export function TrendChart({ trend }: { trend: StationTrend }) {
  const layout = layoutTrend(trend, SIZE);
  const { plot } = layout;
  const words = trend.points.map(({ date, value }) => `${date} ${plainFigure(value)}`).join(', ');
  return (
    <svg
      viewBox={`0 0 ${SIZE.width} ${SIZE.height}`}
      role="img"
      aria-label={`${trend.title}, ${trend.unit}: ${words}${trend.limit ? `; limit ${plainFigure(trend.limit.value)}` : ''}`}
    >
      <YGrid ticks={layout.yTicks} plot={plot} text={layout.tickText} />
      {layout.xTicks.map((tick) => (
        <text key={tick.label} x={tick.x} y={plot.bottom + 16} textAnchor="middle">
          {tick.label}
        </text>
      ))}
      {layout.limit === null ? null : (
        <line x1={plot.left} x2={plot.right} y1={layout.limit} y2={layout.limit} className="action-limit" />
      )}
      {layout.line ? (
        <path d={`M${layout.line.map(({ x, y }) => `${x} ${y}`).join('L')}`} className="theil-sen" />
      ) : null}
      {layout.marks.map(({ x, y, date, value, from, isFresh }, index) => (
        <g key={`${date} ${index}`}>
          {from === 'card' ? (
            <circle cx={x} cy={y} r={4} className="found" />
          ) : (
            <rect x={x - 4} y={y - 4} width={8} height={8} className="found" />
          )}
          {isFresh ? <line x1={x} x2={x} y1={plot.top} y2={plot.bottom} className="replacement" /> : null}
          <title>
            {date}: {plainFigure(value)} {trend.unit}
            {isFresh ? ', element changed' : ''}
          </title>
        </g>
      ))}
    </svg>
  );
}
