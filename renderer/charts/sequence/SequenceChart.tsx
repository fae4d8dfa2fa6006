import type { BranchView } from '../../../shared/contract/air.ts';
import { heightOf, layoutSequence } from './layout.ts';

const WIDTH = 900;

/** Springs of one branch against its pressure, and the room's distance from the dial above. The table holds the same figures. */
export function SequenceChart({ branch, role }: { branch: BranchView; role: string }) {
  const layout = layoutSequence(branch, role, WIDTH);
  const { axis } = layout;
  const unit = branch.setpoints.find((one) => one.role === role)?.unit ?? 'degF';
  return (
    <figure className="chart drift-chart">
      <svg
        viewBox={`0 0 ${WIDTH} ${heightOf(branch)}`}
        role="img"
        aria-label={`Spring ranges on the branch of ${branch.tag}; the table below holds the same figures`}
      >
        {layout.degreeTicks.map(({ value, x }) => (
          <g key={value}>
            <line x1={x} x2={x} y1={axis.top - 6} y2={axis.top} className="axis" />
            <text x={x} y={axis.top - 10} textAnchor="middle">
              {value > 0 ? `+${value}` : value < 0 ? `−${Math.abs(value)}` : 'dial'}
            </text>
          </g>
        ))}
        <text x={4} y={axis.top - 10}>
          room, {unit === 'percent' ? '%' : unit === 'degC' ? 'K' : '°F'}
        </text>
        {layout.pressureTicks.map(({ value, x }) => (
          <g key={value}>
            <line x1={x} x2={x} y1={axis.top} y2={axis.bottom} className="grid" />
            <text x={x} y={axis.bottom + 16} textAnchor="middle">
              {value}
            </text>
          </g>
        ))}
        <text x={4} y={axis.bottom + 16}>
          branch, psi
        </text>
        {layout.mains.map(({ label, x }) => (
          <g key={label}>
            <line x1={x} x2={x} y1={axis.top} y2={axis.bottom} className="action-limit" />
            <text x={x} y={axis.bottom + 30} textAnchor="middle">
              {label}
            </text>
          </g>
        ))}
        {layout.calibration === null ? null : (
          <line
            x1={layout.calibration}
            x2={layout.calibration}
            y1={axis.top}
            y2={axis.bottom}
            className="leaving"
          />
        )}
        {layout.bars.map((bar) => (
          <g key={bar.key}>
            <text x={4} y={bar.y + 16}>
              {bar.tag}
            </text>
            <text x={4} y={bar.y + 31}>
              {bar.duty}
            </text>
            <rect
              x={bar.nominal.x}
              y={bar.y + 6}
              width={bar.nominal.width}
              height={12}
              className="spring-nominal"
            >
              <title>{bar.words}</title>
            </rect>
            {bar.measured ? (
              <rect
                x={bar.measured.x}
                y={bar.y + 21}
                width={bar.measured.width}
                height={12}
                className="spring-measured"
              >
                <title>{bar.words}</title>
              </rect>
            ) : null}
          </g>
        ))}
      </svg>
      <figcaption className="legend">
        <span>
          <svg viewBox="0 0 24 12" aria-hidden="true">
            <rect x="1" y="2" width="22" height="8" className="spring-nominal" />
          </svg>
          spring on paper
        </span>
        <span>
          <svg viewBox="0 0 24 12" aria-hidden="true">
            <rect x="1" y="2" width="22" height="8" className="spring-measured" />
          </svg>
          as measured
        </span>
        <span>
          <svg viewBox="0 0 24 12" aria-hidden="true">
            <path d="M1 6H23" className="leaving" />
          </svg>
          calibration pressure
        </span>
      </figcaption>
    </figure>
  );
}
