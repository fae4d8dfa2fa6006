/** The bench card of a device: what it should read, its draft, and its closing. */
import { activePeople } from '../../db/people.ts';
import {
  cardOfCalibration,
  newestRecords,
  readingsOf,
  recentCalibrations,
  replacementOf,
} from '../../db/records.ts';
import type { BookDb } from '../../db/book.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { deviceClassLabels } from '../../shared/trade/words.ts';
import { formatMilli, unitLabel } from '../../shared/units/units.ts';
import type { GroupHandlers } from '../context.ts';
import { toCalibrationSummary } from '../records/summary.ts';
import { benchRulesOf } from '../settings/benchRules.ts';
import { cardDevice, cardEntries } from './cardFacts.ts';
import type { CardDevice, CardEntryFacts } from './cardFacts.ts';
import { entryOfRecord } from './cardRecord.ts';
import { requireDraft } from './requireDraft.ts';
import { closeCards, correctedRecord, correctingEntries, correctingInstruments } from './closeCards.ts';

type Card = OutputOf<'bench.card'>;

/** Newest records that a card looks through for the last one of each test point. */
const LOOKED_THROUGH = 50;

function ratedWords(device: CardDevice): string | null {
  const unit = unitLabel(device.pressure_unit ?? 'psi');
  const words = [
    device.rated_low_milli !== null && device.rated_high_milli !== null
      ? `rated changeover ${formatMilli(device.rated_low_milli)} / ${formatMilli(device.rated_high_milli)} ${unit}`
      : '',
    device.trip_falling_milli !== null && device.trip_rising_milli !== null
      ? `measured ${formatMilli(device.trip_falling_milli)} falling, ${formatMilli(device.trip_rising_milli)} ${unit} rising`
      : '',
  ].filter((one) => one !== '');
  return words.length === 0 ? null : words.join(', ');
}

async function movesOf(db: BookDb, deviceId: number): Promise<string[]> {
  const rows = await db
    .selectFrom('supplies as s')
    .innerJoin('device as d', 'd.id', 's.to_id')
    .innerJoin('actuator as a', 'a.device_id', 'd.id')
    .select(['d.tag', 'a.normal_position', 'a.duty'])
    .where('s.from_id', '=', deviceId)
    .where('d.retired_on', 'is', null)
    .orderBy('d.tag')
    .execute();
  return rows.map((row) => `${row.tag} (normally ${row.normal_position}${row.duty ? `, ${row.duty}` : ''})`);
}

async function correctionOf(db: BookDb, deviceId: number, calibrationId: number) {
  const corrected = await correctedRecord(db, calibrationId, deviceId);
  const row = await db
    .selectFrom('calibration')
    .select([
      'done_on',
      'person_id',
      'pressure_gauge_id',
      'temperature_gauge_id',
      'note',
      'test_point_id',
      'outcome',
    ])
    .where('id', '=', calibrationId)
    .executeTakeFirstOrThrow();
  const group = await cardOfCalibration(db, calibrationId);
  const readings = await readingsOf(
    db,
    group.map(({ id }) => id),
  );
  return { corrected, snapshot: corrected.snapshot, row, readings };
}

export const benchHandlers: GroupHandlers<'bench'> = {
  card: async ({ db, clock }, { deviceId, correcting }) => {
    const device = await cardDevice(db, deviceId);
    const correction = correcting === undefined ? null : await correctionOf(db, deviceId, correcting);
    const newest = await newestRecords(db, deviceId);
    const recent = await recentCalibrations(db, deviceId, LOOKED_THROUGH);
    const known: CardEntryFacts[] = correction
      ? await correctingEntries(db, device, correction.corrected, clock.today())
      : await cardEntries(db, device, clock.today());
    const dueOf = new Map(
      (
        await db.selectFrom('test_point').select(['id', 'due_on']).where('device_id', '=', deviceId).execute()
      ).map((row) => [row.id, row.due_on]),
    );
    const draft = await db
      .selectFrom('bench_draft')
      .select(['draft_json as json', 'saved_at as savedAt'])
      .where('device_id', '=', deviceId)
      .executeTakeFirst();
    const kind = device.controller_kind;
    const card: Card = {
      deviceId,
      tag: device.tag,
      name: device.name,
      class: device.class,
      kindWords:
        known.length > 0 && device.class !== 'controller'
          ? descriptionOf(known[0].facts).title.toLowerCase()
          : kind === null
            ? deviceClassLabels[device.class]
            : kind === 'receiver'
              ? 'receiver-controller'
              : `${kind} controller`,
      place: [device.building, device.level, device.room, device.room_name]
        .filter((word) => word)
        .join(' · '),
      rated: ratedWords(device),
      main:
        device.main_id === null || device.main_tag === null || device.low_pressure_milli === null
          ? null
          : {
              id: device.main_id,
              tag: device.main_tag,
              kind: device.main_kind ?? 'single',
              lowMilli: device.low_pressure_milli,
              highMilli: device.high_pressure_milli,
              lowMeans: device.low_means,
              highMeans: device.high_means,
              pressureUnit: device.main_unit ?? 'psi',
            },
      retiredOn: device.retired_on,
      entries: known.map(({ key, facts }) => ({
        key,
        facts,
        points: facts.points.map((point) => {
          const last = recent.find(
            (row) => row.test_point_id === point.testPointId && row.replaced_by === null,
          );
          return {
            key: point.key,
            testPointId: point.testPointId,
            dueOn: dueOf.get(point.testPointId) ?? null,
            newestRecordId: newest.get(point.testPointId) ?? null,
            last: last ? toCalibrationSummary(last) : null,
          };
        }),
        recorded: correction?.snapshot
          ? { ...entryOfRecord(correction.snapshot, correction.readings), note: correction.row.note }
          : null,
      })),
      moves: await movesOf(db, deviceId),
      people: await activePeople(db, correction?.row.person_id),
      instruments: await correctingInstruments(
        db,
        correction?.row.done_on ?? clock.today(),
        correction?.corrected ?? null,
      ),
      rule: correction?.corrected.rule ?? (await benchRulesOf(db)).value.decisionRule,
      draft: correction ? null : (draft ?? null),
      correcting:
        correction && correcting !== undefined
          ? {
              calibrationId: correcting,
              doneOn: correction.row.done_on,
              personId: correction.row.person_id,
              pressureGaugeId: correction.row.pressure_gauge_id,
              temperatureGaugeId: correction.row.temperature_gauge_id,
              replacedBy: await replacementOf(db, correcting),
              mayMiss: correction.corrected.mayMiss,
            }
          : null,
    };
    return card;
  },

  saveDraft: async ({ db, clock }, { deviceId, json, over }) => {
    await cardDevice(db, deviceId);
    const savedAt = clock.now();
    requireDraft(json);
    const held = await db
      .selectFrom('bench_draft')
      .select(['draft_json as json', 'saved_at as savedAt'])
      .where('device_id', '=', deviceId)
      .executeTakeFirst();
    if ((held?.json ?? null) !== over)
      throw new AppError('conflict', 'This card was changed or closed in another window.', {
        current: held ?? null,
      });
    const row = { draft_json: json, saved_at: savedAt };
    await db
      .insertInto('bench_draft')
      .values({ device_id: deviceId, ...row })
      .onConflict((oc) => oc.column('device_id').doUpdateSet(row))
      .execute();
    return { savedAt };
  },

  dropDraft: async ({ db }, { deviceId }) => {
    await db.deleteFrom('bench_draft').where('device_id', '=', deviceId).execute();
    return { deviceId };
  },

  close: async ({ db, clock }, { deviceId, entries, corrects, ...header }) =>
    closeCards(db, header, [{ deviceId, entries, corrects }], {
      today: clock.today(),
      now: clock.now(),
      source: 'bench',
      prefix: () => '',
    }),
};
