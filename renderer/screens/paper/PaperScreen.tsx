/** A whole paper sheet typed in: one row a setpoint, Tab along it, Enter down a column, one writing for all. */
import { useEffect, useMemo, useRef, useState } from 'react';
import type { KeyboardEvent } from 'react';
import { flushSync } from 'react-dom';
import { Link, useParams } from 'wouter';
import { call, useCall, useCommand } from '../../api/client.ts';
import { workingPersonId } from '../../api/workingPerson.ts';
import { saveFile } from '../../platform/files.ts';
import { Button } from '../../ui/Button.tsx';
import { ThrowAway } from '../../ui/ThrowAway.tsx';
import { CheckInput, SelectInput, TextInput } from '../../ui/fields.tsx';
import { sentence } from '../../ui/format.ts';
import { Empty, Failure, Waiting } from '../../ui/states.tsx';
import { descriptionOf } from '../../../shared/cards/index.ts';
import type { CardFacts, CardKind } from '../../../shared/cards/index.ts';
import type { CardField } from '../../../shared/cards/card.ts';
import { unitOf } from '../../../shared/cards/measures.ts';
import { unitLabel } from '../../../shared/units/units.ts';
import { instrumentsOf } from '../../../shared/cards/judge.ts';
import { instrumentKinds, instrumentWords } from '../../../shared/cards/instruments.ts';
import type { InstrumentKind } from '../../../shared/cards/instruments.ts';
import type { PaperRow, PaperSheet, SheetScope } from '../../../shared/contract/paper.ts';
import { PaperRowView } from './PaperRowView.tsx';
import { SheetWritten } from './SheetWritten.tsx';
import { createDraftKeeper } from './paperDraft.ts';
import type { DraftKeeper, DraftState } from './paperDraft.ts';
import {
  carriedDown,
  fieldsOfRow,
  gridOf,
  inGridOrder,
  isBlank,
  isOvertaken,
  judgedRows,
  newestOf,
  partsOf,
  rowName,
  scopeOfAddress,
  sheetOfDraft,
  startSheet,
  textOfRow,
  ticksOf,
} from './sheetState.ts';
import type { JudgedRow, RowText, SheetText } from './sheetState.ts';

const draftWords: Record<DraftState, string> = {
  kept: 'draft kept',
  writing: 'keeping the draft…',
  'changed elsewhere': 'draft NOT kept: this sheet was changed or closed in another window',
  'no answer': 'draft NOT kept: the program does not answer; trying again',
};

function useDraft(scope: SheetScope, sheet: PaperSheet) {
  const [state, setState] = useState<DraftState | null>(null);
  const keeper = useRef<DraftKeeper | null>(null);
  // The sheet may be read again while it is typed: the draft goes on from where it was begun.
  const [revision] = useState(sheet.draft?.revision ?? 0);
  const address = JSON.stringify(scope);
  useEffect(() => {
    const own = createDraftKeeper(JSON.parse(address) as SheetScope, revision, setState);
    keeper.current = own;
    return () => {
      // What was typed last is on its way; it may end.
      if (keeper.current === own) keeper.current = null;
    };
  }, [address, revision]);
  return { state, keeper };
}

function Ticks({
  rows,
  text,
  onChange,
}: {
  rows: readonly JudgedRow[];
  text: SheetText;
  onChange: (ticks: Record<string, boolean>) => void;
}) {
  const kinds = rows.map(({ facts }) => descriptionOf(facts));
  const unique = <T extends { key: string }>(ticks: readonly T[]): T[] =>
    ticks.filter((tick, index) => ticks.findIndex(({ key }) => key === tick.key) === index);
  const before = unique(kinds.flatMap(({ preconditions }) => preconditions));
  const after = unique(kinds.flatMap(({ restored }) => restored));
  const boxes = (ticks: typeof before) => (
    <div className="ticks">
      {ticks.map(({ key, text: words }) => (
        <CheckInput
          key={key}
          name={`sheet-${key}`}
          label={words}
          checked={text.ticks[key] ?? false}
          onChange={(checked) => onChange({ ...text.ticks, [key]: checked })}
        />
      ))}
    </div>
  );
  return (
    <>
      <h2>True of every row, but for what a row says otherwise</h2>
      {boxes(before)}
      <h2>Restored</h2>
      {boxes(after)}
      <div className="actions">
        <Button
          onPress={() => onChange(Object.fromEntries([...before, ...after].map(({ key }) => [key, true])))}
        >
          All of these are so
        </Button>
      </div>
    </>
  );
}

/** Rows of one kind of card make one grid: its columns are theirs. */
function groupsOf(rows: readonly JudgedRow[]): { card: CardKind; title: string; indexes: number[] }[] {
  const groups = new Map<string, { card: CardKind; title: string; indexes: number[] }>();
  for (const [index, { facts }] of rows.entries()) {
    const name = gridOf(facts);
    const group = groups.get(name) ?? { card: facts.card, title: descriptionOf(facts).title, indexes: [] };
    group.indexes.push(index);
    groups.set(name, group);
  }
  return [...groups.values()];
}

/** Enter goes down the column, F2 opens a row’s second line. */
function moveDown(event: KeyboardEvent<HTMLElement>, index: number, column: string): void {
  event.preventDefault();
  const table = event.currentTarget.closest('table');
  const below = [...(table?.querySelectorAll<HTMLElement>(`[name$="-${CSS.escape(column)}"]`) ?? [])].find(
    (one) => Number(/^row(\d+)-/.exec(one.getAttribute('name') ?? '')?.[1] ?? -1) > index,
  );
  below?.focus();
  if (below instanceof HTMLInputElement) below.select();
}

type GridProps = {
  sheet: PaperSheet;
  text: SheetText;
  judged: readonly JudgedRow[];
  indexes: readonly number[];
  kinds: readonly InstrumentKind[];
  isAsked: boolean;
  title: string;
  onRow: (index: number, change: Partial<RowText>) => void;
};

/** A field’s label with the unit that its figures are in. */
function labelWithUnit(field: CardField<CardFacts>, facts: CardFacts): string {
  const unit = field.kind === 'figure' ? unitLabel(unitOf(field.measure, facts)) : '';
  return unit === '' ? field.label : `${field.label}, ${unit}`;
}

function Grid({ sheet, text, judged, indexes, kinds, isAsked, title, onRow }: GridProps) {
  const carried = carriedDown(sheet, text);
  const { first } = fieldsOfRow(judged[indexes[0]].facts, false);
  const { facts } = judged[indexes[0]];
  const titles = [title, ...first.map((field) => labelWithUnit(field, facts)), 'Outcome', 'Says'];
  return (
    <div className="table-frame paper-frame" role="region" aria-label={title} tabIndex={-1}>
      <table className="plain-table paper-grid">
        <thead>
          <tr>
            {titles.map((one) => (
              <th key={one} scope="col">
                {one}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {indexes.map((index) => (
            <PaperRowView
              key={rowName(sheet.rows[index])}
              judged={judged[index]}
              index={index}
              kinds={kinds}
              instruments={sheet.instruments}
              carried={carried[index]}
              ticks={ticksOf(judged[index].facts, text, judged[index].text)}
              isAsked={isAsked}
              columns={titles.length}
              onChange={(change) => onRow(index, change)}
              onKey={(event, column) => {
                if (event.key === 'Enter') moveDown(event, index, column);
                else if (event.key === 'F2') {
                  event.preventDefault();
                  onRow(index, { isOpen: !judged[index].text.isOpen });
                }
              }}
            />
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** What a row has seen of the book: what stood there when it was begun. */
function seenOf(row: PaperRow, text: RowText): Record<string, number | null> {
  return isBlank(text) ? newestOf(row) : { ...newestOf(row), ...text.seen };
}

/** Puts the keyboard on the first field of a row that is not ready. */
function goToRow(index: number, field: string): void {
  const target =
    document.querySelector<HTMLElement>(`[name="row${index}-${CSS.escape(field)}"]`) ??
    document.querySelector<HTMLElement>(`[data-row="${index}"] :is(input, select)`);
  target?.focus();
}

function Sheet({ scope, sheet, onStale }: { scope: SheetScope; sheet: PaperSheet; onStale: () => void }) {
  const [text, setText] = useState<SheetText>(() => {
    const start = startSheet(sheet, workingPersonId());
    return sheet.draft ? sheetOfDraft(sheet.draft.json, start) : start;
  });
  const [isAsked, setAsked] = useState(false);
  const { state, keeper } = useDraft(scope, sheet);
  const close = useCommand('paper.close');
  const drop = useCommand('paper.dropDraft');
  const judged = useMemo(() => judgedRows(sheet, text), [sheet, text]);

  const latest = useRef(text);
  function keep(changed: SheetText): void {
    if (close.error) close.reset();
    latest.current = changed;
    setText(changed);
    keeper.current?.keep(JSON.stringify(changed));
  }
  function change(next: Partial<SheetText>): void {
    keep({ ...latest.current, ...next });
  }
  function changeRow(index: number, next: Partial<RowText>): void {
    const row = sheet.rows[index];
    const { current } = latest;
    keep({
      ...current,
      rows: {
        ...current.rows,
        [rowName(row)]: { ...textOfRow(current, row), seen: seenOf(row, textOfRow(current, row)), ...next },
      },
    });
  }

  const kinds = instrumentKinds.filter((kind) =>
    judged.some(({ facts }) => instrumentsOf(descriptionOf(facts), facts).includes(kind)),
  );
  const filled = judged.filter((row) => !row.isBlank);
  const unready = judged.flatMap((row, index) => (row.problems.length > 0 ? [{ row, index }] : []));
  // What every row lacks, such as a tick of the whole sheet, is said once.
  const ofAll =
    unready.length < 2
      ? []
      : unready[0].row.problems
          .map(({ reason }) => reason)
          .filter((reason) =>
            unready.every(({ row }) => row.problems.some((problem) => problem.reason === reason)),
          );
  const headProblems = [
    ...(text.personId === '' ? ['choose who took the readings'] : []),
    ...(text.doneOn === '' ? ['give the date of the work'] : []),
    ...(filled.length === 0 ? ['nothing is typed yet'] : []),
  ];

  async function submit(): Promise<void> {
    setAsked(true);
    if (headProblems.length > 0 || unready.length > 0) {
      setTimeout(() => document.querySelector<HTMLElement>('.card-problems')?.focus(), 0);
      return;
    }
    await keeper.current?.settled();
    try {
      await close.mutateAsync({
        scope,
        personId: Number(text.personId),
        draftRevision: keeper.current?.revision() ?? 0,
        parts: partsOf(sheet, text, judged),
      });
      keeper.current?.stop();
    } catch {
      setTimeout(() => document.querySelector<HTMLElement>('.card-problems')?.focus(), 0);
    }
  }

  if (close.data) return <SheetWritten result={close.data} left={judged.length - filled.length} />;
  return (
    <form onSubmit={(event) => event.preventDefault()}>
      <section aria-label="Who, when and with what" className="panel controls">
        <SelectInput
          label="Readings taken by"
          value={text.personId}
          onChange={(personId) => change({ personId })}
          options={[
            { value: '', label: 'choose' },
            ...sheet.people.map((one) => ({ value: String(one.id), label: `${one.initials} · ${one.name}` })),
          ]}
        />
        <TextInput
          label="Date of the work"
          type="date"
          value={text.doneOn}
          onChange={(doneOn) => change({ doneOn })}
        />
        {kinds.map((kind) => (
          <SelectInput
            key={kind}
            label={sentence(instrumentWords[kind])}
            value={text.instruments[kind]}
            onChange={(id) => change({ instruments: { ...text.instruments, [kind]: id } })}
            options={[
              { value: '', label: 'not chosen' },
              ...sheet.instruments
                .filter((one) => one.kind === kind)
                .map((one) => ({
                  value: String(one.id),
                  label: `${one.tag}${one.certificateDueOn === null || one.certificateDueOn < text.doneOn ? ', certificate lapsed' : ''}`,
                })),
            ]}
          />
        ))}
        <p className="quiet draft-state" role="status">
          {state === null
            ? sheet.draft
              ? `draft of ${sheet.draft.savedAt.slice(0, 16).replace('T', ' ')} UTC taken up`
              : ''
            : draftWords[state]}
        </p>
        {state === 'changed elsewhere' ? (
          <>
            <Button onPress={onStale}>Take up what the book has</Button>
            <Button
              onPress={() =>
                void (async () => {
                  const now = await call('paper.sheet', { scope });
                  keeper.current?.over(now.draft?.revision ?? 0);
                  change({});
                })()
              }
            >
              Keep what stands here instead
            </Button>
          </>
        ) : null}
        {sheet.draft || state !== null ? (
          <ThrowAway
            isOf={text.rows}
            onPress={() =>
              void (async () => {
                keeper.current?.stop();
                await keeper.current?.settled();
                await drop.mutateAsync({ scope, over: keeper.current?.revision() ?? 0 });
                onStale();
              })()
            }
          />
        ) : null}
      </section>
      <section aria-label="Ticks" className="panel">
        <Ticks rows={judged} text={text} onChange={(ticks) => change({ ticks })} />
      </section>
      <p className="quiet">
        Tab goes along a row, Enter down a column, F2 opens a row’s second line: remarks, another gauge or
        date from there on, what is asked for after an adjustment. Rows left blank are not written.
      </p>
      {groupsOf(judged).map((group) => (
        <Grid
          key={`${group.card} ${group.indexes[0]}`}
          sheet={sheet}
          text={text}
          judged={judged}
          indexes={group.indexes}
          kinds={kinds}
          isAsked={isAsked}
          title={group.title}
          onRow={changeRow}
        />
      ))}
      <div className="card-problems" tabIndex={-1}>
        {isAsked && (headProblems.length > 0 || unready.length > 0) ? (
          <div className="failure" role="alert">
            <p>The sheet cannot be written yet.</p>
            <ul className="card-problem-list">
              {headProblems.map((reason) => (
                <li key={reason}>{reason}</li>
              ))}
              {ofAll.map((reason) => (
                <li key={reason}>In every row: {reason}</li>
              ))}
              {unready.map(({ row, index }) => (
                <li key={index}>
                  <Button
                    tone="quiet"
                    onPress={() => {
                      flushSync(() => changeRow(index, { isOpen: true }));
                      goToRow(index, row.problems[0].field);
                    }}
                  >
                    {row.row.tag} {row.row.title}
                  </Button>{' '}
                  {row.problems
                    .map(({ reason }) => reason)
                    .filter((reason) => !ofAll.includes(reason))
                    .join('; ')}{' '}
                  {isOvertaken(row.row, row.text) ? (
                    <>
                      <Link href={`/register/${row.row.deviceId}`}>look</Link>{' '}
                      <Button tone="quiet" onPress={() => changeRow(index, { seen: newestOf(row.row) })}>
                        It is another visit: go on
                      </Button>
                    </>
                  ) : null}
                </li>
              ))}
            </ul>
          </div>
        ) : close.error ? (
          <Failure error={close.error} />
        ) : null}
        {close.error?.code === 'conflict' ? (
          <Button onPress={onStale}>Lay the sheet out anew, with the draft in the book</Button>
        ) : null}
      </div>
      <div className="actions close-line">
        <Button tone="main" isPending={close.isPending} onPress={() => void submit()}>
          {close.isPending ? 'Writing…' : `Write ${filled.length} of ${judged.length} rows`}
        </Button>
      </div>
    </form>
  );
}

export function PaperScreen() {
  const scope = scopeOfAddress(useParams());
  const [turn, setTurn] = useState(0);
  const sheet = useCall('paper.sheet', { scope }, { fresh: true });
  if (sheet.error) return <Failure error={sheet.error} />;
  if (!sheet.data || !sheet.isFetchedAfterMount) return <Waiting what="Laying out the sheet…" />;
  const { data } = sheet;
  return (
    <>
      {scope.kind === 'day' ? (
        <p className="crumb">
          <Link href={`/round/${scope.roundId}/day/${scope.date}/${scope.personId}`}>Day sheet</Link>
        </p>
      ) : (
        <p className="crumb">
          <Link href={`/register/${scope.mainId}`}>The main</Link>
        </p>
      )}
      <div className="title-line">
        <h1>
          Paper entry <span className="subtitle">{data.title}</span>
        </h1>
        <Button onPress={() => void saveFile('paper.pdf', { scope })}>PDF with blank boxes</Button>
      </div>
      {data.rows.length === 0 ? (
        <Empty title="Nothing to type here">
          <p>No card belongs to this sheet.</p>
        </Empty>
      ) : (
        <Sheet
          key={turn}
          scope={scope}
          sheet={inGridOrder(data)}
          onStale={() => void sheet.refetch().then(() => setTurn((one) => one + 1))}
        />
      )}
    </>
  );
}
