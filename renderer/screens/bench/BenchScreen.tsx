import { useEffect, useRef, useState } from 'react';
import { Link, useParams, useSearchParams } from 'wouter';
import { useCall, useCommand } from '../../api/client.ts';
import { ApiError } from '../../api/transport.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { AirState } from '../../ui/AirState.tsx';
import { Button } from '../../ui/Button.tsx';
import { ThrowAway } from '../../ui/ThrowAway.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { sentence, valueText } from '../../ui/format.ts';
import { descriptionOf } from '../../../shared/cards/index.ts';
import type { CardFacts } from '../../../shared/cards/index.ts';
import { instrumentWords } from '../../../shared/cards/instruments.ts';
import type { InstrumentKind } from '../../../shared/cards/instruments.ts';
import { Failure, Waiting } from '../../ui/states.tsx';
import type { BenchCard } from '../../../shared/contract/bench.ts';
import { goToStep, ownProblems, problemsOfEntry } from './cardProblems.ts';
import type { CardProblem } from './cardProblems.ts';
import {
  blankEntry,
  entryTextOf,
  factsOnVisit,
  instrumentIds,
  judged,
  kindsAsked,
  seenOf,
  toClosedEntry,
} from '../../cards/cardState.ts';
import type { CardText, EntryText } from '../../cards/cardState.ts';
import { draftsSettled, forgetDraft, keepDraft, takeUpDraft } from './draftKeeper.ts';
import { CardProblemList } from './CardProblemList.tsx';
import { ClosedCard } from './ClosedCard.tsx';
import { CardSteps } from './CardSteps.tsx';
import { Remarks } from '../../cards/CardVerdict.tsx';

const DRAFT_AFTER_MS = 400;
const GAUGE_KEY = 'almanac-instruments';

function rememberedInstruments(card: BenchCard): CardText['instruments'] {
  const held = (sessionStorage.getItem(GAUGE_KEY) ?? '').split(',');
  const known = (id: string | undefined): string =>
    id !== undefined && card.instruments.some((one) => String(one.id) === id) ? id : '';
  return { pressure: known(held[0]), temperature: known(held[1]), humidity: known(held[2]) };
}

function startText(card: BenchCard, today: string, role: string | null): CardText {
  const first = card.entries.find(({ key }) => key === role) ?? card.entries[0];
  const working = workingPersonId();
  const { correcting } = card;
  const id = (value: number | null): string => (value === null ? '' : String(value));
  const isHumidity = card.entries.some(({ facts }) => facts.scaleUnit === 'percent');
  return {
    personId: id(correcting?.personId ?? working),
    doneOn: correcting?.doneOn ?? today,
    instruments: correcting
      ? {
          pressure: id(correcting.pressureGaugeId),
          temperature: isHumidity ? '' : id(correcting.temperatureGaugeId),
          humidity: isHumidity ? id(correcting.temperatureGaugeId) : '',
        }
      : rememberedInstruments(card),
    startedAt: `${new Date().toISOString().slice(0, 19)}Z`,
    seen: seenOf(card),
    keys: first ? [first.key] : [],
    entries: Object.fromEntries(card.entries.map((entry) => [entry.key, entryTextOf(entry)])),
    reason: '',
    corrector: id(working),
  };
}

function fromDraft(card: BenchCard, json: string, start: CardText): CardText {
  const held = JSON.parse(json) as Partial<CardText>;
  const keys = (held.keys ?? []).filter((key) => card.entries.some((entry) => entry.key === key));
  return {
    ...start,
    ...held,
    instruments: { ...start.instruments, ...held.instruments },
    keys: keys.length > 0 ? keys : start.keys,
    entries: Object.fromEntries(
      card.entries.map(({ key }) => [key, { ...blankEntry, ...held.entries?.[key] }]),
    ),
  };
}

/** Focus moves once React has drawn what it moves to. */
function afterDrawing(move: () => void): void {
  setTimeout(move, 0);
}

function firstStep(key: string): string {
  return key === '' ? 'state' : `${key} state`;
}

function EntryTitle({ facts, entryKey }: { facts: CardFacts; entryKey: string }) {
  if (facts.card === 'setpoint')
    return (
      <h2>
        {sentence(entryKey)} setpoint{' '}
        <span className="subtitle">
          dial {valueText(facts.dialMilli, facts.scaleUnit)}, {facts.action} acting
        </span>{' '}
        {facts.airState ? <AirState state={facts.airState} /> : null}
      </h2>
    );
  return (
    <h2>
      {descriptionOf(facts).title}
      {facts.card === 'receiver' ? (
        <span className="subtitle"> dial {valueText(facts.dialMilli, facts.scaleUnit)}</span>
      ) : null}
    </h2>
  );
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
    if (closed.current || !unkept.current || card.correcting) return;
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
  function changeEntry(key: string, next: Partial<EntryText>): void {
    touched();
    setText((current) => ({
      ...current,
      entries: { ...current.entries, [key]: { ...current.entries[key], ...next } },
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
          setText(startText(card, today, text.keys[0] ?? role));
        },
      },
    );
  }

  const chosen = text.keys.flatMap((one) => card.entries.filter((entry) => entry.key === one));
  const others = card.correcting ? [] : card.entries.filter((entry) => !text.keys.includes(entry.key));
  const onVisit = chosen.map((entry, index) => {
    const facts = factsOnVisit(entry, index, chosen.length);
    return { entry, facts, judgement: judged(card, facts, text, entry.key) };
  });
  const instrumentRemarks = onVisit
    .flatMap(({ judgement }) => judgement.remarks)
    .filter(
      (one, index, all) =>
        one.step === 'instruments' && all.findIndex(({ text: words }) => words === one.text) === index,
    );
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
    const { instruments } = text;
    sessionStorage.setItem(
      GAUGE_KEY,
      [instruments.pressure, instruments.temperature, instruments.humidity].join(','),
    );
    closed.current = true;
    try {
      await draftsSettled();
      await close.mutateAsync({
        deviceId: card.deviceId,
        personId: Number(text.personId),
        doneOn: text.doneOn,
        startedAt: card.correcting ? null : text.startedAt,
        instruments: instrumentIds(text),
        entries: onVisit.map(({ entry, facts }) => toClosedEntry({ key: entry.key, facts }, text)),
        corrects: card.correcting
          ? {
              calibrationId: card.correcting.calibrationId,
              reason: text.reason,
              personId: Number(text.corrector),
            }
          : null,
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
          const next = startText(card, today, others[0]?.key ?? null);
          // What was typed for a setpoint that this visit left out is still there.
          for (const { key } of others) next.entries[key] = text.entries[key];
          setText(next);
          afterDrawing(() => goToStep(firstStep(next.keys[0])));
        }}
      />
    );
  const instrumentOptions = (kind: InstrumentKind) => [
    { value: '', label: 'not chosen' },
    ...card.instruments
      .filter((one) => one.kind === kind)
      .map((one) => ({
        value: String(one.id),
        label: `${one.tag}${one.certificateDueOn === null ? ', no certificate' : one.certificateDueOn < text.doneOn ? ', certificate lapsed' : ''}`,
      })),
  ];
  if (card.correcting?.replacedBy)
    return (
      <p role="alert">
        This record was corrected already, by{' '}
        <Link href={`/records/${card.correcting.replacedBy}`}>record {card.correcting.replacedBy}</Link>:
        correct that one.
      </p>
    );
  return (
    <form onSubmit={(event) => event.preventDefault()}>
      <section
        aria-label="Who and with what"
        className="panel controls"
        data-fields="personId doneOn instruments reason corrector"
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
        {kindsAsked(chosen).map((kind) => (
          <div key={kind} data-field={`instruments.${kind}`} className="field-slot">
            <SelectInput
              label={sentence(instrumentWords[kind])}
              value={text.instruments[kind]}
              onChange={(id) => change({ instruments: { ...text.instruments, [kind]: id } })}
              options={instrumentOptions(kind)}
              problem={headProblem(`instruments.${kind}`)}
            />
          </div>
        ))}
        {card.correcting ? (
          <SelectInput
            label="Corrected by"
            value={text.corrector}
            onChange={(corrector) => change({ corrector })}
            problem={headProblem('corrector') ?? headProblem('corrects.personId')}
            options={[
              { value: '', label: 'choose' },
              ...card.people.map((person) => ({
                value: String(person.id),
                label: `${person.initials} · ${person.name}`,
              })),
            ]}
          />
        ) : null}
        {card.correcting ? (
          <TextInput
            label="Why it is corrected"
            value={text.reason}
            onChange={(reason) => change({ reason })}
            className="wide"
            problem={headProblem('reason') ?? headProblem('corrects.reason')}
          />
        ) : null}
        {card.correcting && text.personId !== String(card.correcting.personId) ? (
          <p className="quiet wide" role="status">
            The record names {card.people.find(({ id }) => id === card.correcting?.personId)?.initials} as who
            took the readings; the correction will name another.
          </p>
        ) : null}
        {card.correcting?.mayMiss ? (
          <p className="quiet wide">
            This record came from a file: what was not noted at the time may stay empty.
          </p>
        ) : null}
        <p className="quiet draft-state" role="status">
          {draftState}
        </p>
        {isTakenUp ? <ThrowAway isOf={text.entries} onPress={throwAway} /> : null}
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
        <Remarks remarks={instrumentRemarks} />
      </section>
      {onVisit.map(({ entry, facts, judgement }, index) => (
        <section
          key={entry.key}
          aria-label={entry.key === '' ? descriptionOf(facts).title : `${entry.key} setpoint`}
          className="setpoint-card"
          data-role={entry.key}
        >
          <div className="title-line">
            <EntryTitle facts={facts} entryKey={entry.key} />
            {chosen.length > 1 ? (
              <Button
                onPress={() => {
                  change({ keys: text.keys.filter((one) => one !== entry.key) });
                  afterDrawing(() => document.querySelector<HTMLElement>('.also-do button')?.focus());
                }}
              >
                Not on this visit
              </Button>
            ) : null}
          </div>
          <CardSteps
            entry={entry}
            facts={facts}
            judgement={judgement}
            text={text.entries[entry.key]}
            problems={problemsOfEntry(problems, index)}
            onChange={(next) => changeEntry(entry.key, next)}
          />
        </section>
      ))}
      {others.map(({ key, facts }) => (
        <p key={key} className="also-do">
          <Button
            onPress={() => {
              change({ keys: [...text.keys, key] });
              afterDrawing(() => goToStep(firstStep(key)));
            }}
          >
            Also do the {key} setpoint on this visit
          </Button>{' '}
          <span className="quiet">
            switch the main to {(facts.card === 'setpoint' ? facts.airState : null) ?? 'its'} state, wait 15
            minutes
          </span>
        </p>
      ))}
      <div className="card-problems" tabIndex={-1}>
        {problems.length > 0 ? (
          <div className="failure" role="alert">
            <p>{own.length > 0 ? 'The card cannot be closed yet.' : close.error?.message}</p>
            <CardProblemList problems={problems} entries={chosen} />
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
        <Button tone="main" isPending={close.isPending} onPress={() => void submit()}>
          {close.isPending ? 'Writing…' : card.correcting ? 'Write the correction' : 'Close the card'}
        </Button>
      </div>
    </form>
  );
}

/** The bench card of one device, once what this window still writes of drafts is on disk. */
export function BenchScreen() {
  const deviceId = Number(useParams<{ deviceId: string }>().deviceId);
  const [search] = useSearchParams();
  const [isSettled, setSettled] = useState(false);
  useEffect(() => {
    void draftsSettled().then(() => setSettled(true));
  }, []);
  const correcting = Number(search.get('correct') ?? 0) || undefined;
  return isSettled ? (
    <Bench key={`${deviceId} ${correcting ?? ''}`} deviceId={deviceId} correcting={correcting} />
  ) : (
    <Waiting what="Laying out the card…" />
  );
}

function MainLine({ card }: { card: BenchCard }) {
  const { main } = card;
  const moves = card.moves.length > 0 ? `. Moves ${card.moves.join(', ')}` : '';
  const rated = card.rated ? `. ${sentence(card.rated)}` : '';
  if (!main)
    return card.class === 'controller' || card.class === 'transmitter' ? (
      <p className="lead">No main is on its supply path.</p>
    ) : null;
  return (
    <p className="lead">
      Main {main.tag}: {main.kind === 'single' ? valueText(main.lowMilli, main.pressureUnit) : null}
      {main.kind === 'two-pressure' ? (
        <>
          <AirState state="low" /> {valueText(main.lowMilli, main.pressureUnit)} {main.lowMeans},{' '}
          <AirState state="high" /> {valueText(main.highMilli, main.pressureUnit)} {main.highMeans}
        </>
      ) : null}
      {rated}
      {moves}
    </p>
  );
}

function Bench({ deviceId, correcting }: { deviceId: number; correcting: number | undefined }) {
  const [search] = useSearchParams();
  const book = useCall('settings.book', {});
  const card = useCall('bench.card', { deviceId, correcting }, { fresh: true });
  if (card.error) return <Failure error={card.error} />;
  if (!card.data || !card.isFetchedAfterMount || !book.data) return <Waiting what="Laying out the card…" />;
  const { data } = card;
  return (
    <>
      <p className="crumb">
        <Link href={`/register/${deviceId}`}>{data.tag}</Link>
      </p>
      <h1>
        {data.correcting ? 'Correction' : 'Bench card'}{' '}
        <span className="subtitle">
          {[data.tag, data.name, data.place, data.kindWords].filter((word) => word).join(', ')}
        </span>
      </h1>
      <MainLine card={data} />
      <p className="notice" role="note">
        {data.correcting
          ? 'The record stays as it is; this one takes its place and names it. Figures are judged by what the register said on that day.'
          : 'A record-keeping aid: local codes, the device maker’s instructions and licensed practice come first. Tolerances and limits are starting values for the owner to set.'}
      </p>
      {data.retiredOn !== null && !data.correcting ? (
        <p role="alert">
          Retired on {data.retiredOn}: no card of it can be closed.{' '}
          <Link href={`/register/${deviceId}`}>What the register says of it.</Link>
        </p>
      ) : data.entries.length === 0 ? (
        <p role="alert">
          {data.class === 'controller'
            ? 'This controller has no setpoint in the register yet. '
            : 'This device has no test point in the register yet. '}
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
