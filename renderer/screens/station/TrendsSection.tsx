import { Link } from 'wouter';
import { TrendChart } from '../../charts/trend/TrendChart.tsx';
import { plainFigure } from '../../ui/format.ts';
import { Empty } from '../../ui/states.tsx';
import type { StationSheet, StationTrend } from '../../../shared/contract/stations.ts';
import { differenceLabel, unitLabel } from '../../../shared/units/units.ts';
import type { Unit } from '../../../shared/units/units.ts';

function unitText(unit: string): string {
  return ['%', 'scfm', 'scim'].includes(unit) ? unit : unitLabel(unit as Unit);
}

function limitText({ limit, unit, worse }: StationTrend): string {
  if (!limit) return '';
  return `${worse === 'up' ? 'Limit' : 'At least'} ${plainFigure(limit.value)} ${unitText(unit)} (${limit.words}).`;
}

/** What the cards and tests say over the years, each quantity with what may be said of it. */
export function TrendsSection({ sheet }: { sheet: StationSheet }) {
  return (
    <section aria-label="Over the years">
      <h2>Over the years</h2>
      {sheet.trends.length === 0 ? (
        <Empty title="Nothing logged yet">
          <p>
            <Link href={`/bench/${sheet.id}`}>Open its bench card</Link> and log a check, or log a test below.
          </p>
        </Empty>
      ) : (
        <>
          <div className="trends">
            {sheet.trends.map((trend) => (
              <figure key={trend.key} className="chart drift-chart">
                <figcaption>
                  <h3>
                    {trend.title}, {unitText(trend.unit)}
                  </h3>
                </figcaption>
                <TrendChart trend={trend} />
                <figcaption>
                  {trend.said} {limitText(trend)}
                  {trend.key === 'dew point' && sheet.dewPointId !== null ? (
                    <>
                      {' '}
                      <Link href={`/drift/${sheet.dewPointId}`}>Open it in the drift book</Link>
                    </>
                  ) : null}
                </figcaption>
              </figure>
            ))}
          </div>
          <p className="quiet">
            Rings were read on the card, squares in a test; the line is the median of slopes and reaches a
            little ahead; dashed is the limit, where it lies near. A year is 365.25 days. A temperature moves
            in {differenceLabel(sheet.temperatureUnit)}.
          </p>
        </>
      )}
    </section>
  );
}
