/** Follow-ups: what a recalibration could not mend, whose it is, and what ended it. */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import { replacementOf } from '../../db/records.ts';
import { idsAbove } from '../../db/supplyPath.ts';
import { AppError, refuseField } from '../../shared/contract/errors.ts';
import type { FollowUp } from '../../shared/contract/followUps.ts';
import { completingOutcomes } from '../../shared/trade/words.ts';
import { isSymptom, supplySymptoms } from '../../shared/trade/symptoms.ts';
import type { GroupHandlers } from '../context.ts';
import { requireVersion } from '../register/requireVersion.ts';
import { openFollowUpOf } from './openFollowUp.ts';

/** So many devices of one main make one cause likely. */
const SEVERAL = 2;

async function rowsOf(db: BookDb, filter: { openOnly: boolean; deviceId?: number }): Promise<FollowUp[]> {
  let query = db
    .selectFrom('follow_up as f')
    .innerJoin('device as d', 'd.id', 'f.device_id')
    .innerJoin('person as p', 'p.id', 'f.opened_by')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .leftJoin('person as a', 'a.id', 'f.assigned_to')
    .leftJoin('person as c', 'c.id', 'f.closed_by')
    .select([
      'f.id',
      'd.id as deviceId',
      'd.tag',
      'd.class',
      'm.tag as main',
      'f.cause',
      'f.symptom',
      'f.likely_json',
      'f.opened_at as openedAt',
      'p.initials as openedBy',
      'f.assigned_to',
      'a.initials as assigned_initials',
      'f.part_of_id as partOf',
      'f.closed_at as closedAt',
      'c.initials as closedBy',
      'f.closing_note as closingNote',
      'f.closing_calibration_id as closingCalibrationId',
      'f.version',
    ])
    .orderBy('f.id', 'desc');
  if (filter.openOnly) query = query.where('f.closed_at', 'is', null);
  if (filter.deviceId !== undefined) query = query.where('f.device_id', '=', filter.deviceId);
  const rows = await query.execute();
  const parts = new Map<number, number[]>();
  for (const { id, partOf } of rows)
    if (partOf !== null) parts.set(partOf, [...(parts.get(partOf) ?? []), id]);
  return rows.map(({ likely_json, assigned_to, assigned_initials, ...row }) => ({
    ...row,
    likely: JSON.parse(likely_json) as string[],
    assignedTo:
      assigned_to === null || assigned_initials === null
        ? null
        : { id: assigned_to, initials: assigned_initials },
    parts: parts.get(row.id) ?? [],
  }));
}

/** Mains on which several devices say that the supply is not right, or one more beside those joined already. */
async function commonCauses(db: BookDb) {
  const rows = await db
    .selectFrom('follow_up as f')
    .innerJoin('device as d', 'd.id', 'f.device_id')
    .innerJoin('device as m', 'm.id', 'd.main_id')
    .select(['f.id', 'd.tag', 'f.device_id', 'f.cause', 'f.symptom', 'm.id as main_id', 'm.tag as main'])
    .where('f.closed_at', 'is', null)
    .where('f.part_of_id', 'is', null)
    .orderBy('m.tag')
    .orderBy('f.id')
    .execute();
  const ofSupply = rows.filter(
    ({ cause, symptom }) =>
      cause.startsWith('supply not right') ||
      (symptom !== null && isSymptom(symptom) && supplySymptoms.includes(symptom)),
  );
  const byMain = new Map<number, typeof ofSupply>();
  for (const row of ofSupply) byMain.set(row.main_id, [...(byMain.get(row.main_id) ?? []), row]);
  const causes = await Promise.all(
    [...byMain.values()].map(async (group) => {
      const on = [
        { deviceId: group[0].main_id, tag: group[0].main, class: 'main' },
        ...(await regulatorsAbove(db, group[0].main_id)),
      ];
      const joined = await joinedOn(
        db,
        on.map(({ deviceId }) => deviceId),
      );
      return {
        mainId: group[0].main_id,
        main: group[0].main,
        // What is open on the main itself may be the common one.
        followUps: group.filter(({ id }) => id !== joined?.id).map(({ id, tag }) => ({ id, tag })),
        on: joined ? on.filter(({ deviceId }) => deviceId === joined.device_id) : on,
        joined: joined?.id ?? null,
        devices: new Set(group.map(({ device_id }) => device_id)).size,
      };
    }),
  );
  return causes.flatMap(({ devices, ...cause }) =>
    cause.followUps.length > 0 && (cause.joined !== null || devices >= SEVERAL) ? [cause] : [],
  );
}

/** The open follow-up of a supply that others were joined to already. */
async function joinedOn(db: BookDb, deviceIds: readonly number[]) {
  return db
    .selectFrom('follow_up as f')
    .select(['f.id', 'f.device_id'])
    .where('f.device_id', 'in', [...deviceIds])
    .where('f.closed_at', 'is', null)
    .where('f.part_of_id', 'is', null)
    .where((eb) =>
      eb.exists(eb.selectFrom('follow_up as p').select('p.id').whereRef('p.part_of_id', '=', 'f.id')),
    )
    .orderBy('f.id')
    .executeTakeFirst();
}

async function regulatorsAbove(db: BookDb, mainId: number) {
  return db
    .selectFrom('device as d')
    .select(['d.id as deviceId', 'd.tag', 'd.class'])
    .where('d.id', 'in', await idsAbove(db, mainId))
    .where('d.class', '=', 'regulator')
    .orderBy('d.tag')
    .execute();
}

async function requireOpen(db: BookDb, id: number, version: number) {
  const held = await db
    .selectFrom('follow_up')
    .select(['version', 'closed_at', 'device_id', 'opened_at', 'calibration_id'])
    .where('id', '=', id)
    .executeTakeFirst();
  requireVersion(version, held ? { version: held.version, values: held } : null);
  if (held?.closed_at) throw new AppError('conflict', 'This follow-up is closed already.');
  return held;
}

type Followed = { device_id: number; opened_at: string; calibration_id: number | null };

/** A record closes a follow-up when it is of the same device, and the same test point where one opened it, was made after it, and says that the device is right. */
async function requireShowing(db: BookDb, calibrationId: number, followed: Followed) {
  const record = await db
    .selectFrom('calibration as c')
    .innerJoin('test_point as tp', 'tp.id', 'c.test_point_id')
    .select(['tp.device_id', 'c.id', 'c.test_point_id', 'c.ended_at', 'c.outcome'])
    .where('c.id', '=', calibrationId)
    .executeTakeFirst();
  const opened =
    followed.calibration_id === null
      ? undefined
      : await db
          .selectFrom('calibration')
          .select('test_point_id')
          .where('id', '=', followed.calibration_id)
          .executeTakeFirst();
  if (
    record?.device_id === followed.device_id &&
    (opened === undefined || opened.test_point_id === record.test_point_id) &&
    record.id > (followed.calibration_id ?? 0) &&
    record.ended_at >= followed.opened_at &&
    completingOutcomes.includes(record.outcome) &&
    (await replacementOf(db, calibrationId)) === null
  )
    return;
  refuseField(
    'calibrationId',
    String(calibrationId),
    'not a later record of the same test point that says it was held or adjusted',
  );
}

export const followUpHandlers: GroupHandlers<'followUps'> = {
  list: async ({ db }, { openOnly, deviceId }) => ({
    rows: await rowsOf(db, { openOnly, deviceId }),
    common: await commonCauses(db),
  }),

  assign: async ({ db }, { id, version, personId }) => {
    await requireOpen(db, id, version);
    await db
      .updateTable('follow_up')
      .set({ assigned_to: personId, version: version + 1 })
      .where('id', '=', id)
      .execute();
    return { id };
  },

  close: async ({ db, clock }, { id, version, personId, note, calibrationId }) => {
    const held = await requireOpen(db, id, version);
    if (calibrationId !== null && held) await requireShowing(db, calibrationId, held);
    const closing = { closed_at: clock.now(), closed_by: personId };
    await db
      .updateTable('follow_up')
      .set({
        ...closing,
        closing_note: note,
        closing_calibration_id: calibrationId,
        version: version + 1,
      })
      .where('id', '=', id)
      .execute();
    await db
      .updateTable('follow_up')
      .set({
        ...closing,
        closing_note: `closed with follow-up ${id}: ${note}`,
        version: sql<number>`version + 1`,
      })
      .where('part_of_id', '=', id)
      .where('closed_at', 'is', null)
      .execute();
    return { id };
  },

  join: async ({ db, clock }, { ids: named, deviceId, personId, cause }) => {
    const ids = [...new Set(named)];
    const open = await db
      .selectFrom('follow_up')
      .select(['id', 'symptom'])
      .where('id', 'in', ids)
      .where('closed_at', 'is', null)
      .where('part_of_id', 'is', null)
      .execute();
    const gone = ids.find((id) => !open.some((one) => one.id === id));
    if (gone !== undefined)
      throw new AppError('conflict', `Follow-up ${gone} is closed, or part of another one already.`);
    const offered = (await commonCauses(db)).find(
      ({ followUps, on }) =>
        on.some((one) => one.deviceId === deviceId) &&
        ids.every((id) => followUps.some((one) => one.id === id)),
    );
    if (!offered || (offered.joined === null && ids.length < SEVERAL))
      refuseField('deviceId', String(deviceId), 'not the main, or a regulator, that all of these hang on');
    const symptom = open.map((one) => one.symptom).find((word) => word !== null && isSymptom(word));
    const id =
      offered?.joined ??
      (
        await openFollowUpOf(db, {
          deviceId,
          calibrationId: null,
          cause,
          symptom: symptom && isSymptom(symptom) ? symptom : null,
          at: clock.now(),
          personId,
        })
      ).id;
    await db
      .updateTable('follow_up')
      .set({ part_of_id: id, version: sql<number>`version + 1` })
      .where('id', 'in', ids)
      .execute();
    return { id };
  },
};
