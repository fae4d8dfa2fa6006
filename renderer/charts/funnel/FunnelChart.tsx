import { YGrid } from '../YGrid.tsx';
import { layoutFunnel } from './layout.ts';
import type { Funnel } from './layout.ts';

const SIZE = { width: 760, height: 320 };

/** Share in tolerance by size of group: a square lies beyond what chance would give, a ring within, a dot is too small. */
export function FunnelChart({ of }: { of: Funnel }) {
  const layout = layoutFunnel(of, SIZE);
  const { plot } = layout;
  return (
    <figure className="chart drift-chart">
      <svg
        viewBox={`0 0 ${SIZE.width} ${SIZE.height}`}
        role="img"
        aria-label="Share found in tolerance against the number of readings; the table below holds the same figures"
      >
        <YGrid ticks={layout.yTicks} plot={plot} text={(value) => `${Math.round(value * 100)} %`} />
        {layout.xTicks.map((tick) => (
          <text key={tick.value} x={tick.x} y={plot.bottom + 16} textAnchor="middle">
            {tick.value}
          </text>
        ))}
        <text x={plot.right} y={plot.bottom + 30} textAnchor="end">
          readings
        </text>
        <line x1={plot.left} x2={plot.right} y1={layout.overall} y2={layout.overall} className="zero" />
        <path d={layout.upper} className="funnel-limit" />
        <path d={layout.lower} className="funnel-limit" />
        {layout.marks.map((mark) => (
          <g key={mark.key}>
            {mark.place === 'low' || mark.place === 'high' ? (
              <rect x={mark.x - 5} y={mark.y - 5} width={10} height={10} className={`mark-${mark.place}`} />
            ) : (
              <circle
                cx={mark.x}
                cy={mark.y}
                r={mark.place === 'too few' ? 2.5 : 5}
                className={mark.place === 'too few' ? 'left' : 'found'}
              />
            )}
            <text x={mark.x + (mark.anchor === 'end' ? -9 : 9)} y={mark.labelY} textAnchor={mark.anchor}>
              {mark.key}
            </text>
          </g>
        ))}
      </svg>
      <figcaption className="legend">
        <span>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            <rect x="1" y="1" width="10" height="10" className="mark-low" />
          </svg>
          worse than chance gives a group of its size
        </span>
        <span>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            <rect x="1" y="1" width="10" height="10" className="mark-high" />
          </svg>
          better
        </span>
        <span>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            <circle cx="6" cy="6" r="4.5" className="found" />
          </svg>
          within
        </span>
        <span>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            <circle cx="6" cy="6" r="2.5" className="left" />
          </svg>
          under five readings
        </span>
        <span>
          <svg viewBox="0 0 24 12" aria-hidden="true">
            <path d="M1 6H23" className="funnel-limit" />
          </svg>
          limits of chance, 99.8 %
        </span>
      </figcaption>
    </figure>
  );
}
