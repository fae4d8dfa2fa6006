/** Closing bench cards: the rules of each card, then records, readings, follow-ups and due dates in one transaction. */
import type { BookDb } from '../../db/book.ts';
import { refreshDue } from '../../db/due.ts';
import { instrumentsOn } from '../../db/gauges.ts';
import { chainHead } from '../../db/ledger.ts';
import {
  appendCalibrations,
  appendCorrection,
  cardOfCalibration,
  newestRecords,
  replacementOf,
} from '../../db/records.ts';
import type { NewCalibration } from '../../db/records.ts';
import { CARD_VERSION, descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import { instrumentKinds } from '../../shared/cards/instruments.ts';
import type { Instrument, Instruments } from '../../shared/cards/instruments.ts';
import { instrumentsOf } from '../../shared/cards/judge.ts';
import type { CardJudgement, CardPoint } from '../../shared/cards/card.ts';
import type { ClosedEntry } from '../../shared/contract/bench.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { InputProblem } from '../../shared/contract/errors.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import type { DecisionRule } from '../../shared/trade/doubt.ts';
import { completingOutcomes, followUpOutcomes } from '../../shared/trade/words.ts';
import type { Outcome } from '../../shared/trade/words.ts';
import { closableBy, followCorrection, openFollowUpOf } from '../followUps/openFollowUp.ts';
import { benchRulesOf } from '../settings/benchRules.ts';
import { cardDevice, cardEntries } from './cardFacts.ts';
import type { CardDevice, CardEntryFacts } from './cardFacts.ts';
import { factsOfTheDay } from './factsOfTheDay.ts';
import type { PlainSnapshot } from './factsOfTheDay.ts';
import { cardSnapshotOf, figuresOf, judgeEntry, readingsByPoint } from './cardRecord.ts';
import type { CardSnapshot } from './cardRecord.ts';

export type Header = {
  personId: number;
  doneOn: string;
  startedAt: string | null;
  instruments: Record<'pressure' | 'temperature' | 'humidity', number | null>;
};
export type ClosingCard = {
  deviceId: number;
  entries: readonly ClosedEntry[];
  corrects: { calibrationId: number; reason: string; personId: number } | null;
};
type ClosingRecord = OutputOf<'bench.close'>['records'][number];
type Judged = {
  entry: ClosedEntry;
  facts: CardFacts;
  judgement: CardJudgement;
  /** Points that a record is made of: all of the card, or the one whose plain record is corrected. */
  points: readonly CardPoint[];
};
type JudgedCard = {
  device: CardDevice;
  corrects: ClosingCard['corrects'];
  entries: Judged[];
  /** A correction is judged by the rule of the record that it replaces. */
  rule: DecisionRule;
  mayMiss: boolean;
  /** Outcome of the record that is corrected. */
  was: Outcome | null;
};

/** Where and when the work is written. */
export type Closing = { today: string; now: string; source: 'bench' | 'paper' };

/** A second window, or a second press, must not make a second record of one visit unawares. */
async function requireNothingNewer(
  db: BookDb,
  { tag, facts, entry }: { tag: string; facts: CardFacts; entry: ClosedEntry },
  newest: ReadonlyMap<number, number>,
): Promise<void> {
  const point = facts.points.find(
    ({ key, testPointId }) => (newest.get(testPointId) ?? null) !== (entry.seen[key] ?? null),
  );
  if (!point) return;
  const record = await db
    .selectFrom('calibration as c')
    .innerJoin('person as p', 'p.id', 'c.person_id')
    .select(['c.ended_at', 'c.outcome', 'p.initials'])
    .where('c.id', '=', newest.get(point.testPointId) ?? 0)
    .executeTakeFirst();
  const what = `${tag} ${entry.key}`.trimEnd();
  throw new AppError(
    'conflict',
    record
      ? `${what} has a record that this card has not seen: “${record.outcome}” by ${record.initials}, closed at ${record.ended_at.slice(0, 16).replace('T', ' ')} UTC.`
      : 'This card has seen a record that is not in the book.',
  );
}

type Fail = (column: string, value: string, reason: string) => void;

async function headerProblems(
  db: BookDb,
  header: Header,
  { today, corrector, corrected }: { today: string; corrector: number | null; corrected: Corrected | null },
  fail: Fail,
): Promise<Instruments> {
  if (header.doneOn > today) fail('doneOn', header.doneOn, 'lies in the future');
  const active = new Map(
    (await db.selectFrom('person').select(['id', 'active']).execute()).map((row) => [
      row.id,
      row.active === 1,
    ]),
  );
  // Who took the readings of a record that is corrected may have left since.
  if (!active.has(header.personId) || (corrector === null && !active.get(header.personId)))
    fail('personId', String(header.personId), 'choose who took the readings');
  if (corrector !== null && !active.get(corrector))
    fail('corrects.personId', String(corrector), 'choose who corrects it');
  const ids = instrumentKinds.map((kind) => header.instruments[kind]).filter((id) => id !== null);
  const held = ids.length === 0 ? [] : await correctingInstruments(db, header.doneOn, corrected);
  const chosen: Instruments = {};
  for (const kind of instrumentKinds) {
    const id = header.instruments[kind];
    if (id === null) continue;
    const instrument = held.find((one) => one.id === id && one.kind === kind);
    if (instrument) chosen[kind] = instrument;
    else fail(`instruments.${kind}`, String(id), `choose a ${kind} instrument in use on ${header.doneOn}`);
  }
  return chosen;
}

type Corrected = {
  testPointId: number;
  /** Test points of the records that the card made. */
  recorded: number[];
  rule: DecisionRule;
  outcome: Outcome;
  doneOn: string;
  snapshot: CardSnapshot | null;
  /** What a record that no card made keeps of its day. */
  plain: PlainSnapshot;
  /** It came from a file of the past: what was not noted then need not be noted now. */
  mayMiss: boolean;
};

/** A record that is to be corrected. Throws when it is none of the device's. */
export async function correctedRecord(
  db: BookDb,
  calibrationId: number,
  deviceId: number,
): Promise<Corrected> {
  const row = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .select([
      'tp.device_id',
      'c.snapshot_json',
      'c.test_point_id',
      'c.decision_rule',
      'c.outcome',
      'c.done_on',
    ])
    .where('c.id', '=', calibrationId)
    .executeTakeFirst();
  if (row?.device_id !== deviceId) throw new AppError('not_found', 'There is no such record of this device.');
  const snapshot = cardSnapshotOf(row.snapshot_json);
  return {
    testPointId: row.test_point_id,
    recorded: (await cardOfCalibration(db, calibrationId)).map((one) => one.test_point_id),
    rule: row.decision_rule as DecisionRule,
    outcome: row.outcome,
    doneOn: row.done_on,
    plain: JSON.parse(row.snapshot_json) as PlainSnapshot,
    snapshot,
    mayMiss: snapshot === null || snapshot.mayMiss === true,
  };
}

/**
 * The entry that corrects a record, as it was when the record was made; of a record that no card made, the entry of
 * the register that reads its test point, with what the record keeps of its day.
 */
export async function correctingEntries(
  db: BookDb,
  device: CardDevice,
  { snapshot, testPointId, plain }: Corrected,
  today: string,
): Promise<CardEntryFacts[]> {
  if (snapshot) return [{ key: snapshot.key, facts: snapshot.facts }];
  return (await cardEntries(db, device, today, true))
    .filter(({ facts }) => facts.points.some((point) => point.testPointId === testPointId))
    .map(({ key, facts }) => ({ key, facts: factsOfTheDay(facts, testPointId, plain) }));
}

/** The instruments that a correction may read from on the day of its record: those of the record as they were then. */
export async function correctingInstruments(
  db: BookDb,
  doneOn: string,
  corrected: Corrected | null,
): Promise<Instrument[]> {
  const held = await instrumentsOn(db, doneOn);
  if (corrected === null || corrected.doneOn !== doneOn) return held;
  const kept = Object.values(corrected.snapshot?.instruments ?? {}).filter((one) => one !== null);
  return [...kept, ...held.filter(({ id }) => !kept.some((one) => one.id === id))];
}

async function correctedBy(db: BookDb, card: ClosingCard): Promise<Corrected | null> {
  if (!card.corrects) return null;
  const by = await replacementOf(db, card.corrects.calibrationId);
  if (by !== null)
    throw new AppError('conflict', `This record was corrected already, by record ${by}: correct that one.`);
  return correctedRecord(db, card.corrects.calibrationId, card.deviceId);
}

async function judgeCard(
  db: BookDb,
  card: ClosingCard,
  setting: {
    header: Header;
    instruments: Instruments;
    rule: DecisionRule;
    today: string;
    prefix: string;
    corrected: Corrected | null;
  },
  fail: Fail,
): Promise<JudgedCard> {
  const { header, instruments, today, prefix, corrected } = setting;
  const device = await cardDevice(db, card.deviceId);
  if (device.retired_on !== null && (!card.corrects || header.doneOn > device.retired_on))
    fail(`${prefix}deviceId`, device.tag, `retired on ${device.retired_on}`);
  if (device.in_service_on !== null && header.doneOn < device.in_service_on)
    fail('doneOn', header.doneOn, `before ${device.tag} went into service on ${device.in_service_on}`);
  const rule = corrected?.rule ?? setting.rule;
  const known = new Map(
    (corrected
      ? await correctingEntries(db, device, corrected, today)
      : await cardEntries(db, device, today)
    ).map(({ key, facts }) => [key, facts]),
  );
  const mayMiss = corrected?.mayMiss ?? false;
  const newest = card.corrects ? null : await newestRecords(db, device.id);
  const entries: Judged[] = [];
  for (const [index, entry] of card.entries.entries()) {
    const held = known.get(entry.key);
    const where = `${prefix}entries.${index}`;
    if (!held || entries.some((one) => one.entry.key === entry.key)) {
      fail(`${where}.key`, entry.key, 'not on the card of this device, or given twice');
      continue;
    }
    if (newest) await requireNothingNewer(db, { tag: device.tag, facts: held, entry }, newest);
    const facts: CardFacts =
      held.card === 'setpoint' && !card.corrects
        ? { ...held, isFirstOfTwo: card.entries.length > 1 && index === 0 }
        : held;
    const judgement = judgeEntry(facts, entry, { instruments, rule, doneOn: header.doneOn, mayMiss });
    for (const { field, reason } of judgement.problems)
      fail(field.startsWith('instruments.') ? field : `${where}.${field}`, entry.key || device.tag, reason);
    // A correction replaces what was recorded, and says nothing of the points beside it.
    const points = facts.points.filter(
      ({ testPointId }) => corrected === null || corrected.recorded.includes(testPointId),
    );
    const isJudged = judgement.points.some(
      ({ point, found, left }) =>
        points.some(({ key }) => key === point) && (found !== null || left !== null),
    );
    if (mayMiss && completingOutcomes.includes(entry.outcome) && !isJudged)
      fail(
        `${where}.outcome`,
        entry.key || device.tag,
        `“${entry.outcome}” needs readings that can be judged; else it was “not tested”`,
      );
    entries.push({ entry, facts, judgement, points });
  }
  const completing = entries.filter(({ entry }) => completingOutcomes.includes(entry.outcome));
  if (
    card.entries.length === 2 &&
    completing.length === 2 &&
    entries[0].entry.values.againBranch === undefined
  )
    fail(
      `${prefix}entries.0.readAgain`,
      entries[0].entry.key,
      'read the first setpoint again after the second: adjusting one can disturb the other',
    );
  return { device, corrects: card.corrects, entries, rule, mayMiss, was: corrected?.outcome ?? null };
}

async function writeEntry(
  db: BookDb,
  { device, corrects, rule, mayMiss }: JudgedCard,
  { entry, facts, judgement, points }: Judged,
  context: { header: Header; instruments: Instruments; closing: Closing },
) {
  const { header, closing } = context;
  const description = descriptionOf(facts);
  // What a card does not ask for was not read with, whatever was chosen for the cards beside it.
  const asked = instrumentsOf(description, facts);
  const instruments = Object.fromEntries(
    asked.map((kind) => [kind, context.instruments[kind] ?? null]),
  ) as Instruments;
  const snapshot: CardSnapshot = {
    card: CARD_VERSION,
    tag: device.tag,
    key: entry.key,
    facts,
    instruments,
    ticks: entry.ticks,
    tickNote: entry.tickNote,
    adjusted: entry.adjusted,
    outcome: entry.outcome,
    ...(mayMiss ? { mayMiss } : {}),
  };
  const readings = readingsByPoint(facts, entry.values, judgement.airState);
  const asksForSupply = description.preconditions.some(({ key }) => key === 'supply');
  const isSupplyWrong = entry.outcome === 'supply not right' || (asksForSupply && !entry.ticks.supply);
  const reference = instruments.humidity ?? instruments.temperature ?? null;
  const figures = points.map(({ key }) => figuresOf(judgement, key, entry.outcome));
  const rows = points.map((point, index) => ({
    calibration: {
      test_point_id: point.testPointId,
      done_on: header.doneOn,
      started_at: header.startedAt,
      ended_at: closing.now,
      person_id: header.personId,
      source: closing.source,
      unit: point.unit,
      method_version: CARD_VERSION,
      decision_rule: rule,
      pressure_gauge_id: instruments.pressure?.id ?? null,
      temperature_gauge_id: reference?.id ?? null,
      supply_right: isSupplyWrong ? 0 : 1,
      snapshot_json: JSON.stringify(snapshot),
      note: entry.note,
      ...figures[index],
    } as NewCalibration,
    // The one record of a card that corrects a plain one keeps every reading that it follows from.
    readings:
      points.length < facts.points.length ? [...readings.values()].flat() : (readings.get(point.key) ?? []),
  }));
  const ids = await appendCalibrations(db, rows);
  if (corrects) {
    const replaced = await cardOfCalibration(db, corrects.calibrationId);
    for (const [index, point] of points.entries()) {
      const before = replaced.find((one) => one.test_point_id === point.testPointId);
      if (!before) continue;
      await appendCorrection(db, {
        replaced_id: before.id,
        replacement_id: ids[index],
        reason: corrects.reason,
        person_id: corrects.personId,
        at: closing.now,
      });
      await followCorrection(db, before.id, { id: ids[index], outcome: figures[index].outcome });
    }
  }
  return { ids, figures };
}

/**
 * True where a record that is corrected was one to be followed up, or an open follow-up stands for it or for one that it
 * corrected in its turn.
 */
async function isFollowedUp(db: BookDb, { corrects, was }: JudgedCard): Promise<boolean> {
  if (!corrects) return false;
  if (was !== null && followUpOutcomes.includes(was)) return true;
  let ids = (await cardOfCalibration(db, corrects.calibrationId)).map(({ id }) => id);
  while (ids.length > 0) {
    const row = await db
      .selectFrom('follow_up')
      .select('id')
      .where('calibration_id', 'in', ids)
      .where('closed_at', 'is', null)
      .executeTakeFirst();
    if (row) return true;
    const earlier = await db
      .selectFrom('correction')
      .select('replaced_id')
      .where('replacement_id', 'in', ids)
      .execute();
    ids = earlier.map(({ replaced_id }) => replaced_id);
  }
  return false;
}

/**
 * Closes some cards in the transaction at hand; throws `invalid_input` with every problem by card, entry and field.
 * `prefix` names a card among several.
 */
export async function closeCards(
  db: BookDb,
  header: Header,
  cards: readonly ClosingCard[],
  closing: Closing & { prefix: (index: number) => string },
): Promise<OutputOf<'bench.close'>> {
  const problems: InputProblem[] = [];
  const fail: Fail = (column, value, reason) => {
    // Of an instrument one problem is enough.
    const isSaid = (one: InputProblem): boolean =>
      one.column === column && (one.reason === reason || column.startsWith('instruments.'));
    if (!problems.some(isSaid)) problems.push({ column, value, reason });
  };
  const corrector = cards.find(({ corrects }) => corrects !== null)?.corrects?.personId ?? null;
  const corrections: (Corrected | null)[] = [];
  for (const card of cards) corrections.push(await correctedBy(db, card));
  const corrected = corrections.find((one) => one !== null) ?? null;
  const instruments = await headerProblems(db, header, { today: closing.today, corrector, corrected }, fail);
  const { value: rules } = await benchRulesOf(db);
  const rule = rules.decisionRule;
  const judged: JudgedCard[] = [];
  for (const [index, card] of cards.entries())
    judged.push(
      await judgeCard(
        db,
        card,
        {
          header,
          instruments,
          rule,
          today: closing.today,
          prefix: closing.prefix(index),
          corrected: corrections[index],
        },
        fail,
      ),
    );
  if (problems.length > 0)
    throw new AppError('invalid_input', 'The card cannot be closed yet.', { problems });
  const records: Omit<ClosingRecord, 'dueOn'>[] = [];
  const followUps: OutputOf<'bench.close'>['followUps'] = [];
  for (const card of judged) {
    for (const one of card.entries) {
      const { ids, figures } = await writeEntry(db, card, one, { header, instruments, closing });
      for (const [index, point] of one.points.entries()) {
        const own = figures[index];
        records.push({
          calibrationId: ids[index],
          testPointId: point.testPointId,
          deviceId: card.device.id,
          tag: card.device.tag,
          kind: point.kind,
          role: point.role,
          outcome: own.outcome,
          errorFoundMilli: own.error_found_milli,
          foundRelation: own.found_relation as ClosingRecord['foundRelation'],
          verdictFound: own.verdict_found as ClosingRecord['verdictFound'],
          conformanceFoundPpm: own.conformance_found_ppm,
          errorLeftMilli: own.error_left_milli,
          verdictLeft: own.verdict_left as ClosingRecord['verdictLeft'],
          unit: point.unit,
        });
      }
      const { outcome, note } = one.entry;
      const opened = {
        deviceId: card.device.id,
        calibrationId: ids[0],
        at: closing.now,
        personId: card.corrects?.personId ?? header.personId,
      };
      if (followUpOutcomes.includes(outcome) && !(await isFollowedUp(db, card)))
        followUps.push(
          await openFollowUpOf(db, {
            ...opened,
            cause: `${outcome}: ${one.entry.key === '' ? card.device.class.replace('_', ' ') : `${one.entry.key} setpoint`}${note ? `, ${note}` : ''}`,
            symptom: one.judgement.symptoms[0] ?? null,
          }),
        );
      if (completingOutcomes.includes(outcome) && !card.corrects)
        for (const besides of one.judgement.besides ?? [])
          followUps.push(await openFollowUpOf(db, { ...opened, ...besides }));
    }
    if (!card.corrects) await db.deleteFrom('bench_draft').where('device_id', '=', card.device.id).execute();
  }
  const pointIds = [...new Set(records.map((record) => record.testPointId))];
  await refreshDue(db, pointIds);
  const due = await db
    .selectFrom('test_point')
    .select(['id', 'due_on'])
    .where('id', 'in', pointIds)
    .execute();
  const head = await chainHead(db);
  const done = judged.filter(({ entries }) =>
    entries.some(({ entry }) => completingOutcomes.includes(entry.outcome)),
  );
  return {
    closable: await closableBy(
      db,
      done.map(({ device, entries }) => ({
        deviceId: device.id,
        testPointIds: entries
          .filter(({ entry }) => completingOutcomes.includes(entry.outcome))
          .flatMap((one) => one.points.map(({ testPointId }) => testPointId)),
      })),
      records.map(({ calibrationId }) => calibrationId),
    ),
    records: records.map((record) => ({
      ...record,
      dueOn: due.find((row) => row.id === record.testPointId)?.due_on ?? null,
    })),
    followUps,
    ledgerSeq: head.seq,
    headHash: head.hash,
  };
}
