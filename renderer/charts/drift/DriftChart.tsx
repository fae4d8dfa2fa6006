import type { DriftSeries } from '../../../shared/contract/drift.ts';
import { differenceLabel } from '../../../shared/units/units.ts';
import { YGrid } from '../YGrid.tsx';
import { layoutDrift } from './layout.ts';
import type { Mark } from './layout.ts';

const SIZE = { width: 1200, height: 360 };

function tickText(value: number): string {
  return value > 0 ? `+${value}` : value < 0 ? `−${Math.abs(value)}` : '0';
}

/** As found: a ring, or an arrow where the reading was only a bound. */
function FoundMark({ mark }: { mark: Mark }) {
  const title = `${mark.date} as found${mark.flagged ? ', supply not right' : ''}`;
  if (mark.relation === '=')
    return (
      <circle cx={mark.x} cy={mark.y} r={5} className={mark.flagged ? 'found flagged' : 'found'}>
        <title>{title}</title>
      </circle>
    );
  const up = mark.relation === '>=';
  return (
    <path
      d={
        up
          ? `M${mark.x - 5} ${mark.y + 3}h10L${mark.x} ${mark.y - 7}z`
          : `M${mark.x - 5} ${mark.y - 3}h10L${mark.x} ${mark.y + 7}z`
      }
      className="found"
    >
      <title>{`${title}, a bound ${mark.relation}`}</title>
    </path>
  );
}

/** The history of one setpoint against its tolerance. The table on the screen holds the same figures. */
export function DriftChart({ series }: { series: DriftSeries }) {
  const layout = layoutDrift(series, SIZE);
  const { plot } = layout;
  return (
    <figure className="chart drift-chart">
      <svg
        viewBox={`0 0 ${SIZE.width} ${SIZE.height}`}
        role="img"
        aria-label={`Error of ${series.tag} ${series.role} over the years; the table below holds the same figures`}
      >
        {layout.bands.map((band) => (
          <rect
            key={band.x}
            x={band.x}
            width={band.width}
            y={band.top}
            height={Math.max(0, band.bottom - band.top)}
            className="band"
          />
        ))}
        {layout.actions.map((at) => (
          <line key={at} x1={plot.left} x2={plot.right} y1={at} y2={at} className="action-limit" />
        ))}
        {layout.readingBand ? <path d={layout.readingBand} className="reading-band" /> : null}
        {layout.meanBand ? <path d={layout.meanBand} className="mean-band" /> : null}
        <YGrid ticks={layout.yTicks} plot={plot} text={tickText} />
        <text x={4} y={plot.top + 2}>
          {differenceLabel(series.unit)}
        </text>
        <line x1={plot.left} x2={plot.right} y1={layout.zero} y2={layout.zero} className="zero" />
        {layout.xTicks.map((tick) => (
          <g key={tick.label}>
            <line x1={tick.x} x2={tick.x} y1={plot.bottom} y2={plot.bottom + 4} className="axis" />
            <text x={tick.x} y={plot.bottom + 18} textAnchor="middle">
              {tick.label}
            </text>
          </g>
        ))}
        {layout.replacements.map((replacement) => (
          <g key={replacement.date}>
            <line
              x1={replacement.x}
              x2={replacement.x}
              y1={plot.top}
              y2={plot.bottom}
              className="replacement"
            />
            <text x={replacement.x + 4} y={plot.top + 10}>
              replaced
            </text>
          </g>
        ))}
        {layout.unadjusted.map((path) => (
          <path key={path} d={path} className="unadjusted" />
        ))}
        {layout.leastSquares ? <path d={layout.leastSquares} className="least-squares" /> : null}
        {layout.theilSen ? <path d={layout.theilSen} className="theil-sen" /> : null}
        {layout.leaving ? (
          <g>
            <line
              x1={layout.leaving.x}
              x2={layout.leaving.x}
              y1={plot.top}
              y2={plot.bottom}
              className="leaving"
            />
            <text x={layout.leaving.x - 4} y={plot.bottom - 6} textAnchor="end">
              {layout.leaving.label}
            </text>
          </g>
        ) : null}
        {layout.adjustments.map((adjustment) => (
          <line
            key={adjustment.label}
            x1={adjustment.x}
            x2={adjustment.x}
            y1={adjustment.from}
            y2={adjustment.to}
            className="adjustment"
          />
        ))}
        {layout.left.map((mark) => (
          <rect key={mark.date} x={mark.x - 3} y={mark.y - 3} width={6} height={6} className="left">
            <title>{`${mark.date} as left`}</title>
          </rect>
        ))}
        {layout.found.map((mark) => (
          <FoundMark key={mark.date} mark={mark} />
        ))}
      </svg>
      <figcaption className="legend">
        <span>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            <circle cx="6" cy="6" r="4.5" className="found" />
          </svg>
          as found (arrow: a bound; faint: supply not right)
        </span>
        <span>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            <rect x="3" y="3" width="6" height="6" className="left" />
          </svg>
          as left
        </span>
        <span>
          <svg viewBox="0 0 24 12" aria-hidden="true">
            <path d="M1 9L23 3" className="unadjusted" />
          </svg>
          as if never adjusted
        </span>
        <span>
          <svg viewBox="0 0 24 12" aria-hidden="true">
            <path d="M1 9L23 3" className="theil-sen" />
          </svg>
          median of slopes
        </span>
        <span>
          <svg viewBox="0 0 24 12" aria-hidden="true">
            <path d="M1 9L23 3" className="least-squares" />
          </svg>
          least squares
        </span>
        <span>
          <svg viewBox="0 0 12 12" aria-hidden="true">
            <rect width="12" height="12" className="band" />
          </svg>
          tolerance of the day
        </span>
        {layout.actions.length > 0 ? (
          <span>
            <svg viewBox="0 0 24 12" aria-hidden="true">
              <path d="M1 6H23" className="action-limit" />
            </svg>
            action limit
          </span>
        ) : null}
        {layout.readingBand ? (
          <span>
            <svg viewBox="0 0 12 12" aria-hidden="true">
              <rect width="12" height="12" className="reading-band" />
              <rect y="3" width="12" height="6" className="mean-band" />
            </svg>
            95 %: next reading, and the line
          </span>
        ) : null}
      </figcaption>
    </figure>
  );
}
