import { scaleLinear } from 'd3-scale';
import { RUN_LIMITS } from '../../../shared/trade/air/leakTests.ts';
import { percentText } from '../../ui/format.ts';

const SIZE = { width: 900, height: 92 };
const PLOT = { left: 10, right: SIZE.width - 10, top: 26, bottom: 56 };

/** Use by kind, low to high, and the share that it really runs, on the capacity; a third and a half are marked. */
export function LoadBar({
  use,
  run,
}: {
  use: { low: number; typical: number; high: number };
  run: number | null;
}) {
  const most = Math.max(1, use.high, run ?? 0);
  const x = scaleLinear([0, most], [PLOT.left, PLOT.right]);
  const limits = [
    { at: RUN_LIMITS.wanted, words: 'a third' },
    { at: RUN_LIMITS.most, words: 'half' },
    { at: 1, words: 'all' },
  ];
  return (
    <figure className="chart load-chart">
      <svg
        viewBox={`0 0 ${SIZE.width} ${SIZE.height}`}
        role="img"
        aria-label={`Of the capacity: use by kind ${percentText(use.low)} to ${percentText(use.high)}, typically ${percentText(use.typical)}${run === null ? '' : `; it runs ${percentText(run)}`}`}
      >
        <rect
          x={x(0)}
          y={PLOT.top}
          width={x(most) - x(0)}
          height={PLOT.bottom - PLOT.top}
          className="load-ground"
        />
        <rect
          x={x(use.low)}
          y={PLOT.top}
          width={Math.max(2, x(use.high) - x(use.low))}
          height={PLOT.bottom - PLOT.top}
          className="load-use"
        />
        <line
          x1={x(use.typical)}
          x2={x(use.typical)}
          y1={PLOT.top}
          y2={PLOT.bottom}
          className="load-typical"
        />
        {limits.map(({ at, words }) => (
          <g key={words}>
            <line x1={x(at)} x2={x(at)} y1={PLOT.top - 6} y2={PLOT.bottom + 6} className="action-limit" />
            <text x={x(at)} y={PLOT.bottom + 20} textAnchor={at === 1 ? 'end' : 'middle'}>
              {words}
            </text>
          </g>
        ))}
        {run === null ? null : (
          <g>
            <path d={`M${x(run)} ${PLOT.top}l-7 -11h14z`} className="load-run" />
            <text x={x(run)} y={PLOT.top - 14} textAnchor="middle">
              runs {percentText(run)}
            </text>
          </g>
        )}
        <text x={PLOT.left} y={PLOT.bottom + 20}>
          0
        </text>
      </svg>
      <figcaption>
        The bar is the use by kind, low to high, with the typical one as a line; the triangle is the share of
        the time that it really runs. Dashed: a third is wanted, half is the most.
      </figcaption>
    </figure>
  );
}
