/** What is typed on a card, as text, and what it comes to. */
import type { BenchCard, BenchEntry, ClosedEntry } from '../../shared/contract/bench.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import type { CardEntry, CardField, CardJudgement, CardValue } from '../../shared/cards/card.ts';
import { fieldsOf, instrumentsOf, judgeCard } from '../../shared/cards/judge.ts';
import { instrumentKinds } from '../../shared/cards/instruments.ts';
import type { InstrumentKind, Instruments } from '../../shared/cards/instruments.ts';
import type { Outcome } from '../../shared/trade/words.ts';
import { formatMilli } from '../../shared/units/units.ts';
import { typed, typingProblem } from '../ui/typed.ts';

export type EntryText = {
  values: Record<string, string>;
  ticks: Record<string, boolean>;
  tickNote: string;
  adjusted: boolean;
  outcome: Outcome | '';
  note: string;
};

export type CardText = {
  personId: string;
  doneOn: string;
  instruments: Record<InstrumentKind, string>;
  startedAt: string;
  /** By entry and test point: the newest record when the card was begun. */
  seen: Record<string, Record<string, number | null>>;
  /** Entries on this visit, in the order they are done. */
  keys: string[];
  entries: Record<string, EntryText>;
  /** Why a record is corrected. */
  reason: string;
  /** Who corrects a record; its readings stay those of who took them. */
  corrector: string;
};

export const blankEntry: EntryText = {
  values: {},
  ticks: {},
  tickNote: '',
  adjusted: false,
  outcome: '',
  note: '',
};

type Field = CardField<CardFacts>;

/** Fields that a device's card has, by their key. */
export function fieldsByKey(facts: CardFacts): Map<string, Field> {
  return new Map(
    descriptionOf(facts).steps.flatMap((step) =>
      fieldsOf(step, facts).map((field) => [field.key, field] as const),
    ),
  );
}

function textOf(value: CardValue): string {
  return typeof value === 'number' ? formatMilli(value) : value;
}

/** The text of an entry that was recorded before, for its correction. */
export function entryTextOf({ recorded }: BenchEntry): EntryText {
  if (!recorded) return blankEntry;
  return {
    values: Object.fromEntries(Object.entries(recorded.values).map(([key, value]) => [key, textOf(value)])),
    ticks: { ...recorded.ticks },
    tickNote: recorded.tickNote,
    adjusted: recorded.adjusted,
    outcome: recorded.outcome,
    note: recorded.note,
  };
}

/** The entry as figures; what does not read is left out, and told by `typingProblems`. */
export function toEntry(facts: CardFacts, text: EntryText): CardEntry {
  const values: Record<string, CardValue> = {};
  for (const [key, field] of fieldsByKey(facts)) {
    const raw = (text.values[key] ?? '').trim();
    if (raw === '') continue;
    const value = field.kind === 'figure' ? typed(raw) : raw;
    if (value !== null) values[key] = value;
  }
  return {
    values,
    ticks: text.ticks,
    tickNote: text.tickNote,
    adjusted: text.adjusted,
    outcome: text.outcome || 'not tested',
  };
}

/** Figures that do not read: closing would drop what was typed. */
export function typingProblems(
  facts: CardFacts,
  text: EntryText,
  isShut: boolean,
): { field: string; reason: string }[] {
  const problems: { field: string; reason: string }[] = [];
  for (const step of descriptionOf(facts).steps) {
    // In the wrong air state these fields are shut: the card says so, and what stands there is not asked for.
    if (isShut && step.key !== 'state' && step.key !== 'putBack') continue;
    for (const field of fieldsOf(step, facts)) {
      const raw = (text.values[field.key] ?? '').trim();
      if (field.kind === 'figure' && raw !== '' && typingProblem(raw) !== null)
        problems.push({ field: field.key, reason: `“${raw}” is not a figure` });
    }
  }
  return problems;
}

/** The instruments that were chosen. */
export function chosenInstruments(card: BenchCard, text: Pick<CardText, 'instruments'>): Instruments {
  return Object.fromEntries(
    instrumentKinds.map((kind) => [
      kind,
      card.instruments.find((one) => String(one.id) === text.instruments[kind]) ?? null,
    ]),
  );
}

/** Kinds of instruments that some entries are read with. */
export function kindsAsked(entries: readonly BenchEntry[]): InstrumentKind[] {
  const asked = new Set(entries.flatMap(({ facts }) => instrumentsOf(descriptionOf(facts), facts)));
  return instrumentKinds.filter((kind) => asked.has(kind));
}

/** Facts of an entry on this visit: whether another setpoint follows it. */
export function factsOnVisit({ facts }: BenchEntry, index: number, count: number): CardFacts {
  return facts.card === 'setpoint' ? { ...facts, isFirstOfTwo: count > 1 && index === 0 } : facts;
}

/** What an entry comes to as it stands. */
export function judged(card: BenchCard, facts: CardFacts, text: CardText, key: string): CardJudgement {
  return judgeCard(descriptionOf(facts), facts, toEntry(facts, text.entries[key]), {
    instruments: chosenInstruments(card, text),
    rule: card.rule,
    doneOn: text.doneOn,
    mayMiss: card.correcting?.mayMiss ?? false,
  });
}

/** The same entry in the contract's shape. */
export function toClosedEntry(
  { key, facts }: Pick<BenchEntry, 'key' | 'facts'>,
  text: CardText,
): ClosedEntry {
  const entry = text.entries[key];
  const { values, ...rest } = toEntry(facts, entry);
  return {
    key,
    seen: text.seen[key] ?? {},
    values: { ...values },
    ...rest,
    ticks: { ...entry.ticks },
    note: entry.note,
  };
}

/** The newest record of each test point, as the card has it. */
export function seenOf(card: BenchCard): CardText['seen'] {
  return Object.fromEntries(
    card.entries.map(({ key, points }) => [
      key,
      Object.fromEntries(points.map((point) => [point.key, point.newestRecordId])),
    ]),
  );
}

/** Ids of the chosen instruments for the service. */
export function instrumentIds({ instruments }: CardText): Record<InstrumentKind, number | null> {
  const id = (kind: InstrumentKind): number | null =>
    instruments[kind] === '' ? null : Number(instruments[kind]);
  return { pressure: id('pressure'), temperature: id('temperature'), humidity: id('humidity') };
}
