/** Opens a follow-up with what it likely comes from. */
import type { BookDb } from '../../db/book.ts';
import { openFollowUp } from '../../db/records.ts';
import { symptoms } from '../../shared/trade/symptoms.ts';
import type { SymptomKey } from '../../shared/trade/symptoms.ts';

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

/** Open follow-ups of some devices, oldest first; those that are part of another are closed with it. */
export async function openFollowUpsOf(db: BookDb, deviceIds: readonly number[]) {
  if (deviceIds.length === 0) return [];
  return db
    .selectFrom('follow_up as f')
    .innerJoin('device as d', 'd.id', 'f.device_id')
    .select(['f.id', 'f.device_id as deviceId', 'd.tag', 'f.cause', 'f.version'])
    .where('f.device_id', 'in', [...deviceIds])
    .where('f.closed_at', 'is', null)
    .where('f.part_of_id', 'is', null)
    .orderBy('f.id')
    .execute();
}
