import { useState } from 'react';
import type { FormEvent } from 'react';
import { Link, useLocation, useParams } from 'wouter';
import { call, useCall } from '../../api/client.ts';
import { ApiError } from '../../api/transport.ts';
import { DriftChart } from '../../charts/drift/DriftChart.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { differenceText, toleranceText } from '../../ui/format.ts';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import type { DriftSeries } from '../../../shared/contract/drift.ts';
import { differenceLabel } from '../../../shared/units/units.ts';

/** One sentence of what may be said by the number of readings. */
function plainSentence(series: DriftSeries): string {
  const { summary } = series;
  const unit = differenceLabel(series.unit);
  if (series.points.length === 0) return 'No reading yet: nothing can be said.';
  if (summary.theilSen === null)
    return summary.lastDriftMilli === null
      ? 'Too few readings for a trend.'
      : `Last drift ${differenceText(summary.lastDriftMilli, series.unit)}; too few readings for a trend.`;
  const slope = summary.theilSen.slope;
  const direction = slope > 0 ? 'warmer' : 'colder';
  const few = summary.count < 5 ? ' With fewer than five readings this is a number, not a trend.' : '';
  if (Math.abs(slope) < 0.005)
    return `Left alone, it would have stayed where it was over ${summary.count} readings.${few}`;
  return `Left alone, it would have moved ${Math.abs(slope).toFixed(2)} ${unit} a year ${series.kind === 'setpoint' ? direction : slope > 0 ? 'up' : 'down'}, by the median of slopes over ${summary.count} readings.${few}`;
}

function DriftTable({ series }: { series: DriftSeries }) {
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
        '>Per year',
        '>As if never adjusted',
        'Outcome',
        'By',
      ]}
      rows={series.points.toReversed().map((point) => ({
        key: point.calibrationId,
        cells: [
          `${point.date}${point.event === 'replaced' ? ' (replaced)' : point.event === 'changed' ? ' (settings changed after)' : ''}`,
          differenceText(point.foundMilli, series.unit, point.foundRelation),
          show(point.leftMilli),
          point.adjustmentMilli === 0 ? 'not touched' : show(point.adjustmentMilli),
          point.days ?? '–',
          point.driftMilli === null ? 'unknown' : show(point.driftMilli),
          point.ratePerYear === null ? '–' : point.ratePerYear.toFixed(2),
          show(point.unadjustedMilli),
          `${point.outcome}${point.supplyFlagged ? ' (supply not right)' : ''}`,
          point.person,
        ],
      }))}
    />
  );
}

/** Finds a tag and opens its first series. */
function TagFinder({ start }: { start: string }) {
  const [tag, setTag] = useState(start);
  const [, navigate] = useLocation();
  const [problem, setProblem] = useState<string | null>(null);
  async function submit(event: FormEvent): Promise<void> {
    event.preventDefault();
    try {
      const { series } = await call('drift.ofTag', { tag: tag.trim() });
      setProblem(null);
      navigate(`/drift/${series[0].testPointId}`);
    } catch (error) {
      setProblem(error instanceof ApiError ? error.message : String(error));
    }
  }
  return (
    <form className="controls" onSubmit={(event) => void submit(event)}>
      <TextInput label="Tag" value={tag} onChange={setTag} problem={problem} />
      <Button type="submit">Show drift</Button>
      <Link href="/drift/load" className="button button-plain">
        Load past readings
      </Link>
    </form>
  );
}

function SeriesView({ testPointId }: { testPointId: number }) {
  const series = useCall('drift.series', { testPointId });
  const siblings = useCall(
    'drift.points',
    { deviceId: series.data?.deviceId ?? 0 },
    { enabled: series.data !== undefined },
  );
  if (series.error) return <Failure error={series.error} />;
  if (!series.data) return <Waiting what="Reading the history…" />;
  const { data } = series;
  const { summary } = data;
  return (
    <>
      <TagFinder key={data.tag} start={data.tag} />
      <div className="title-line">
        <h2>
          <Link href={`/register/${data.deviceId}`}>{data.tag}</Link> {data.role || data.kind}{' '}
          {data.airState ? <AirState state={data.airState} /> : null}
        </h2>
        <nav aria-label="Test points of this device" className="tabs">
          {siblings.data?.points.map((point) => (
            <Link
              key={point.testPointId}
              href={`/drift/${point.testPointId}`}
              aria-current={point.testPointId === testPointId ? 'page' : undefined}
            >
              {point.role || point.kind}
            </Link>
          ))}
        </nav>
      </div>
      <p className="lead">{plainSentence(data)}</p>
      {data.points.length === 0 ? (
        <Empty title="No reading yet">
          <p>Log one on the bench card, or load past readings.</p>
        </Empty>
      ) : (
        <>
          <DriftChart series={data} />
          <dl className="values values-wide">
            <div>
              <dt>Found outside {toleranceText(data.toleranceMilli, data.unit)}</dt>
              <dd>
                {summary.outside} of {summary.known} known
              </dd>
            </div>
            <div>
              <dt>Last drift</dt>
              <dd>
                {differenceText(summary.lastDriftMilli, data.unit)}
                {summary.lastRatePerYear === null
                  ? ''
                  : `, ${summary.lastRatePerYear.toFixed(2)} ${differenceLabel(data.unit)} a year`}
              </dd>
            </div>
            <div>
              <dt>Median of slopes</dt>
              <dd>
                {summary.theilSen
                  ? `${summary.theilSen.slope.toFixed(3)} ${differenceLabel(data.unit)} a year`
                  : 'under three readings'}
              </dd>
            </div>
            <div>
              <dt>Least squares</dt>
              <dd>
                {summary.leastSquares
                  ? `${summary.leastSquares.slope.toFixed(3)} ${differenceLabel(data.unit)} a year`
                  : 'under three readings'}
              </dd>
            </div>
          </dl>
          <DriftTable series={data} />
        </>
      )}
    </>
  );
}

/** The drift book, one test point at a time. A year is 365.25 days throughout. */
export function DriftScreen() {
  const { testPointId } = useParams<{ testPointId?: string }>();
  return (
    <>
      <h1>Drift</h1>
      {testPointId === undefined ? (
        <>
          <TagFinder start="" />
          <Empty title="Choose a test point">
            <p>
              Type a tag, or open a device in the register and choose the drift of one of its test points.
            </p>
          </Empty>
        </>
      ) : (
        <SeriesView key={testPointId} testPointId={Number(testPointId)} />
      )}
    </>
  );
}
