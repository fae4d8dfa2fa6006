import { Link, Redirect, useParams } from 'wouter';
import { useCall } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import { BudgetSection } from './BudgetSection.tsx';
import { DrynessSection } from './DrynessSection.tsx';
import { HoleCalculator } from './HoleCalculator.tsx';
import { LeaksSection } from './LeaksSection.tsx';
import { TestsSection } from './TestsSection.tsx';
import { TrendsSection } from './TrendsSection.tsx';

function Sheet({ deviceId }: { deviceId: number }) {
  const sheet = useCall('stations.sheet', { deviceId });
  if (sheet.error) return <Failure error={sheet.error} />;
  if (!sheet.data) return <Waiting what="Adding up what hangs on it…" />;
  const { data } = sheet;
  return (
    <>
      <div className="title-line">
        <h2>
          <Link href={`/register/${data.id}`}>{data.tag}</Link> <span className="subtitle">{data.name}</span>
        </h2>
        <div className="actions">
          {data.retiredOn === null ? (
            <Link href={`/bench/${data.id}`} className="button button-plain">
              Open bench card
            </Link>
          ) : null}
          <Button onPress={() => window.print()}>Print the sheet</Button>
        </div>
      </div>
      {data.relatives.map(({ id, tag, words }) => (
        <p key={`${id} ${words}`} className="notice" role="note">
          It {words} <Link href={`/register/station/${id}`}>{tag}</Link>, whose tests and leaks stand there.
        </p>
      ))}
      {data.retiredOn === null ? (
        <BudgetSection sheet={data} />
      ) : (
        <p className="notice" role="note">
          Out of service since {data.retiredOn}: it carries nothing. What was measured of it stands here.
        </p>
      )}
      <TrendsSection sheet={data} />
      <TestsSection sheet={data} />
      <LeaksSection sheet={data} />
      <DrynessSection sheet={data} />
      <HoleCalculator sheet={data} />
    </>
  );
}

/** The sheet of an air station: what it carries, how it runs, how dry its air is, its tests and its leaks. */
export function StationScreen() {
  const { deviceId } = useParams<{ deviceId?: string }>();
  const list = useCall('stations.list', {});
  if (list.error) return <Failure error={list.error} />;
  if (!list.data) return <Waiting what="Looking for air stations…" />;
  const { stations } = list.data;
  const [first] = stations;
  const isKnown = stations.some(({ id }) => String(id) === deviceId);
  if (deviceId === undefined && first) return <Redirect to={`/register/station/${first.id}`} replace />;
  return (
    <>
      <p className="crumb">
        <Link href="/register">Register</Link>
      </p>
      <h1>Air stations</h1>
      {first ? (
        <nav aria-label="Air stations" className="tabs">
          {stations.map((one) => (
            <Link
              key={one.id}
              href={`/register/station/${one.id}`}
              aria-current={String(one.id) === deviceId ? 'page' : undefined}
            >
              {one.tag}
              {one.retiredOn === null ? '' : ', out of service'}
            </Link>
          ))}
        </nav>
      ) : (
        <Empty title="No air station yet">
          <p>
            <Link href="/register/new?class=air_station">Add the air station</Link>, and say of each regulator
            what feeds it.
          </p>
        </Empty>
      )}
      {deviceId === undefined ? null : isKnown ? (
        <Sheet key={deviceId} deviceId={Number(deviceId)} />
      ) : (
        <Empty title="No such air station">
          <p>The book holds none of that number. Choose one above.</p>
        </Empty>
      )}
    </>
  );
}
