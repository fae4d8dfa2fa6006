import type { DriftStatistics } from '../../../shared/stats/driftStatistics.ts';
import { YGrid } from '../YGrid.tsx';
import { layoutControl } from './layout.ts';

const SIZE = { width: 1200, height: 240 };

/** Individuals chart; a value at which a rule fires is filled and ringed. */
export function ControlChart({
  chart,
  unit,
}: {
  chart: NonNullable<DriftStatistics['control']>;
  unit: string;
}) {
  const layout = layoutControl(chart, SIZE);
  const { plot } = layout;
  const words = chart.values.map((value) => value.toFixed(2)).join(', ');
  return (
    <figure className="chart drift-chart">
      <svg
        viewBox={`0 0 ${SIZE.width} ${SIZE.height}`}
        role="img"
        aria-label={`Control chart, ${unit}: ${words}; centre ${chart.centre.toFixed(2)}, limits ${chart.lower.toFixed(2)} and ${chart.upper.toFixed(2)}`}
      >
        <YGrid ticks={layout.yTicks} plot={plot} text={layout.tickText} />
        <text x={4} y={plot.top}>
          {unit}
        </text>
        <line x1={plot.left} x2={plot.right} y1={layout.centre} y2={layout.centre} className="zero" />
        {[layout.upper, layout.lower].map((at) => (
          <line key={at} x1={plot.left} x2={plot.right} y1={at} y2={at} className="action-limit" />
        ))}
        <path d={layout.path} className="unadjusted" />
        {layout.marks.map((mark) => (
          <circle
            key={mark.x}
            cx={mark.x}
            cy={mark.y}
            r={mark.isSignal ? 7 : 5}
            className={mark.isSignal ? 'found signal' : 'found'}
          >
            <title>{mark.value.toFixed(3)}</title>
          </circle>
        ))}
      </svg>
    </figure>
  );
}
