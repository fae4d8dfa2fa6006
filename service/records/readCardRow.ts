/** A row of a readings file that holds a whole card: every reading of its description, judged as the card is. */
import type { BookDb } from '../../db/book.ts';
import { instrumentsOn } from '../../db/gauges.ts';
import type { NewCalibration, NewReading, NewRecord } from '../../db/records.ts';
import type { CardValue } from '../../shared/cards/card.ts';
import { CARD_VERSION, descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import type { Instrument, Instruments } from '../../shared/cards/instruments.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import { parsePlainDate } from '../../shared/dates/plainDate.ts';
import type { CellStyle } from '../../shared/register/row.ts';
import { completingOutcomes, outcomes } from '../../shared/trade/words.ts';
import { pressureUnits, temperatureUnits } from '../../shared/units/units.ts';
import type { Unit } from '../../shared/units/units.ts';
import { cardDevice, cardEntries } from '../bench/cardFacts.ts';
import { allFields, figuresOf, judgeEntry, readingsByPoint, unitOfField } from '../bench/cardRecord.ts';
import type { AnyField, CardSnapshot } from '../bench/cardRecord.ts';
import type { CsvRow } from '../csv/readCsv.ts';
import { inUnit } from '../../shared/cards/measures.ts';
import { columnOfField } from './readingColumns.ts';
import { cellsOf, unitOf } from './readReadingRow.ts';
import type { Cells } from './readingRules.ts';

/** Kind of a row that is a whole card. */
const CARD = 'card';
/** Kept where a card's ticks would stand: a file says nothing of them. */
const FROM_FILE = 'from a file: nothing is known of what was ticked';

type KnownCard = {
  tag: string;
  key: string;
  facts: CardFacts;
  inServiceOn: string | null;
  retiredOn: string | null;
};
export type CardLookup = {
  card: (tag: string, key: string) => KnownCard | null;
  hasTag: (tag: string) => boolean;
  personId: (initials: string) => number | null;
  instrument: (tag: string, on: string) => Instrument | null;
};

export function isCardRow({ cells }: CsvRow): boolean {
  return (cells.kind ?? '').trim() === CARD;
}

/** The cards that some rows are of, with people and instruments. */
export async function cardLookup(
  db: BookDb,
  rows: readonly CsvRow[],
  { today, style }: { today: string; style: CellStyle },
): Promise<CardLookup> {
  const cards = rows.filter(isCardRow);
  const tags = [...new Set(cards.map(({ cells }) => (cells.tag ?? '').trim()))];
  const known = new Map<string, KnownCard>();
  const found = new Set<string>();
  for (const tag of tags) {
    const row = await db.selectFrom('device').select('id').where('tag', '=', tag).executeTakeFirst();
    if (!row) continue;
    found.add(tag);
    const device = await cardDevice(db, row.id);
    for (const { key, facts } of await cardEntries(db, device, today))
      known.set(`${tag}\u0000${key}`, {
        tag,
        key,
        facts,
        inServiceOn: device.in_service_on,
        retiredOn: device.retired_on,
      });
  }
  const people = new Map(
    (await db.selectFrom('person').select(['id', 'initials']).execute()).map((row) => [row.initials, row.id]),
  );
  // An instrument counts with the certificate that held on the day of the work.
  const drawers = new Map<string, Instrument[]>();
  for (const { cells } of cards) {
    const on = parsePlainDate((cells.done_on ?? '').trim(), style.dates);
    if (on !== null && !drawers.has(on)) drawers.set(on, await instrumentsOn(db, on));
  }
  return {
    card: (tag, key) => known.get(`${tag}\u0000${key}`) ?? null,
    hasTag: (tag) => found.has(tag),
    personId: (initials) => people.get(initials) ?? null,
    instrument: (tag, on) => drawers.get(on)?.find((one) => one.tag === tag) ?? null,
  };
}

type Typed = { milli: number; unit: Unit };

/** Unit that a row types a field in: its own units for pressures and temperatures, the field's for everything else. */
function typedUnit(field: AnyField, facts: CardFacts, row: { pressure: Unit; temperature: Unit }): Unit {
  const unit = unitOfField(field, facts);
  if (unit === 'psi' || unit === 'kPa') return row.pressure;
  return unit === 'degF' || unit === 'degC' ? row.temperature : unit;
}

function readValues(cells: Cells, facts: CardFacts, units: { pressure: Unit; temperature: Unit }) {
  const values: Record<string, CardValue> = {};
  const typed = new Map<string, Typed>();
  for (const field of allFields(facts)) {
    if (field.isOn?.(facts) === false) continue;
    const column = columnOfField(field);
    const text = cells.text(column);
    if (text === '') continue;
    if (field.kind !== 'figure') {
      values[field.key] = text;
      continue;
    }
    const milli = cells.milli(column);
    if (milli === null) continue;
    const unit = typedUnit(field, facts, units);
    typed.set(`${field.phase} ${field.quantity}`, { milli, unit });
    values[field.key] = inUnit(milli, unit, unitOfField(field, facts));
  }
  return { values, typed };
}

function instrumentsOfRow(cells: Cells, lookup: CardLookup, on: string): Instruments {
  const chosen: Instruments = {};
  for (const [column, fits] of [
    ['pressure_gauge', (kind: string) => kind === 'pressure'],
    ['reference_gauge', (kind: string) => kind !== 'pressure'],
  ] as const) {
    const tag = cells.text(column);
    if (tag === '') continue;
    const instrument = lookup.instrument(tag, on);
    if (instrument && fits(instrument.kind)) chosen[instrument.kind] = instrument;
    else cells.fail(column, `no such instrument in the gauge drawer on ${on}, or of another kind`);
  }
  return chosen;
}

function dateProblems(cells: Cells, doneOn: string | null, card: KnownCard | null, today: string): void {
  const fail = (reason: string): void => cells.fail('done_on', reason);
  if (doneOn === null) fail('not a date of the declared style, or it does not exist');
  else if (doneOn > today) fail('lies in the future');
  else if (card?.inServiceOn && doneOn < card.inServiceOn)
    fail(`before the device went into service on ${card.inServiceOn}`);
  else if (card?.retiredOn && doneOn > card.retiredOn)
    fail(`after the device was retired on ${card.retiredOn}`);
}

/** Reads one card. Answers null with problems added when it cannot be a record. */
export function readCardRow(
  csvRow: CsvRow,
  style: CellStyle,
  lookup: CardLookup,
  context: { today: string; now: string; problems: InputProblem[] },
): { card: NewRecord[] } | null {
  const problems: InputProblem[] = [];
  const cells = cellsOf(csvRow, style, problems);
  const result = readCard(cells, style, lookup, context);
  context.problems.push(...problems);
  return problems.length > 0 ? null : result;
}

function readCard(
  cells: Cells,
  style: CellStyle,
  lookup: CardLookup,
  { today, now }: { today: string; now: string },
): { card: NewRecord[] } | null {
  const tag = cells.text('tag');
  const card = lookup.card(tag, cells.text('role'));
  if (!card)
    cells.fail(
      lookup.hasTag(tag) ? 'role' : 'tag',
      lookup.hasTag(tag) ? 'this device has no such card in service' : 'no device has this tag',
    );
  const doneOn = parsePlainDate(cells.text('done_on'), style.dates);
  dateProblems(cells, doneOn, card, today);
  const personId = lookup.personId(cells.text('person'));
  if (personId === null) cells.fail('person', 'no person has these initials; add them in Settings first');
  const outcome = outcomes.find((one) => one === cells.text('outcome'));
  if (!outcome) cells.fail('outcome', `not one of: ${outcomes.join(', ')}`);
  const units = {
    pressure: unitOf(cells, 'pressure_unit', style.pressure, pressureUnits),
    temperature: unitOf(cells, 'temperature_unit', style.temperature, temperatureUnits),
  };
  if (!card || !doneOn || personId === null || !outcome) return null;
  const { facts } = card;
  const instruments = instrumentsOfRow(cells, lookup, doneOn);
  const { values, typed } = readValues(cells, facts, units);
  // A file has no tick for it: what stands as left was adjusted, whether or not it came in.
  const isLeft = descriptionOf(facts).steps.some(
    (step) => step.whenAdjusted && step.fields.some(({ key }) => values[key] !== undefined),
  );
  const entry = {
    values,
    ticks: {},
    tickNote: FROM_FILE,
    adjusted: outcome === 'adjusted' || (isLeft && outcome !== 'held'),
    outcome,
  };
  const rule = 'simple acceptance' as const;
  const judgement = judgeEntry(facts, entry, { instruments, rule, doneOn, mayMiss: true });
  const columnOf = new Map(allFields(facts).map((field) => [field.key, columnOfField(field)]));
  for (const { field, reason } of judgement.problems)
    if (!field.startsWith('instruments.')) cells.fail(columnOf.get(field) ?? 'outcome', reason);
  if (completingOutcomes.includes(outcome) && judgement.points.some(({ found, left }) => !found && !left))
    cells.fail('outcome', `\`${outcome}\` needs readings that can be judged; else it was \`not tested\``);
  const { values: _values, ...noted } = entry;
  const snapshot: CardSnapshot = {
    card: CARD_VERSION,
    tag: card.tag,
    key: card.key,
    facts,
    instruments,
    ...noted,
    mayMiss: true,
  };
  const reference = instruments.humidity ?? instruments.temperature ?? null;
  const readings = readingsByPoint(facts, values, judgement.airState);
  const asTyped = (one: NewReading): NewReading => {
    const held = typed.get(`${one.phase} ${one.quantity}`);
    return held ? { ...one, value_milli: held.milli, unit: held.unit as NewReading['unit'] } : one;
  };
  return {
    card: facts.points.map((point) => ({
      calibration: {
        test_point_id: point.testPointId,
        done_on: doneOn,
        started_at: null,
        ended_at: now,
        person_id: personId,
        source: 'file',
        unit: point.unit,
        method_version: CARD_VERSION,
        decision_rule: rule,
        pressure_gauge_id: instruments.pressure?.id ?? null,
        temperature_gauge_id: reference?.id ?? null,
        supply_right: outcome === 'supply not right' ? 0 : 1,
        snapshot_json: JSON.stringify(snapshot),
        note: cells.text('note'),
        ...figuresOf(judgement, point.key, outcome),
      } as NewCalibration,
      readings: (readings.get(point.key) ?? []).map(asTyped),
    })),
  };
}
