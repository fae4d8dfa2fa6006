import { Fragment } from 'react';
import { useCall } from '../../api/client.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { differenceText, toleranceText } from '../../ui/format.ts';
import type { DriftSeries } from '../../../shared/contract/drift.ts';
import type { Span } from '../../../shared/stats/leastSquares.ts';
import { GIVEN_FROM } from '../../../shared/stats/givenFrom.ts';
import type { Leaving } from '../../../shared/stats/leaving.ts';
import { differenceLabel } from '../../../shared/units/units.ts';

function signed(value: number, digits: number = 3): string {
  return `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(digits)}`;
}

function spanText(span: Span | null): string {
  return span === null ? '' : `, 95 %: ${signed(span.low)} to ${signed(span.high)}`;
}

function chance(p: number): string {
  return p < 0.001 ? 'under 0.001' : p.toFixed(3);
}

function leavingText(leaving: Leaving): string {
  if (leaving.kind === 'dated') {
    const { on, from, to, isBeyondSpan } = leaving;
    if (on === null)
      return from === null ? 'not within fifty years' : `from ${from} on, or not within fifty years`;
    return `${on}; ${from} to ${to ?? 'more than fifty years ahead'}${isBeyondSpan ? '; beyond what its readings reach' : ''}`;
  }
  return {
    'too few': 'under five readings',
    'no trend': 'no trend to go by',
    'not dated': 'cannot be dated: its rate, or where it stands, is not known well enough',
    'outside now': 'it is outside now',
  }[leaving.kind];
}

/** The figures of the newest series, each with what it rests on; what cannot be given says why. */
export function DriftFigures({ series }: { series: DriftSeries }) {
  const { statistics: own } = series;
  const unit = differenceLabel(series.unit);
  const few = 'under three readings';
  const { leaving, trend: word } = own;
  // Limits of a line through readings that were pushed back are none.
  const limits = (span: Span | null): string => (own.isAdjusted ? '' : spanText(span));
  const rows: [string, string][] = [
    [
      series.statistics.side === 'above'
        ? 'Found above what it may be at most'
        : `Found outside ${toleranceText(series.toleranceMilli, series.unit)}`,
      `${series.outside} of ${series.known} known`,
    ],
    [
      'Last drift',
      `${differenceText(own.lastDriftMilli, series.unit)}${own.lastRatePerYear === null ? '' : `, ${signed(own.lastRatePerYear, 2)} ${unit} a year`}`,
    ],
    [
      'Median of slopes',
      own.median ? `${signed(own.median.slope)} ${unit} a year${limits(own.median.span)}` : few,
    ],
    ['Least squares', own.fit ? `${signed(own.fit.slope)} ${unit} a year${limits(own.slope)}` : few],
    [
      'Trend or chance',
      own.kendall === null || word === null
        ? 'under five readings'
        : own.isAdjusted
          ? `${word === 'none' ? 'no trend' : word}, by the limits of the rate between adjustments`
          : `${word === 'none' ? 'no trend' : word}; chance ${chance(own.kendall.exactP ?? own.kendall.p)}${own.kendall.exactP === null ? '' : ', exact'} (Mann-Kendall)${own.wander === null ? '' : `, ${chance(own.wander.chance)} if it may wander`}`,
    ],
    [
      own.isAdjusted ? 'Between adjustments' : 'Between visits',
      own.rate
        ? `${signed(own.rate.rate)} ${unit} a year${own.count < GIVEN_FROM.trend ? '' : spanText(own.rate.span)}, from ${own.rate.count} ${own.rate.count === 1 ? 'drift' : 'drifts'}`
        : 'no drift known',
    ],
    ['Leaves tolerance', leavingText(leaving)],
    ['Be there by', leaving.kind === 'dated' ? (leaving.earliest ?? 'not within fifty years') : '–'],
  ];
  if (leaving.kind === 'dated' && leaving.by === 'line' && leaving.straight)
    rows.push([
      'Were it a straight line',
      `${leaving.straight.on}; ${leaving.straight.from} to ${leaving.straight.to}`,
    ]);
  if (own.bend !== null)
    rows.push(['Straight line', `${own.bend < 0.05 ? 'it bends' : 'fits'}; chance ${chance(own.bend)}`]);
  if (own.serial !== null) rows.push(['One reading follows the last', own.serial.toFixed(2)]);
  return (
    <>
      <dl className="values values-wide">
        {rows.map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <p className="quiet">
        Figures are of the newest series, {own.count} {own.count === 1 ? 'day' : 'days'} with a reading
        {own.bounds > 0 ? ` and ${own.bounds} that are only bounds` : ''}. A year is 365.25 days. Limits of
        the next reading, and dates, allow for a device that wanders; those of the line take it that none
        does.
      </p>
    </>
  );
}

/** What the main moved by, of how many neighbours, and what is left for the point itself. */
function ownDrift(
  { unit }: DriftSeries,
  driftMilli: number | null,
  shift: { medianMilli: number; count: number } | undefined,
): [string, string] {
  if (driftMilli === null || shift === undefined) return ['–', '–'];
  return [
    `${differenceText(shift.medianMilli, unit)} (${shift.count})`,
    differenceText(driftMilli - shift.medianMilli, unit),
  ];
}

/** The table behind the chart. What its main moved together stands beside its own drift. */
export function DriftTable({ series }: { series: DriftSeries }) {
  const { data: common } = useCall('drift.common', { testPointId: series.testPointId });
  const shiftOf = new Map(common?.shifts.map((one) => [one.calibrationId, one]));
  const isShared = (common?.shifts.length ?? 0) > 0;
  const show = (milli: number | null): string => differenceText(milli, series.unit);
  return (
    <PlainTable
      label="Drift figures"
      titles={[
        'Date',
        '>As found',
        '>As left',
        '>Adjusted by',
        '>Days',
        '>Drift',
        ...(isShared ? [`>${common?.main} moved`, '>Its own'] : []),
        '>Per year',
        '>As if never adjusted',
        'Outcome',
        'By',
      ]}
      rows={series.points.toReversed().map((point) => ({
        key: point.calibrationId,
        cells: [
          <Fragment key="date">
            <span className="nowrap">{point.date}</span>{' '}
            {[
              point.event === 'replaced'
                ? '(replaced)'
                : point.event === 'changed'
                  ? '(a new series after)'
                  : '',
              point.isBeforeService ? '(before it was in service: left out)' : '',
              point.nominalChanged ? '(another setting)' : '',
            ]
              .filter((word) => word !== '')
              .join(' ')}
          </Fragment>,
          `${differenceText(point.foundMilli, series.unit, point.foundRelation)}${point.reexpressedMilli === 0 ? '' : ` (moved ${show(point.reexpressedMilli)} to the newest calibration pressure)`}`,
          `${show(point.leftMilli)}${point.leftMilli === null || point.carriedMilli === null || point.carriedMilli === point.leftMilli ? '' : ` (carried as ${show(point.carriedMilli)})`}`,
          point.adjustmentMilli === 0 ? 'not touched' : show(point.adjustmentMilli),
          point.days ?? '–',
          point.driftMilli === null
            ? 'unknown'
            : `${show(point.driftMilli)}${point.driftFlagged ? ' (supply)' : ''}`,
          ...(isShared ? ownDrift(series, point.driftMilli, shiftOf.get(point.calibrationId)) : []),
          point.ratePerYear === null ? '–' : signed(point.ratePerYear, 2),
          show(point.unadjustedMilli),
          `${point.outcome}${point.supplyFlagged ? ' (supply not right)' : ''}`,
          point.person,
        ],
      }))}
    />
  );
}
