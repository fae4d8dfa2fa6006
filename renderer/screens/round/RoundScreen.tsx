import { useEffect, useRef, useState } from 'react';
import { Link, useLocation, useParams, useSearchParams } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { MainLanes, YearChart } from '../../charts/year/YearChart.tsx';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { Dialog } from '../../ui/Dialog.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { minutesText } from '../../ui/format.ts';
import { MovedTasks, RedrawPanel } from './RedrawPanel.tsx';
import { RoundFigures } from './RoundFigures.tsx';
import { RoundFiles } from './RoundFiles.tsx';
import { roundLabel } from './roundLabel.ts';
import { WhyPanel } from './WhyPanel.tsx';
import { JobProgress, useJob } from '../../ui/JobPanel.tsx';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import { reasonText } from '../../../shared/planning/priceText.ts';
import type { RoundOverview } from '../../../shared/contract/rounds.ts';

const LARGEST_SEED = 0xffffffff;

function DrawForm({ today, onDrawn }: { today: string; onDrawn: (id: number) => void }) {
  const year = Number(today.slice(0, 4)) + (today.slice(5) >= '10-01' ? 1 : 0);
  const [from, setFrom] = useState(`${year}-01-01`);
  const [to, setTo] = useState(`${year}-12-31`);
  const [seed, setSeed] = useState('1');
  const job = useJob('rounds.draw');
  const isSeed = /^\d{1,10}$/u.test(seed.trim()) && Number(seed) <= LARGEST_SEED;
  const seedProblem = isSeed ? null : `a whole number from 0 to ${LARGEST_SEED}`;
  async function draw(): Promise<void> {
    if (seedProblem !== null) return;
    const result = await job.start({ from, to, seed: Number(seed) });
    if (result) onDrawn(result.roundId);
  }
  return (
    <section aria-label="Draw a round" className="panel">
      <h2>Draw a round</h2>
      <div className="controls">
        <TextInput label="From" type="date" value={from} onChange={setFrom} />
        <TextInput label="To" type="date" value={to} onChange={setTo} />
        <TextInput
          label="Seed"
          value={seed}
          onChange={setSeed}
          numeric
          problem={seedProblem}
          help="same book, same seed: same round"
        />
        <Button tone="main" isPending={job.isRunning} onPress={() => void draw()}>
          Draw
        </Button>
      </div>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
    </section>
  );
}

function DayPanel({ overview, date }: { overview: RoundOverview; date: string }) {
  const day = overview.days.find((one) => one.date === date);
  if (!day || day.people.length === 0)
    return (
      <section aria-label={`Day ${date}`} className="panel">
        <h3>{date}</h3>
        <p className="quiet">Nothing is planned on this day.</p>
      </section>
    );
  return (
    <section aria-label={`Day ${date}`} className="panel">
      <h3>{date}</h3>
      <p>
        {minutesText(day.loadMinutes)} of {minutesText(day.capacityMinutes)}
        {day.forcedMains.map((one) => (
          <span key={`${one.main}${one.shift}`}>
            {' '}
            · {one.main} <AirState state={one.airState} forced />
          </span>
        ))}
      </p>
      <ul className="link-list">
        {day.people.map((person) => (
          <li key={person.personId}>
            <Link href={`/round/${overview.round.id}/day/${date}/${person.personId}`}>
              Day sheet of {person.initials}
            </Link>
            : {person.visits} visits, {minutesText(person.loadMinutes)}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Unplaced({ overview }: { overview: RoundOverview }) {
  if (overview.unplaced.length === 0) return <p className="quiet">Every task of the period has a place.</p>;
  return (
    <PlainTable
      label="Tasks without a place"
      titles={['Tag', 'Task', 'Due', 'Why it has no place']}
      rows={overview.unplaced.map((task) => ({
        key: task.id,
        cells: [
          <Link key="tag" href={`/register/${task.deviceId}`}>
            {task.tag}
          </Link>,
          task.role ?? task.kind,
          task.dueOn,
          reasonText(task),
        ],
      }))}
    />
  );
}

type ViewProps = {
  id: number;
  /** Just drawn: the keyboard goes on from its heading. */
  isFresh: boolean;
  onRedrawn: (id: number) => void;
};

function RoundView({ id, isFresh, onRedrawn }: ViewProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  const discard = useCommand('rounds.discard');
  // A discarded draft is not asked for any more.
  const overview = useCall(
    'rounds.overview',
    { id },
    { enabled: !discard.isPending && !discard.isSuccess, keepPrevious: true },
  );
  const [search, setSearch] = useSearchParams();
  const [, navigate] = useLocation();
  const issue = useCommand('rounds.issue');
  const [asked, setAsked] = useState<'issue' | 'discard' | null>(null);
  const isRead = overview.data !== undefined;
  useEffect(() => {
    if (isFresh && isRead) heading.current?.focus();
  }, [isFresh, isRead]);
  if (overview.error) return <Failure error={overview.error} />;
  if (!overview.data) return <Waiting what="Reading the round…" />;
  const { data } = overview;
  const chosen = search.get('day') ?? data.days.find((day) => day.loadMinutes > 0)?.date ?? null;
  const step = (by: 1 | -1): void => {
    const busy = data.days.filter((day) => day.loadMinutes > 0).map((day) => day.date);
    const from = chosen ?? data.round.from;
    const next = by === 1 ? busy.find((date) => date > from) : busy.findLast((date) => date < from);
    if (next) setSearch({ day: next }, { replace: true });
  };
  return (
    <>
      <div className="title-line">
        <h2 ref={heading} tabIndex={-1}>
          {data.round.name}{' '}
          <span className="subtitle">
            {data.round.status}, drawn {data.round.drawnAt.slice(0, 10)}, seed {data.round.seed}
          </span>
        </h2>
        {data.round.status === 'draft' ? (
          <div className="actions">
            <Button onPress={() => setAsked('issue')}>Issue</Button>
            <Button onPress={() => setAsked('discard')}>Discard the draft</Button>
            <Dialog
              title={asked === 'issue' ? 'Issue this round?' : 'Discard this draft?'}
              isOpen={asked !== null}
              onClose={() => setAsked(null)}
            >
              <p>
                {asked === 'issue'
                  ? 'An issued round is written into the chain. What was issued before for its days is closed. It is not moved by hand any more, nor taken back; it can be drawn again as a new draft.'
                  : 'The draft, with what was moved and kept by hand, is gone for good.'}
              </p>
              <div className="actions">
                <Button
                  tone="main"
                  onPress={() => {
                    setAsked(null);
                    const key = { id, version: data.round.version };
                    if (asked === 'issue') issue.mutate(key, { onSuccess: () => heading.current?.focus() });
                    else discard.mutate(key, { onSuccess: () => navigate('/round') });
                  }}
                >
                  {asked === 'issue' ? 'Issue it' : 'Discard it'}
                </Button>
                <Button onPress={() => setAsked(null)}>Not now</Button>
              </div>
            </Dialog>
          </div>
        ) : null}
      </div>
      {data.figures.placed + data.figures.unplaced === 0 ? (
        <p role="status">Nothing falls due in this period, or the book has no test points yet.</p>
      ) : null}
      {issue.error ? <Failure error={issue.error} /> : null}
      {discard.error ? <Failure error={discard.error} /> : null}
      {data.moved === null ? null : <MovedTasks moved={data.moved} />}
      <section aria-label="The year by day">
        <h3>Days: load against capacity</h3>
        <p className="legend">
          {['nothing', 'to a quarter', 'to half', 'to three quarters', 'to full', 'over'].map(
            (text, index) => (
              <span key={text}>
                <svg viewBox="0 0 12 12" aria-hidden="true" className={`day load-${index}`}>
                  <rect width="12" height="12" />
                </svg>
                {text}
              </span>
            ),
          )}
          <span>
            <svg viewBox="0 0 12 12" aria-hidden="true">
              <circle cx="6" cy="6" r="3" className="forced" />
            </svg>
            a main is switched by hand
          </span>
        </p>
        <YearChart
          overview={data}
          chosen={chosen}
          onChoose={(date) => setSearch({ day: date }, { replace: true })}
        />
        <div className="actions">
          <Button onPress={() => step(-1)}>Earlier working day</Button>
          <Button onPress={() => step(1)}>Later working day</Button>
        </div>
      </section>
      <div className="columns">
        {chosen ? <DayPanel overview={data} date={chosen} /> : null}
        <RoundFigures id={id} figures={data.figures} />
      </div>
      <RoundFiles overview={data} />
      <section aria-label="Mains over the year">
        <h3>Mains: the state each is worked in</h3>
        <p className="legend">
          <span>
            <AirState state="low" />
          </span>
          <span>
            <AirState state="high" />
          </span>
          <span>
            thin line: the state it has by itself; block: days on which the round works in that state
          </span>
        </p>
        <MainLanes overview={data} />
      </section>
      <WhyPanel round={data.round} />
      <RedrawPanel round={data.round} onRedrawn={onRedrawn} />
      <section aria-label="What has no place">
        <h3>Without a place ({data.unplaced.length})</h3>
        <Unplaced overview={data} />
      </section>
    </>
  );
}

/** The period's round: draw it, look at it, hand it out. */
export function RoundScreen() {
  const { roundId } = useParams<{ roundId?: string }>();
  const [, navigate] = useLocation();
  const book = useCall('settings.book', {});
  const list = useCall('rounds.list', {});
  const [fresh, setFresh] = useState<number | null>(null);
  const show = (id: number): void => {
    setFresh(id);
    navigate(`/round/${id}`);
  };
  if (list.error) return <Failure error={list.error} />;
  if (!list.data || !book.data) return <Waiting what="Reading the rounds…" />;
  const { rounds } = list.data;
  const shown = roundId === undefined ? rounds[0]?.id : Number(roundId);
  return (
    <>
      <h1>Round</h1>
      <div className="columns">
        <DrawForm today={book.data.today} onDrawn={show} />
        {rounds.length > 0 ? (
          <section aria-label="Rounds in the book" className="panel">
            <h2>Rounds in the book</h2>
            <SelectInput
              label="Show"
              value={String(shown ?? '')}
              onChange={(value) => navigate(`/round/${value}`)}
              options={rounds.map((round) => ({
                value: String(round.id),
                label: roundLabel(round),
              }))}
            />
          </section>
        ) : null}
      </div>
      {shown === undefined ? (
        <Empty title="No round has been drawn yet">
          <p>
            Set the period above and draw. The round places every test point that falls due: on a day, with a
            person, in an air state. Who works when is set in <Link href="/settings">Settings</Link>.
          </p>
        </Empty>
      ) : (
        <RoundView key={shown} id={shown} isFresh={fresh === shown} onRedrawn={show} />
      )}
    </>
  );
}
