import { useEffect, useState, useSyncExternalStore } from 'react';
import { Link, Redirect, Route, Switch, useLocation } from 'wouter';
import { readCardCode } from '../shared/cards/code.ts';
import { call, useCall } from './api/client.ts';
import { hasAccess } from './api/transport.ts';
import { chooseWorkingPerson, onWorkingPersonChange, workingPersonId } from './api/workingPerson.ts';
import { AirTreeScreen } from './screens/air/AirTreeScreen.tsx';
import { BenchScreen } from './screens/bench/BenchScreen.tsx';
import { DriftScreen } from './screens/drift/DriftScreen.tsx';
import { GroupsScreen } from './screens/drift/GroupsScreen.tsx';
import { IntervalsScreen } from './screens/drift/IntervalsScreen.tsx';
import { DueScreen } from './screens/due/DueScreen.tsx';
import { BaselineScreen } from './screens/evidence/BaselineScreen.tsx';
import { EnergyScreen } from './screens/evidence/EnergyScreen.tsx';
import { EvidenceScreen } from './screens/evidence/EvidenceScreen.tsx';
import { RetrofitScreen } from './screens/evidence/RetrofitScreen.tsx';
import { FollowUpsScreen } from './screens/followUps/FollowUpsScreen.tsx';
import { GaugesScreen } from './screens/gauges/GaugesScreen.tsx';
import { TraceScreen } from './screens/gauges/TraceScreen.tsx';
import { RecordScreen } from './screens/records/RecordScreen.tsx';
import { DeviceScreen } from './screens/register/DeviceScreen.tsx';
import { FindingsScreen } from './screens/register/FindingsScreen.tsx';
import { LoadScreen } from './screens/register/LoadScreen.tsx';
import { NewRowScreen } from './screens/register/NewRowScreen.tsx';
import { PlacesScreen } from './screens/register/PlacesScreen.tsx';
import { RegisterScreen } from './screens/register/RegisterScreen.tsx';
import { DaySheetScreen } from './screens/round/DaySheetScreen.tsx';
import { RoundScreen } from './screens/round/RoundScreen.tsx';
import { PaperScreen } from './screens/paper/PaperScreen.tsx';
import { ReadingsScreen } from './screens/drift/ReadingsScreen.tsx';
import { StationScreen } from './screens/station/StationScreen.tsx';
import { SettingsScreen } from './screens/settings/SettingsScreen.tsx';
import { Empty } from './ui/states.tsx';

const places = [
  { path: '/due', title: 'Due' },
  { path: '/round', title: 'Round' },
  { path: '/follow-ups', title: 'Follow-ups' },
  { path: '/register', title: 'Register' },
  { path: '/drift', title: 'Drift' },
  { path: '/evidence', title: 'Evidence' },
  { path: '/gauges', title: 'Gauges' },
  { path: '/settings', title: 'Settings' },
] as const;

function placeOf(location: string): (typeof places)[number] | undefined {
  if (location.startsWith('/bench') || location.startsWith('/paper'))
    return places.find(({ path }) => path === '/round');
  if (location.startsWith('/records')) return places.find(({ path }) => path === '/drift');
  return places.find((place) => location.startsWith(place.path));
}

/** A scanned code, or a tag typed by hand, opens its card from anywhere. */
function CardFinder() {
  const [, navigate] = useLocation();
  const [code, setCode] = useState('');
  const [problem, setProblem] = useState('');
  async function open(): Promise<void> {
    const read = readCardCode(code);
    if (!read) return;
    const { id } = await call('register.find', { tag: read.tag });
    setProblem(id === null ? `No device has the tag ${read.tag}.` : '');
    if (id === null) return;
    setCode('');
    navigate(`/bench/${id}${read.key === '' ? '' : `?role=${encodeURIComponent(read.key)}`}`);
  }
  return (
    <form
      className="card-finder"
      onSubmit={(event) => {
        event.preventDefault();
        void open();
      }}
    >
      <label htmlFor="card-code">Card</label>
      <input
        id="card-code"
        value={code}
        placeholder="scan or type a tag"
        autoComplete="off"
        aria-describedby={problem === '' ? undefined : 'card-code-problem'}
        onChange={(event) => {
          setCode(event.target.value);
          setProblem('');
        }}
      />
      {problem === '' ? null : (
        <span id="card-code-problem" role="alert" className="field-problem">
          {problem}
        </span>
      )}
    </form>
  );
}

function Masthead() {
  const [location] = useLocation();
  const book = useCall('settings.book', {});
  const settings = useCall('settings.all', {});
  const person = useSyncExternalStore(onWorkingPersonChange, workingPersonId);
  const here = placeOf(location);
  const people = settings.data?.people.filter((one) => one.active) ?? [];
  useEffect(() => {
    document.title = `${here?.title ?? 'Setpoint'} · Setpoint Almanac`;
  }, [here]);
  return (
    <header className="masthead">
      <a className="skip" href="#content">
        Skip to the screen
      </a>
      <div className="masthead-line">
        <p className="wordmark">Setpoint Almanac</p>
        <p className="site">
          {book.data?.site.name || book.data?.fileName || ''}
          {book.data?.isSample ? <span className="sample-mark">sample site</span> : null}
        </p>
        <CardFinder />
        <div className="working">
          <label htmlFor="working-person">Working as</label>
          <select
            id="working-person"
            value={person ?? ''}
            onChange={(event) =>
              chooseWorkingPerson(event.target.value === '' ? null : Number(event.target.value))
            }
          >
            <option value="">nobody chosen</option>
            {people.map((one) => (
              <option key={one.id} value={one.id}>
                {one.initials} · {one.name}
              </option>
            ))}
          </select>
        </div>
      </div>
      <nav aria-label="Screens">
        {places.map((place) => (
          <Link key={place.path} href={place.path} aria-current={here === place ? 'page' : undefined}>
            {place.title}
          </Link>
        ))}
      </nav>
    </header>
  );
}

export function App() {
  if (!hasAccess())
    return (
      <main className="page">
        <Empty title="Open the link that the program printed">
          <p>
            This page was opened without its link, so the program cannot tell that it is you. Copy the whole
            address from the window in which the program was started.
          </p>
        </Empty>
      </main>
    );
  return (
    <>
      <Masthead />
      <main id="content" className="page" tabIndex={-1}>
        <Switch>
          <Route path="/due" component={DueScreen} />
          <Route path="/round" component={RoundScreen} />
          <Route path="/round/:roundId" component={RoundScreen} />
          <Route path="/round/:roundId/day/:date/:personId" component={DaySheetScreen} />
          <Route path="/bench/:deviceId" component={BenchScreen} />
          <Route path="/paper/day/:roundId/:date/:personId" component={PaperScreen} />
          <Route path="/paper/main/:mainId/:airState" component={PaperScreen} />
          <Route path="/follow-ups" component={FollowUpsScreen} />
          <Route path="/gauges" component={GaugesScreen} />
          <Route path="/gauges/:gaugeId/trace" component={TraceScreen} />
          <Route path="/records/:calibrationId" component={RecordScreen} />
          <Route path="/register" component={RegisterScreen} />
          <Route path="/register/load" component={LoadScreen} />
          <Route path="/register/new" component={NewRowScreen} />
          <Route path="/register/air" component={AirTreeScreen} />
          <Route path="/register/findings" component={FindingsScreen} />
          <Route path="/register/places" component={PlacesScreen} />
          <Route path="/register/station" component={StationScreen} />
          <Route path="/register/station/:deviceId" component={StationScreen} />
          <Route path="/register/:deviceId" component={DeviceScreen} />
          <Route path="/drift" component={DriftScreen} />
          <Route path="/drift/load" component={ReadingsScreen} />
          <Route path="/drift/groups" component={GroupsScreen} />
          <Route path="/drift/intervals" component={IntervalsScreen} />
          <Route path="/drift/:testPointId" component={DriftScreen} />
          <Route path="/evidence" component={EvidenceScreen} />
          <Route path="/evidence/energy" component={EnergyScreen} />
          <Route path="/evidence/baseline" component={BaselineScreen} />
          <Route path="/evidence/retrofit" component={RetrofitScreen} />
          <Route path="/settings" component={SettingsScreen} />
          <Route>
            <Redirect to="/due" replace />
          </Route>
        </Switch>
      </main>
      <footer className="colophon">
        Planning and record-keeping aid. Tolerances and intervals are starting values for the owner to set;
        local codes, the device maker’s instructions and licensed practice come first.
      </footer>
    </>
  );
}
