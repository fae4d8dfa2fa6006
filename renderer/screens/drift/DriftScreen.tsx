import { useState } from 'react';
import type { FormEvent } from 'react';
import { Link, useLocation, useParams } from 'wouter';
import { call, useCall } from '../../api/client.ts';
import { ApiError } from '../../api/transport.ts';
import { DriftChart } from '../../charts/drift/DriftChart.tsx';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { TextInput } from '../../ui/fields.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import { DriftTabs } from './DriftTabs.tsx';
import { ControlCharts } from './ControlCharts.tsx';
import { DriftFigures, DriftTable } from './DriftFigures.tsx';

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
      <p className="lead">{data.said}</p>
      {data.points.length === 0 ? (
        <Empty title="No reading yet">
          <p>Log one on the bench card, or load past readings.</p>
        </Empty>
      ) : (
        <>
          <DriftChart series={data} />
          <DriftFigures series={data} />
          <DriftTable series={data} />
          <ControlCharts series={data} />
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
      <DriftTabs here="/drift" />
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
