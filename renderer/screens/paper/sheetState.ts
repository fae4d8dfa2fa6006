/** What is typed into the grid of a paper sheet, row by row, and what it comes to. */
import type { PaperRow, PaperSheet, SheetScope } from '../../../shared/contract/paper.ts';
import type { InputOf } from '../../../shared/contract/index.ts';
import { descriptionOf } from '../../../shared/cards/index.ts';
import type { CardFacts } from '../../../shared/cards/index.ts';
import type { CardField, CardJudgement } from '../../../shared/cards/card.ts';
import { fieldsOf, judgeCard } from '../../../shared/cards/judge.ts';
import { isInRow } from '../../../shared/cards/paper.ts';
import type { InstrumentKind, Instruments } from '../../../shared/cards/instruments.ts';
import { instrumentKinds } from '../../../shared/cards/instruments.ts';
import { completingOutcomes } from '../../../shared/trade/words.ts';
import { blankEntry, toEntry, typingProblems } from '../../cards/cardState.ts';
import type { EntryText } from '../../cards/cardState.ts';

export type RowText = EntryText & {
  /** Empty = as in the row above. */
  doneOn: string;
  instruments: Record<InstrumentKind, string>;
  /** Why the ticks of the sheet do not hold for this row. */
  except: string;
  isOpen: boolean;
  /** Newest records that the book had when the row was begun, by test point; empty before. */
  seen: Record<string, number | null>;
};

export type SheetText = {
  personId: string;
  doneOn: string;
  instruments: Record<InstrumentKind, string>;
  /** Ticks of the whole sheet, by key. */
  ticks: Record<string, boolean>;
  rows: Record<string, RowText>;
};

const noInstruments: Record<InstrumentKind, string> = { pressure: '', temperature: '', humidity: '' };

export const blankRow: RowText = {
  ...blankEntry,
  doneOn: '',
  instruments: noInstruments,
  except: '',
  isOpen: false,
  seen: {},
};

/** Name of a row in the draft. */
export function rowName({ deviceId, key }: Pick<PaperRow, 'deviceId' | 'key'>): string {
  return `${deviceId}#${key}`;
}

export function startSheet(sheet: PaperSheet, workingPerson: number | null): SheetText {
  const personId = sheet.personId ?? workingPerson;
  return {
    personId: personId === null ? '' : String(personId),
    doneOn: sheet.doneOn,
    instruments: noInstruments,
    ticks: {},
    rows: {},
  };
}

/** A draft taken up; rows that the sheet has no more are left in it, unseen. */
export function sheetOfDraft(json: string, start: SheetText): SheetText {
  return { ...start, ...(JSON.parse(json) as Partial<SheetText>) };
}

export function textOfRow(text: SheetText, row: PaperRow): RowText {
  return { ...blankRow, ...text.rows[rowName(row)] };
}

/** The newest records that the book has of a row. */
export function newestOf(row: PaperRow): Record<string, number | null> {
  return Object.fromEntries(row.points.map((point) => [point.key, point.newestRecordId]));
}

/** True where the book has a record that a row, begun earlier, has not seen. */
export function isOvertaken(row: PaperRow, { seen }: RowText): boolean {
  return row.points.some(({ key, newestRecordId }) => key in seen && seen[key] !== newestRecordId);
}

/** True while nothing was typed into a row. */
export function isBlank(row: RowText): boolean {
  return (
    row.outcome === '' && row.note === '' && Object.values(row.values).every((value) => value.trim() === '')
  );
}

/** The date and the instruments that hold in each row: its own, else those of the row above, else the sheet's. */
export function carriedDown(
  sheet: PaperSheet,
  text: SheetText,
): { doneOn: string; instruments: Record<InstrumentKind, string> }[] {
  let { doneOn, instruments } = text;
  return sheet.rows.map((row) => {
    const own = textOfRow(text, row);
    doneOn = own.doneOn || doneOn;
    const above = instruments;
    instruments = Object.fromEntries(
      instrumentKinds.map((kind) => [kind, own.instruments[kind] || above[kind]]),
    ) as Record<InstrumentKind, string>;
    return { doneOn, instruments };
  });
}

/** Rows of one date and the same instruments are closed together. */
function partName({ doneOn, instruments }: ReturnType<typeof carriedDown>[number]): string {
  return [doneOn, ...instrumentKinds.map((kind) => instruments[kind])].join(' ');
}

/** Ticks of a row: those of the sheet, but for what the row says otherwise. */
export function ticksOf(facts: CardFacts, text: SheetText, row: RowText): Record<string, boolean> {
  const { preconditions, restored } = descriptionOf(facts);
  return {
    ...Object.fromEntries([...preconditions, ...restored].map(({ key }) => [key, text.ticks[key] ?? false])),
    ...row.ticks,
  };
}

/** The entry of a row with the ticks of the sheet. */
function entryText(facts: CardFacts, text: SheetText, row: RowText): EntryText {
  return {
    values: row.values,
    ticks: ticksOf(facts, text, row),
    tickNote: row.except,
    adjusted: row.outcome === 'adjusted',
    outcome: row.outcome,
    note: row.note,
  };
}

export type JudgedRow = {
  row: PaperRow;
  text: RowText;
  facts: CardFacts;
  judgement: CardJudgement;
  isBlank: boolean;
  problems: { field: string; reason: string }[];
};

function instrumentsOfRow(sheet: PaperSheet, ids: Record<InstrumentKind, string>): Instruments {
  return Object.fromEntries(
    instrumentKinds.map((kind) => [
      kind,
      sheet.instruments.find((one) => String(one.id) === ids[kind]) ?? null,
    ]),
  );
}

/** Every row judged as it stands; a row that nobody touched has no problems. */
export function judgedRows(sheet: PaperSheet, text: SheetText): JudgedRow[] {
  const carried = carriedDown(sheet, text);
  const typedOf = sheet.rows.map((row) => textOfRow(text, row));
  const isDone = (index: number): boolean =>
    completingOutcomes.some((outcome) => outcome === typedOf[index].outcome);
  return sheet.rows.map((row, index) => {
    const own = typedOf[index];
    // The first of two setpoints of one controller, read on one visit with the same instruments, is read again after
    // the second.
    const other = sheet.rows.findIndex(
      (one, at) =>
        at > index && one.deviceId === row.deviceId && partName(carried[at]) === partName(carried[index]),
    );
    const isFirst = other >= 0 && !isBlank(typedOf[other]);
    const facts: CardFacts =
      row.facts.card === 'setpoint' ? { ...row.facts, isFirstOfTwo: isFirst } : row.facts;
    const entry = entryText(facts, text, own);
    const judgement = judgeCard(descriptionOf(facts), facts, toEntry(facts, entry), {
      instruments: instrumentsOfRow(sheet, carried[index].instruments),
      rule: sheet.rule,
      doneOn: carried[index].doneOn,
    });
    const problems = isBlank(own)
      ? []
      : [
          ...(isOvertaken(row, own)
            ? [
                {
                  field: 'seen',
                  reason: 'the book has a record of it that is newer than this row: another visit?',
                },
              ]
            : []),
          ...typingProblems(facts, entry, judgement.isShut),
          ...(own.outcome === '' ? [{ field: 'outcome', reason: 'choose the outcome' }] : judgement.problems),
          ...(isFirst && isDone(index) && isDone(other) && !own.values.againBranch
            ? [{ field: 'readAgain', reason: 'read the first setpoint again after the second' }]
            : []),
        ];
    return { row, text: own, facts, judgement, isBlank: isBlank(own), problems };
  });
}

type Field = CardField<CardFacts>;

/**
 * Fields that stand in the row itself; those that an adjustment or a second setpoint asks for besides; and those that
 * may be noted.
 */
export function fieldsOfRow(
  facts: CardFacts,
  adjusted: boolean,
): { first: Field[]; asked: Field[]; may: Field[] } {
  const steps = descriptionOf(facts).steps.filter((step) => step.isOn?.(facts) ?? true);
  const all = steps.flatMap((step) => fieldsOf(step, facts).map((field) => ({ field, step })));
  // A first setpoint is read again after the second: that stands below, or the row would be of another grid.
  const isFirst = ({ field, step }: (typeof all)[number]): boolean =>
    step.key !== 'readAgain' && isInRow(field, step, facts);
  const others = all.filter((one) => !isFirst(one) && (adjusted || !one.step.whenAdjusted));
  const isAsked = ({ field, step }: (typeof all)[number]): boolean =>
    step.key === 'readAgain' ||
    (step.whenAdjusted === true && field.isNeeded !== undefined) ||
    field.key === 'leftDial' ||
    field.key === 'leftBranch';
  return {
    first: all.filter(isFirst).map(({ field }) => field),
    asked: others.filter(isAsked).map(({ field }) => field),
    may: others.filter((one) => !isAsked(one)).map(({ field }) => field),
  };
}

/** Rows with the same columns make one grid. */
export function gridOf(facts: CardFacts): string {
  const columns = fieldsOfRow(facts, false).first.map(({ key }) => key);
  return [facts.card, facts.pressureUnit, facts.scaleUnit, ...columns].join(' ');
}

/** The sheet with its rows in the order of its grids, so that what holds from a row on holds for the rows below it. */
export function inGridOrder(sheet: PaperSheet): PaperSheet {
  const grids = [...new Set(sheet.rows.map(({ facts }) => gridOf(facts)))];
  return {
    ...sheet,
    rows: grids.flatMap((grid) => sheet.rows.filter(({ facts }) => gridOf(facts) === grid)),
  };
}

/** The rows that were filled in, as the service takes them: by date and instruments, entries of a device together. */
export function partsOf(
  sheet: PaperSheet,
  text: SheetText,
  judged: readonly JudgedRow[],
): InputOf<'paper.close'>['parts'] {
  const carried = carriedDown(sheet, text);
  const parts = new Map<string, InputOf<'paper.close'>['parts'][number]>();
  for (const [index, { row, facts, text: own, isBlank: blank }] of judged.entries()) {
    if (blank) continue;
    const { doneOn, instruments } = carried[index];
    const id = (kind: InstrumentKind): number | null =>
      instruments[kind] === '' ? null : Number(instruments[kind]);
    const ids = { pressure: id('pressure'), temperature: id('temperature'), humidity: id('humidity') };
    const name = partName(carried[index]);
    const part = parts.get(name) ?? { doneOn, instruments: ids, cards: [] };
    parts.set(name, part);
    const entry = entryText(facts, text, own);
    const { values, ...rest } = toEntry(facts, entry);
    const closed = {
      key: row.key,
      seen: { ...newestOf(row), ...own.seen },
      values: { ...values },
      ...rest,
      ticks: { ...entry.ticks },
      note: own.note,
    };
    const card = part.cards.find(({ deviceId }) => deviceId === row.deviceId);
    if (card) card.entries.push(closed);
    else part.cards.push({ deviceId: row.deviceId, entries: [closed] });
  }
  return [...parts.values()];
}

/** Where a sheet is in the address, and back. */
export function scopeOfAddress(params: Record<string, string | undefined>): SheetScope {
  return params.mainId
    ? {
        kind: 'main',
        mainId: Number(params.mainId),
        airState: params.airState === 'low' || params.airState === 'high' ? params.airState : null,
      }
    : {
        kind: 'day',
        roundId: Number(params.roundId),
        date: params.date ?? '',
        personId: Number(params.personId),
      };
}
