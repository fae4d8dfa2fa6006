/** Between a card and its records: what a record keeps of the card, and the card read back out of its records. */
import type { NewReading } from '../../db/records.ts';
import type { CardEntry, CardField, CardJudgement, CardValues, Phase } from '../../shared/cards/card.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts, CARD_VERSION } from '../../shared/cards/index.ts';
import type { Instruments } from '../../shared/cards/instruments.ts';
import { fieldsOf, judgeCard } from '../../shared/cards/judge.ts';
import type { JudgeSetting } from '../../shared/cards/judge.ts';
import { inUnit, unitOf } from '../../shared/cards/measures.ts';
import type { Outcome } from '../../shared/trade/words.ts';
import type { Unit } from '../../shared/units/units.ts';

/** Everything of the register, the instruments and the settings that a record's figures follow from. */
export type CardSnapshot = {
  card: typeof CARD_VERSION;
  tag: string;
  key: string;
  facts: CardFacts;
  instruments: Instruments;
  ticks: Readonly<Record<string, boolean>>;
  tickNote: string;
  adjusted: boolean;
  /** Outcome of the whole card; a record of one of its points may say less. */
  outcome: Outcome;
  /** It came from a file of the past, or corrects one that did: not everything was noted. */
  mayMiss?: true;
};

/** The snapshot of a record that a card made; null for one from a file or from before there were cards. */
export function cardSnapshotOf(json: string): CardSnapshot | null {
  const held = JSON.parse(json) as Partial<CardSnapshot>;
  return held.card === undefined || held.facts === undefined ? null : (held as CardSnapshot);
}

type StoredReading = {
  phase: string;
  quantity: string;
  value_milli?: number | null;
  value_text?: string | null;
  unit: string;
};

export type AnyField = CardField<CardFacts>;

export function allFields(facts: CardFacts): AnyField[] {
  return descriptionOf(facts).steps.flatMap((step) => step.fields);
}

/** Unit of a field on a device. */
export function unitOfField(field: AnyField, facts: CardFacts): Unit {
  return field.kind === 'figure' ? unitOf(field.measure, facts) : 'none';
}

/** Readings of a card by the test point whose record holds them, in the order of the card. */
export function readingsByPoint(
  facts: CardFacts,
  values: CardValues,
  airState: CardJudgement['airState'],
): Map<string, NewReading[]> {
  const [first] = facts.points;
  const byPoint = new Map<string, NewReading[]>(facts.points.map(({ key }) => [key, []]));
  const asked = descriptionOf(facts).steps.filter((step) => step.isOn?.(facts) ?? true);
  for (const field of asked.flatMap((step) => fieldsOf(step, facts))) {
    const value = values[field.key];
    if (value === undefined) continue;
    const point = facts.points.some(({ key }) => key === field.point) ? field.point : first.key;
    byPoint.get(point ?? first.key)?.push({
      phase: field.phase,
      quantity: field.quantity,
      value_milli: typeof value === 'number' ? value : null,
      value_text: typeof value === 'string' ? value : null,
      unit: unitOfField(field, facts) as NewReading['unit'],
      air_state: airState,
    });
  }
  return byPoint;
}

/** Values of a card out of its stored readings; a reading that no field of the card asks for is left out. */
export function valuesOfReadings(facts: CardFacts, readings: readonly StoredReading[]): CardValues {
  const fields = new Map<string, AnyField>(
    allFields(facts)
      // Of two fields with the same words, such as the pressures of a device with one, the device has one.
      .filter((field) => field.isOn?.(facts) ?? true)
      .map((field) => [`${field.phase} ${field.quantity}`, field]),
  );
  const values: Record<string, number | string> = {};
  for (const reading of readings) {
    const field = fields.get(`${reading.phase as Phase} ${reading.quantity}`);
    if (!field) continue;
    if (typeof reading.value_text === 'string') values[field.key] = reading.value_text;
    else if (typeof reading.value_milli === 'number')
      values[field.key] = inUnit(reading.value_milli, reading.unit, unitOfField(field, facts));
  }
  return values;
}

/** The card as it was noted. */
export function entryOfRecord(snapshot: CardSnapshot, readings: readonly StoredReading[]): CardEntry {
  return {
    values: valuesOfReadings(snapshot.facts, readings),
    ticks: snapshot.ticks,
    tickNote: snapshot.tickNote,
    adjusted: snapshot.adjusted,
    outcome: snapshot.outcome,
  };
}

/** Judges a card with what goes with it. */
export function judgeEntry(facts: CardFacts, entry: CardEntry, setting: JudgeSetting): CardJudgement {
  return judgeCard(descriptionOf(facts), facts, entry, setting);
}

/** Figures that a record of one test point keeps. */
export type RecordFigures = {
  outcome: Outcome;
  method: string | null;
  error_found_milli: number | null;
  found_relation: string | null;
  verdict_found: string | null;
  doubt_milli: number | null;
  conformance_found_ppm: number | null;
  error_left_milli: number | null;
  left_relation: string | null;
  verdict_left: string | null;
  doubt_left_milli: number | null;
  conformance_left_ppm: number | null;
};

/** What one test point's record says: a supply that is not right says nothing of the device. */
export function figuresOf(judgement: CardJudgement, point: string, outcome: Outcome): RecordFigures {
  const judged = judgement.points.find((one) => one.point === point);
  const counts = outcome !== 'supply not right' && outcome !== 'no access' && outcome !== 'not tested';
  const found = counts ? (judged?.found ?? null) : null;
  const own = counts ? (judged?.left ?? null) : null;
  // On a card of several points the one that was found inside and not set is held.
  const isHeld = outcome === 'held' || (outcome === 'adjusted' && own === null && found !== null);
  const left = isHeld ? found : own;
  return {
    outcome: isHeld ? 'held' : outcome,
    method: found?.method ?? left?.method ?? null,
    error_found_milli: found?.errorMilli ?? null,
    found_relation: found?.relation ?? null,
    verdict_found: found?.verdict ?? null,
    doubt_milli: found?.doubtMilli ?? null,
    conformance_found_ppm: found?.conformancePpm ?? null,
    error_left_milli: left?.errorMilli ?? null,
    left_relation: left?.relation ?? null,
    verdict_left: left?.verdict ?? null,
    doubt_left_milli: left?.doubtMilli ?? null,
    conformance_left_ppm: left?.conformancePpm ?? null,
  };
}
