import { useEffect, useRef, useState } from 'react';
import { Link, useParams, useSearchParams } from 'wouter';
import { call, useCall, useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { differenceText, sentence, valueText } from '../../ui/format.ts';
import { Failure, ProblemList, Waiting } from '../../ui/states.tsx';
import type { BenchCard, BenchSetpoint } from '../../../shared/contract/bench.ts';
import { judgeCard } from '../../../shared/trade/benchRules.ts';
import type { OutputOf } from '../../../shared/contract/index.ts';
import { blankEntry, settingOf, toBenchEntry, toEntry } from './cardState.ts';
import type { CardText, EntryText } from './cardState.ts';
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

function Closed({
  card,
  result,
  onAnother,
}: {
  card: BenchCard;
  result: OutputOf<'bench.close'>;
  onAnother: () => void;
}) {
  return (
    <section aria-label="Card closed" className="panel">
      <h2>Closed and on disk</h2>
      <ul>
        {result.records.map((record) => (
          <li key={record.calibrationId}>
            {sentence(record.role)}: <b>{record.outcome}</b>, found{' '}
            {differenceText(record.errorFoundMilli, record.unit, record.foundRelation)}
            {record.verdictFound ? ` (${record.verdictFound})` : ''}
            {record.errorLeftMilli === null
              ? ''
              : `, left ${differenceText(record.errorLeftMilli, record.unit)}`}
            ; due again {record.dueOn ?? 'not planned'}.{' '}
            <Link href={`/drift/${record.testPointId}`}>Drift of {record.role}</Link>
          </li>
        ))}
      </ul>
      {result.followUps.length > 0 ? (
        <p>Follow-up opened: {result.followUps.map((followUp) => followUp.cause).join('; ')}</p>
      ) : null}
      <p className="quiet">
        Ledger entry {result.ledgerSeq}, head <code>{result.headHash.slice(0, 16)}…</code>
      </p>
      <div className="actions">
        <Link href={`/register/${card.deviceId}`} className="button button-plain">
          To {card.tag}
        </Link>
        <Button onPress={onAnother}>Another card for {card.tag}</Button>
      </div>
    </section>
  );
}

type CardProblem = { column: string; value: string; reason: string };

/** What stands in the way of closing, found without asking the service; the same rules as there. */
function ownProblems(card: BenchCard, text: CardText, chosen: readonly BenchSetpoint[]): CardProblem[] {
  const problems: CardProblem[] = [];
  if (text.personId === '')
    problems.push({ column: 'personId', value: '', reason: 'choose who took the readings' });
  for (const [index, setpoint] of chosen.entries()) {
    const setting = settingOf(card, setpoint);
    const entry = text.entries[setpoint.role];
    if (entry.outcome === '')
      problems.push({
        column: `entries.${index}.outcome`,
        value: setpoint.role,
        reason: 'choose the outcome',
      });
    else if (setting)
      for (const problem of judgeCard(setting, toEntry(entry)).problems)
        problems.push({
          column: `entries.${index}.${problem.field}`,
          value: setpoint.role,
          reason: problem.reason,
        });
  }
  const isCompleting = (role: string): boolean => ['held', 'adjusted'].includes(text.entries[role].outcome);
  const [first, second] = chosen;
  if (
    second &&
    isCompleting(first.role) &&
    isCompleting(second.role) &&
    toEntry(text.entries[first.role]).readAgain === null
  )
    problems.push({
      column: 'entries.0.readAgain',
      value: first.role,
      reason: 'read the first setpoint again after the second: adjusting one can disturb the other',
    });
  return problems;
}

/** Problems of the service by entry and field, for the step they belong to. */
function problemsFor(
  problems: readonly { column: string; reason: string }[],
  index: number,
): Record<string, string> {
  const prefix = `entries.${index}.`;
  return Object.fromEntries(
    problems
      .filter((problem) => problem.column.startsWith(prefix))
      .map((problem) => [problem.column.slice(prefix.length), problem.reason]),
  );
}

function CardForm({ card, today, role }: { card: BenchCard; today: string; role: string | null }) {
  const start = startText(card, today, role);
  const [text, setText] = useState<CardText>(() =>
    card.draft ? fromDraft(card, card.draft.json, start) : start,
  );
  const [draftState, setDraftState] = useState(
    card.draft ? `draft of ${card.draft.savedAt.slice(0, 16).replace('T', ' ')} UTC taken up` : '',
  );
  const close = useCommand('bench.close');
  const dirty = useRef(false);
  const closed = useRef(false);

  useEffect(() => {
    if (!dirty.current || closed.current) return undefined;
    const timer = setTimeout(() => {
      if (closed.current) return;
      call('bench.saveDraft', { deviceId: card.deviceId, json: JSON.stringify(text) })
        .then(() => setDraftState('draft kept'))
        .catch(() => setDraftState('draft NOT kept: the program does not answer'));
    }, DRAFT_AFTER_MS);
    return () => clearTimeout(timer);
  }, [text, card.deviceId]);

  function change(next: Partial<CardText>): void {
    dirty.current = true;
    setText((current) => ({ ...current, ...next }));
  }
  function changeEntry(role: string, next: Partial<EntryText>): void {
    dirty.current = true;
    setText((current) => ({
      ...current,
      entries: { ...current.entries, [role]: { ...current.entries[role], ...next } },
    }));
  }

  const chosen = text.roles.flatMap((one) => card.setpoints.filter((setpoint) => setpoint.role === one));
  const others = card.setpoints.filter((setpoint) => !text.roles.includes(setpoint.role));
  const [own, setOwn] = useState<CardProblem[]>([]);
  const problems = own.length > 0 ? own : (close.error?.details.problems ?? []);
  const headProblem = (column: string): string | null =>
    problems.find((problem) => problem.column === column)?.reason ?? null;

  async function submit(): Promise<void> {
    const found = ownProblems(card, text, chosen);
    setOwn(found);
    if (found.length > 0) {
      document.querySelector<HTMLElement>('.card-problems')?.focus();
      return;
    }
    sessionStorage.setItem(GAUGE_KEY, `${text.pressureGaugeId},${text.temperatureGaugeId}`);
    closed.current = true;
    try {
      await close.mutateAsync({
        deviceId: card.deviceId,
        personId: Number(text.personId),
        doneOn: text.doneOn,
        startedAt: text.startedAt,
        pressureGaugeId: text.pressureGaugeId === '' ? null : Number(text.pressureGaugeId),
        temperatureGaugeId: text.temperatureGaugeId === '' ? null : Number(text.temperatureGaugeId),
        entries: chosen.map((setpoint) => toBenchEntry(setpoint, text.entries[setpoint.role])),
      });
    } catch {
      closed.current = false;
      document.querySelector<HTMLElement>('.card-problems')?.focus();
    }
  }

  if (close.data)
    return (
      <Closed
        card={card}
        result={close.data}
        onAnother={() => {
          close.reset();
          dirty.current = false;
          closed.current = false;
          setDraftState('');
          setText(startText(card, today, others[0]?.role ?? null));
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
      <section aria-label="Who and with what" className="panel controls">
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
      </section>
      {chosen.map((setpoint, index) => (
        <section key={setpoint.role} aria-label={`${setpoint.role} setpoint`} className="setpoint-card">
          <div className="title-line">
            <h2>
              {sentence(setpoint.role)} setpoint{' '}
              <span className="subtitle">
                dial {valueText(setpoint.dialMilli, card.temperatureUnit)}, {setpoint.action} acting
              </span>{' '}
              {setpoint.airState ? <AirState state={setpoint.airState} /> : null}
            </h2>
            {chosen.length > 1 ? (
              <Button onPress={() => change({ roles: text.roles.filter((one) => one !== setpoint.role) })}>
                Not on this visit
              </Button>
            ) : null}
          </div>
          <SetpointCard
            card={card}
            setpoint={setpoint}
            text={text.entries[setpoint.role]}
            isFirstOfTwo={chosen.length > 1 && index === 0}
            problems={problemsFor(problems, index)}
            onChange={(next) => changeEntry(setpoint.role, next)}
          />
        </section>
      ))}
      {others.map((setpoint) => (
        <p key={setpoint.role}>
          <Button onPress={() => change({ roles: [...text.roles, setpoint.role] })}>
            Also do the {setpoint.role} setpoint on this visit
          </Button>{' '}
          <span className="quiet">
            switch the main to {setpoint.airState ?? 'its'} state, wait 15 minutes
          </span>
        </p>
      ))}
      <div className="card-problems" tabIndex={-1}>
        {own.length > 0 ? (
          <div className="failure" role="alert">
            <p>The card cannot be closed yet.</p>
            <ProblemList problems={own} />
          </div>
        ) : null}
        {close.error && own.length === 0 ? <Failure error={close.error} /> : null}
      </div>
      <div className="actions close-line">
        <Button tone="main" isDisabled={close.isPending} onPress={() => void submit()}>
          {close.isPending ? 'Writing…' : 'Close the card'}
        </Button>
      </div>
    </form>
  );
}

/** The bench card of one room controller. */
export function BenchScreen() {
  const deviceId = Number(useParams<{ deviceId: string }>().deviceId);
  const [search] = useSearchParams();
  const book = useCall('settings.book', {});
  const card = useCall('bench.card', { deviceId });
  if (card.error) return <Failure error={card.error} />;
  if (!card.data || !book.data) return <Waiting what="Laying out the card…" />;
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
      {data.setpoints.length === 0 ? (
        <p role="alert">
          This controller has no setpoint in the register yet.{' '}
          <Link href={`/register/${deviceId}`}>Add it there.</Link>
        </p>
      ) : (
        <CardForm key={deviceId} card={data} today={book.data.today} role={search.get('role')} />
      )}
    </>
  );
}
