/** Opens a follow-up with what it likely comes from. */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import { openFollowUp } from '../../db/records.ts';
import { symptoms } from '../../shared/trade/symptoms.ts';
import type { SymptomKey } from '../../shared/trade/symptoms.ts';
import { completingOutcomes } from '../../shared/trade/words.ts';
import type { Outcome } from '../../shared/trade/words.ts';

export type OpenedBy = {
  deviceId: number;
  calibrationId: number | null;
  cause: string;
  symptom: SymptomKey | null;
  at: string;
  personId: number;
};

export async function openFollowUpOf(db: BookDb, opened: OpenedBy): Promise<{ id: number; cause: string }> {
  const { cause, symptom } = opened;
  const id = await openFollowUp(db, {
    device_id: opened.deviceId,
    calibration_id: opened.calibrationId,
    cause,
    symptom,
    likely_json: JSON.stringify(symptom === null ? [] : symptoms[symptom]),
    opened_at: opened.at,
    opened_by: opened.personId,
  });
  return { id, cause };
}

/**
 * Open follow-ups that some work may close, oldest first: of its devices, and of the same test points where a record opened
 * them. What the very records opened is not closed by them; what is part of another is closed with it.
 */
export async function closableBy(
  db: BookDb,
  done: readonly { deviceId: number; testPointIds: readonly number[] }[],
  recordIds: readonly number[],
) {
  if (done.length === 0) return [];
  const rows = await db
    .selectFrom('follow_up as f')
    .innerJoin('device as d', 'd.id', 'f.device_id')
    .leftJoin('calibration as c', 'c.id', 'f.calibration_id')
    .select([
      'f.id',
      'f.device_id as deviceId',
      'd.tag',
      'f.cause',
      'f.version',
      'f.calibration_id',
      'c.test_point_id',
    ])
    .where(
      'f.device_id',
      'in',
      done.map(({ deviceId }) => deviceId),
    )
    .where('f.closed_at', 'is', null)
    .where('f.part_of_id', 'is', null)
    .orderBy('f.id')
    .execute();
  return rows.flatMap(({ calibration_id, test_point_id, ...row }) => {
    const isOwn = calibration_id !== null && recordIds.includes(calibration_id);
    const isOther =
      test_point_id !== null && !done.some(({ testPointIds }) => testPointIds.includes(test_point_id));
    return isOwn || isOther ? [] : [row];
  });
}

/** A follow-up that a record closed is closed by its correction; by one that says otherwise it is open again. */
export async function followCorrection(
  db: BookDb,
  replacedId: number,
  replacement: { id: number; outcome: Outcome },
): Promise<void> {
  const stays = completingOutcomes.includes(replacement.outcome);
  await db
    .updateTable('follow_up')
    .set({
      ...(stays
        ? { closing_calibration_id: replacement.id }
        : {
            closed_at: null,
            closed_by: null,
            closing_calibration_id: null,
            closing_note: `open again: record ${replacedId}, which closed it, was corrected by record ${replacement.id}`,
          }),
      version: sql<number>`version + 1`,
    })
    .where('closing_calibration_id', '=', replacedId)
    .execute();
}
