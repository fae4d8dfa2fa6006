/** One record as an auditor reads it. Loading and verifying are jobs. */
import { cardOfCalibration, namesOfRecord, readingsOf } from '../../db/records.ts';
import type { BookDb } from '../../db/book.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import { ANCHOR_FORMAT } from '../../shared/contract/records.ts';
import { chainHead } from '../../db/ledger.ts';
import { siteOf } from '../settings/handlers.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { cardSnapshotOf, entryOfRecord, judgeEntry } from '../bench/cardRecord.ts';
import type { CardSnapshot } from '../bench/cardRecord.ts';
import type { GroupHandlers } from '../context.ts';
import type { DecisionRule } from '../../shared/trade/doubt.ts';
import { combined } from '../../shared/trade/doubt.ts';

type Details = OutputOf<'records.details'>;

function labelsOf(facts: CardFacts): Map<string, string> {
  return new Map(
    descriptionOf(facts).steps.flatMap((step) =>
      step.fields.map((field) => [`${field.phase} ${field.quantity}`, field.label] as const),
    ),
  );
}

async function correctionsAround(db: BookDb, calibrationId: number) {
  const rows = await db
    .selectFrom('correction as x')
    .innerJoin('person as p', 'p.id', 'x.person_id')
    .select(['x.replaced_id', 'x.replacement_id', 'x.reason', 'x.at', 'p.initials'])
    .where((eb) =>
      eb.or([eb('x.replaced_id', '=', calibrationId), eb('x.replacement_id', '=', calibrationId)]),
    )
    .execute();
  const word = (row: (typeof rows)[number] | undefined, id: number | undefined) =>
    row && id !== undefined ? { calibrationId: id, reason: row.reason, at: row.at, by: row.initials } : null;
  const after = rows.find((row) => row.replaced_id === calibrationId);
  const before = rows.find((row) => row.replacement_id === calibrationId);
  return { replacedBy: word(after, after?.replacement_id), replaces: word(before, before?.replaced_id) };
}

type Row = Awaited<ReturnType<typeof recordRow>>;

async function recordRow(db: BookDb, calibrationId: number) {
  const row = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .innerJoin('person as p', 'p.id', 'c.person_id')
    .leftJoin('gauge as pg', 'pg.id', 'c.pressure_gauge_id')
    .leftJoin('gauge as tg', 'tg.id', 'c.temperature_gauge_id')
    .leftJoin('ledger as l', (join) =>
      join.on('l.kind', '=', 'calibration').onRef('l.record_id', '=', 'c.id'),
    )
    .selectAll('c')
    .select([
      'd.id as device_id',
      'd.tag',
      'd.retired_on',
      'tp.kind',
      'tp.role',
      'p.name as person_name',
      'p.initials',
    ])
    .select(['pg.tag as pressure_gauge', 'tg.tag as temperature_gauge', 'l.seq', 'l.hash'])
    .where('c.id', '=', calibrationId)
    .executeTakeFirst();
  if (!row) throw new AppError('not_found', 'There is no such record.');
  return row;
}

/** Contributions to the doubt, and the ticks in words, from what the record keeps. */
function fromSnapshot(row: Row, snapshot: CardSnapshot, readings: Awaited<ReturnType<typeof readingsOf>>) {
  const { facts } = snapshot;
  const description = descriptionOf(facts);
  const judgement = judgeEntry(facts, entryOfRecord(snapshot, readings), {
    instruments: snapshot.instruments,
    rule: row.decision_rule as DecisionRule,
    doneOn: row.done_on,
  });
  const point = facts.points.find(({ testPointId }) => testPointId === row.test_point_id);
  const judged = judgement.points.find((one) => one.point === point?.key);
  const budget = judged?.found?.doubt ?? judged?.left?.doubt ?? null;
  return {
    budget:
      budget === null
        ? null
        : [
            ...budget.map(({ name, u }) => ({ name, uMicro: Math.round(u * 1e6) })),
            { name: 'combined', uMicro: Math.round(combined(budget).u * 1e6) },
          ],
    toleranceMilli: point?.toleranceMilli ?? null,
    toleranceLeftMilli: point?.toleranceLeftMilli ?? null,
    ticks: [
      ...[...description.preconditions, ...description.restored].map(({ key, text }) => ({
        text,
        ticked: snapshot.ticks[key] === true,
      })),
      // What was not done for the test needs no word.
      ...description
        .circumstances(facts)
        .filter(({ key }) => snapshot.ticks[key] === true)
        .map(({ text }) => ({ text, ticked: true })),
    ],
    tickNote: snapshot.tickNote,
    instruments: Object.values(snapshot.instruments)
      .filter((one) => one !== null)
      .map((one) => ({
        tag: one.tag,
        certificate: one.certificate?.number ?? null,
        dueOn: one.certificateDueOn,
        isLapsed: one.certificateDueOn === null || one.certificateDueOn < row.done_on,
      })),
    expected: judgement.expected,
    remarks: judgement.remarks.map(({ tone, text }) => ({ tone, text })),
  };
}

export const recordsHandlers: GroupHandlers<'records'> = {
  anchor: async ({ db, clock }) => {
    const head = await chainHead(db);
    const { value: site } = await siteOf(db);
    return {
      format: ANCHOR_FORMAT,
      entries: head.seq,
      headHash: head.hash,
      at: clock.now(),
      site: site.name,
    };
  },

  details: async ({ db }, { calibrationId }): Promise<Details> => {
    const row = await recordRow(db, calibrationId);
    const group = await cardOfCalibration(db, calibrationId);
    const readings = await readingsOf(
      db,
      group.map(({ id }) => id),
    );
    const snapshot = cardSnapshotOf(row.snapshot_json);
    // The names of the day, as the chain holds them; the register may say otherwise by now.
    const names = namesOfRecord(row.snapshot_json) ?? { ...row, person: row.person_name };
    const labels = snapshot ? labelsOf(snapshot.facts) : new Map<string, string>();
    const plain = JSON.parse(row.snapshot_json) as { toleranceMilli?: number; toleranceLeftMilli?: number };
    const kept = snapshot
      ? fromSnapshot(row, snapshot, readings)
      : {
          budget: null,
          toleranceMilli: plain.toleranceMilli ?? null,
          toleranceLeftMilli: plain.toleranceLeftMilli ?? null,
          ticks: [],
          tickNote: '',
          instruments: [row.pressure_gauge, row.temperature_gauge]
            .filter((tag) => tag !== null)
            .map((tag) => ({ tag, certificate: null, dueOn: null, isLapsed: false })),
          remarks: [],
          expected: [],
        };
    return {
      calibrationId,
      deviceId: row.device_id,
      testPointId: row.test_point_id,
      tag: names.tag,
      kind: names.kind,
      role: names.role,
      doneOn: row.done_on,
      endedAt: row.ended_at,
      person: `${names.person} (${names.initials})`,
      outcome: row.outcome,
      source: row.source,
      unit: row.unit,
      method: row.method,
      methodVersion: row.method_version,
      decisionRule: row.decision_rule,
      foundMilli: row.error_found_milli,
      foundRelation: row.found_relation,
      verdictFound: row.verdict_found,
      doubtFoundMilli: row.doubt_milli,
      conformanceFoundPpm: row.conformance_found_ppm,
      leftMilli: row.error_left_milli,
      leftRelation: row.left_relation,
      verdictLeft: row.verdict_left,
      doubtLeftMilli: row.doubt_left_milli,
      conformanceLeftPpm: row.conformance_left_ppm,
      supplyRight: row.supply_right === 1,
      note: row.note,
      ...kept,
      readings: readings.map((one) => ({
        phase: one.phase,
        label: labels.get(`${one.phase} ${one.quantity}`) ?? one.quantity,
        valueMilli: one.value_milli,
        text: one.value_text,
        unit: one.unit,
        airState: one.air_state,
      })),
      ...(await correctionsAround(db, calibrationId)),
      entry: row.seq === null || row.hash === null ? null : { seq: row.seq, hash: row.hash },
    };
  },
};
