import { useEffect, useRef, useState } from 'react';
import { Link, useParams, useSearchParams } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { ApiError } from '../../api/transport.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { sentence, valueText } from '../../ui/format.ts';
import { Failure, Waiting } from '../../ui/states.tsx';
import type { BenchCard } from '../../../shared/contract/bench.ts';
import { goToStep, ownProblems, problemsOfEntry } from './cardProblems.ts';
import type { CardProblem } from './cardProblems.ts';
import { blankEntry, seenOf, toBenchEntry } from './cardState.ts';
import type { CardText, EntryText } from './cardState.ts';
import { draftsSettled, forgetDraft, keepDraft, takeUpDraft } from './draftKeeper.ts';
import { CardProblemList } from './CardProblemList.tsx';
import { ClosedCard } from './ClosedCard.tsx';
import { SetpointCard } from './SetpointCard.tsx';

const DRAFT_AFTER_MS = 400;
const GAUGE_KEY = 'almanac-gauges';

function startText(card: BenchCard, today: string, role: string | null): CardText {
  const first = card.setpoints.find((setpoint) => setpoint.role === role) ?? card.setpoints[0];
  const [pressureGaugeId = '', temperatureGaugeId = ''] = (sessionStorage.getItem(GAUGE_KEY) ?? '').split(
    ',',
  );
  const working = workingPersonId();
  return {
    personId: working === null ? '' : String(working),
    doneOn: today,
    pressureGaugeId,
    temperatureGaugeId,
    startedAt: `${new Date().toISOString().slice(0, 19)}Z`,
    seen: seenOf(card),
    roles: first ? [first.role] : [],
    entries: Object.fromEntries(card.setpoints.map((setpoint) => [setpoint.role, blankEntry()])),
  };
}

function fromDraft(card: BenchCard, json: string, start: CardText): CardText {
  const held = JSON.parse(json) as Partial<CardText>;
  const roles = (held.roles ?? []).filter((role) =>
    card.setpoints.some((setpoint) => setpoint.role === role),
  );
  return {
    ...start,
    ...held,
    roles: roles.length > 0 ? roles : start.roles,
    entries: Object.fromEntries(
      card.setpoints.map(({ role }) => [role, { ...blankEntry(), ...held.entries?.[role] }]),
    ),
  };
}

/** Focus moves once React has drawn what it moves to. */
function afterDrawing(move: () => void): void {
  setTimeout(move, 0);
}

type FormProps = { card: BenchCard; today: string; role: string | null; onStale: () => void };

function CardForm({ card, today, role, onStale }: FormProps) {
  const { deviceId } = card;
  const [begun] = useState(() => takeUpDraft(deviceId, card.draft?.json ?? null));
  const [text, setText] = useState<CardText>(() => {
    const start = startText(card, today, role);
    return begun === null ? start : fromDraft(card, begun, start);
  });
  const [draftState, setDraftState] = useState(
    begun === null
      ? ''
      : `draft${card.draft ? ` of ${card.draft.savedAt.slice(0, 16).replace('T', ' ')} UTC` : ''} taken up`,
  );
  const [isElsewhere, setElsewhere] = useState(false);
  const [isTakenUp, setTakenUp] = useState(begun !== null);
  const close = useCommand('bench.close');
  const drop = useCommand('bench.dropDraft');
  const closed = useRef(false);
  const unkept = useRef(false);
  const latest = useRef(text);

  async function keep(typed: CardText): Promise<void> {
    if (closed.current || !unkept.current) return;
    unkept.current = false;
    const fate = await keepDraft(deviceId, JSON.stringify(typed));
    setElsewhere(fate === 'changed elsewhere');
    setDraftState(
      {
        kept: 'draft kept',
        'changed elsewhere': 'draft NOT kept: this card was changed or closed in another window',
        'no answer': 'draft NOT kept: the program does not answer',
      }[fate],
    );
  }
  const keepNow = useRef(keep);
  useEffect(() => {
    latest.current = text;
    keepNow.current = keep;
  });

  useEffect(() => {
    if (isElsewhere) return undefined;
    const timer = setTimeout(() => void keepNow.current(text), DRAFT_AFTER_MS);
    return () => clearTimeout(timer);
  }, [text, isElsewhere]);
  // The last keystrokes are kept too when the card is left.
  useEffect(() => {
    const onHidden = (): void => {
      if (document.visibilityState === 'hidden') void keepNow.current(latest.current);
    };
    document.addEventListener('visibilitychange', onHidden);
    return () => {
      document.removeEventListener('visibilitychange', onHidden);
      void keepNow.current(latest.current);
    };
  }, []);

  function touched(): void {
    unkept.current = true;
    if (close.error) close.reset();
  }
  function change(next: Partial<CardText>): void {
    touched();
    setText((current) => ({ ...current, ...next }));
  }
  function changeEntry(role: string, next: Partial<EntryText>): void {
    touched();
    setText((current) => ({
      ...current,
      entries: { ...current.entries, [role]: { ...current.entries[role], ...next } },
    }));
  }

  /** Begins anew: what was typed is given up. */
  function throwAway(): void {
    drop.mutate(
      { deviceId },
      {
        onSuccess: () => {
          forgetDraft(deviceId);
          close.reset();
          unkept.current = false;
          setAsked(false);
          setTakenUp(false);
          setElsewhere(false);
          setDraftState('');
          setText(startText(card, today, text.roles[0] ?? role));
        },
      },
    );
  }

  const chosen = text.roles.flatMap((one) => card.setpoints.filter((setpoint) => setpoint.role === one));
  const others = card.setpoints.filter((setpoint) => !text.roles.includes(setpoint.role));
  const [isAsked, setAsked] = useState(false);
  const own: CardProblem[] = isAsked ? ownProblems(card, text, chosen) : [];
  const problems = own.length > 0 ? own : (close.error?.details.problems ?? []);
  const headProblem = (column: string): string | null =>
    problems.find((problem) => problem.column === column)?.reason ?? null;

  async function submit(): Promise<void> {
    if (closed.current) return;
    const found = ownProblems(card, text, chosen);
    setAsked(true);
    const toProblems = (): void =>
      afterDrawing(() => document.querySelector<HTMLElement>('.card-problems')?.focus());
    if (found.length > 0) {
      toProblems();
      return;
    }
    sessionStorage.setItem(GAUGE_KEY, `${text.pressureGaugeId},${text.temperatureGaugeId}`);
    closed.current = true;
    try {
      await draftsSettled();
      await close.mutateAsync({
        deviceId: card.deviceId,
        personId: Number(text.personId),
        doneOn: text.doneOn,
        startedAt: text.startedAt,
        pressureGaugeId: text.pressureGaugeId === '' ? null : Number(text.pressureGaugeId),
        temperatureGaugeId: text.temperatureGaugeId === '' ? null : Number(text.temperatureGaugeId),
        entries: chosen.map((setpoint) => toBenchEntry(setpoint, text)),
      });
      forgetDraft(deviceId);
    } catch (error) {
      closed.current = false;
      if (error instanceof ApiError && error.code === 'conflict') onStale();
      toProblems();
    }
  }

  if (close.data)
    return (
      <ClosedCard
        card={card}
        result={close.data}
        onAnother={() => {
          close.reset();
          unkept.current = false;
          closed.current = false;
          setTakenUp(false);
          setDraftState('');
          setAsked(false);
          const next = startText(card, today, others[0]?.role ?? null);
          // What was typed for a setpoint that this visit left out is still there.
          for (const { role } of others) next.entries[role] = text.entries[role];
          setText(next);
          afterDrawing(() => goToStep(`${next.roles[0]} mainPressure`));
        }}
      />
    );
  const gaugeOptions = (kind: 'pressure' | 'temperature') => [
    { value: '', label: 'not noted' },
    ...card.gauges
      .filter((gauge) => gauge.kind === kind)
      .map((gauge) => ({
        value: String(gauge.id),
        label: `${gauge.tag}${gauge.certificateDueOn && gauge.certificateDueOn < today ? ', certificate lapsed' : ''}`,
      })),
  ];
  return (
    <form onSubmit={(event) => event.preventDefault()}>
      <section
        aria-label="Who and with what"
        className="panel controls"
        data-fields="personId doneOn pressureGaugeId temperatureGaugeId"
      >
        <SelectInput
          label="Readings taken by"
          value={text.personId}
          onChange={(personId) => change({ personId })}
          problem={headProblem('personId')}
          options={[
            { value: '', label: 'choose' },
            ...card.people.map((person) => ({
              value: String(person.id),
              label: `${person.initials} · ${person.name}`,
            })),
          ]}
        />
        <TextInput
          label="Date of the work"
          type="date"
          value={text.doneOn}
          onChange={(doneOn) => change({ doneOn })}
          problem={headProblem('doneOn')}
        />
        <SelectInput
          label="Gauge"
          value={text.pressureGaugeId}
          onChange={(pressureGaugeId) => change({ pressureGaugeId })}
          options={gaugeOptions('pressure')}
          problem={headProblem('pressureGaugeId')}
        />
        <SelectInput
          label="Thermometer"
          value={text.temperatureGaugeId}
          onChange={(temperatureGaugeId) => change({ temperatureGaugeId })}
          options={gaugeOptions('temperature')}
          problem={headProblem('temperatureGaugeId')}
        />
        <p className="quiet draft-state" role="status">
          {draftState}
        </p>
        {isTakenUp ? <Button onPress={throwAway}>Throw the draft away</Button> : null}
        {isElsewhere ? (
          <Button
            onPress={() => {
              unkept.current = true;
              void keep(text);
            }}
          >
            Keep what stands here
          </Button>
        ) : null}
      </section>
      {chosen.map((setpoint, index) => (
        <section
          key={setpoint.role}
          aria-label={`${setpoint.role} setpoint`}
          className="setpoint-card"
          data-role={setpoint.role}
        >
          <div className="title-line">
            <h2>
              {sentence(setpoint.role)} setpoint{' '}
              <span className="subtitle">
                dial {valueText(setpoint.dialMilli, card.temperatureUnit)}, {setpoint.action} acting
              </span>{' '}
              {setpoint.airState ? <AirState state={setpoint.airState} /> : null}
            </h2>
            {chosen.length > 1 ? (
              <Button
                onPress={() => {
                  change({ roles: text.roles.filter((one) => one !== setpoint.role) });
                  afterDrawing(() => document.querySelector<HTMLElement>('.also-do button')?.focus());
                }}
              >
                Not on this visit
              </Button>
            ) : null}
          </div>
          <SetpointCard
            card={card}
            setpoint={setpoint}
            text={text.entries[setpoint.role]}
            isFirstOfTwo={chosen.length > 1 && index === 0}
            problems={problemsOfEntry(problems, index)}
            onChange={(next) => changeEntry(setpoint.role, next)}
          />
        </section>
      ))}
      {others.map((setpoint) => (
        <p key={setpoint.role} className="also-do">
          <Button
            onPress={() => {
              change({ roles: [...text.roles, setpoint.role] });
              afterDrawing(() => goToStep(`${setpoint.role} mainPressure`));
            }}
          >
            Also do the {setpoint.role} setpoint on this visit
          </Button>{' '}
          <span className="quiet">
            switch the main to {setpoint.airState ?? 'its'} state, wait 15 minutes
          </span>
        </p>
      ))}
      <div className="card-problems" tabIndex={-1}>
        {problems.length > 0 ? (
          <div className="failure" role="alert">
            <p>{own.length > 0 ? 'The card cannot be closed yet.' : close.error?.message}</p>
            <CardProblemList problems={problems} roles={text.roles} />
          </div>
        ) : close.error ? (
          <Failure error={close.error} />
        ) : null}
        {close.error?.code === 'conflict' ? (
          <div className="actions">
            <Button onPress={() => change({ seen: seenOf(card) })}>This is another visit: go on</Button>
            <Button onPress={throwAway}>Throw this card away</Button>
          </div>
        ) : null}
      </div>
      <div className="actions close-line">
        <Button tone="main" isDisabled={close.isPending} onPress={() => void submit()}>
          {close.isPending ? 'Writing…' : 'Close the card'}
        </Button>
      </div>
    </form>
  );
}

/** The bench card of one room controller, once what this window still writes of drafts is on disk. */
export function BenchScreen() {
  const deviceId = Number(useParams<{ deviceId: string }>().deviceId);
  const [isSettled, setSettled] = useState(false);
  useEffect(() => {
    void draftsSettled().then(() => setSettled(true));
  }, []);
  return isSettled ? <Bench key={deviceId} deviceId={deviceId} /> : <Waiting what="Laying out the card…" />;
}

function Bench({ deviceId }: { deviceId: number }) {
  const [search] = useSearchParams();
  const book = useCall('settings.book', {});
  const card = useCall('bench.card', { deviceId }, { fresh: true });
  if (card.error) return <Failure error={card.error} />;
  if (!card.data || !card.isFetchedAfterMount || !book.data) return <Waiting what="Laying out the card…" />;
  const { data } = card;
  const { main } = data;
  return (
    <>
      <p className="crumb">
        <Link href={`/register/${deviceId}`}>{data.tag}</Link>
      </p>
      <h1>
        Bench card{' '}
        <span className="subtitle">
          {[data.tag, data.name, data.place, `${data.controllerKind} controller`]
            .filter((word) => word)
            .join(', ')}
        </span>
      </h1>
      {main ? (
        <p className="lead">
          Main {main.tag}: {main.kind === 'single' ? valueText(main.lowMilli, main.pressureUnit) : null}
          {main.kind === 'two-pressure' ? (
            <>
              <AirState state="low" /> {valueText(main.lowMilli, main.pressureUnit)} {main.lowMeans},{' '}
              <AirState state="high" /> {valueText(main.highMilli, main.pressureUnit)} {main.highMeans}
            </>
          ) : null}
          {data.rated
            ? `. Rated changeover ${valueText(data.rated.lowMilli, data.pressureUnit)} / ${valueText(data.rated.highMilli, data.pressureUnit)}`
            : ''}
          {data.measuredTrips
            ? `, measured ${valueText(data.measuredTrips.fallingMilli, data.pressureUnit)} falling, ${valueText(data.measuredTrips.risingMilli, data.pressureUnit)} rising`
            : ''}
          {data.actuators.length > 0
            ? `. Moves ${data.actuators.map((actuator) => `${actuator.tag} (normally ${actuator.normalPosition}${actuator.duty ? `, ${actuator.duty}` : ''})`).join(', ')}`
            : ''}
        </p>
      ) : (
        <p className="lead">No main is on its supply path.</p>
      )}
      <p className="notice" role="note">
        Before a main is forced: outdoor temperature and season allow it (not below about 40 °F, 4 °C, where a
        coil can freeze), occupants are told, and smoke and fire sequences that share the air are not
        disabled. Keep an eye on a normally open valve: without air it gives full heat. Local codes, the
        device maker’s instructions and licensed practice come first.
      </p>
      {data.retiredOn !== null ? (
        <p role="alert">
          Retired on {data.retiredOn}: no card of it can be closed.{' '}
          <Link href={`/register/${deviceId}`}>What the register says of it.</Link>
        </p>
      ) : data.setpoints.length === 0 ? (
        <p role="alert">
          This controller has no setpoint in the register yet.{' '}
          <Link href={`/register/${deviceId}`}>Add it there.</Link>
        </p>
      ) : (
        <CardForm
          card={data}
          today={book.data.today}
          role={search.get('role')}
          onStale={() => void card.refetch()}
        />
      )}
    </>
  );
}
