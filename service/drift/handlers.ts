/** Use cases of the drift book: one test point's history as a series. */
import type { BookDb } from '../../db/book.ts';
import { calibrationsOf } from '../../db/records.ts';
import type { CalibrationListRow } from '../../db/records.ts';
import { deviceIdOfTag } from '../../db/registerQueries.ts';
import { REPAIRED } from '../../shared/cards/common.ts';
import { cardSnapshotOf } from '../bench/cardRecord.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { DriftSeries } from '../../shared/contract/drift.ts';
import { driftPoints, summariseDrift, toleranceTally } from '../../shared/stats/driftSeries.ts';
import type { DriftVisit } from '../../shared/stats/driftSeries.ts';
import type { GroupHandlers } from '../context.ts';

/** Figures of the snapshot whose change makes older readings incomparable. */
const breakingFigures = [
  'calibrationPressureMilli',
  'throttlingRangeMilli',
  'outputLowMilli',
  'outputHighMilli',
  'action',
];

function breakKey(snapshotJson: string): string {
  type Held = Record<string, unknown> & { spring?: { startMilli: number; endMilli: number } | null };
  const held = JSON.parse(snapshotJson) as Held & { facts?: Held };
  const snapshot = held.facts ?? held;
  return JSON.stringify([
    ...breakingFigures.map((name) => snapshot[name] ?? null),
    snapshot.spring?.startMilli ?? null,
    snapshot.spring?.endMilli ?? null,
  ]);
}

async function replacementDates(db: BookDb, deviceId: number): Promise<Set<string>> {
  const rows = await db
    .selectFrom('replacement')
    .select('on_date')
    .where('device_id', '=', deviceId)
    .execute();
  return new Set(rows.map((row) => row.on_date));
}

function toVisits(rows: readonly CalibrationListRow[], replaced: ReadonlySet<string>): DriftVisit[] {
  return rows.map((row, index) => {
    const next = rows[index + 1];
    const changes = next !== undefined && breakKey(next.snapshot_json) !== breakKey(row.snapshot_json);
    return {
      date: row.done_on,
      found:
        row.error_found_milli === null || row.found_relation === null
          ? null
          : { milli: row.error_found_milli, relation: row.found_relation },
      leftMilli: row.left_relation === '=' ? row.error_left_milli : null,
      event: replaced.has(row.done_on)
        ? 'replaced'
        : changes || cardSnapshotOf(row.snapshot_json)?.ticks[REPAIRED]
          ? 'changed'
          : 'none',
      supplyFlagged: row.supply_right === 0,
    };
  });
}

/** The series of one test point. Throws `not_found` when there is none. */
export async function seriesOf(db: BookDb, testPointId: number): Promise<DriftSeries> {
  const point = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .select([
      'tp.id',
      'd.id as deviceId',
      'd.tag',
      'tp.kind',
      'tp.role',
      'tp.air_state',
      'tp.unit',
      'tp.tolerance_milli',
      'cd.tolerance_milli as class_tolerance',
      'cd.action_limit_milli',
    ])
    .where('tp.id', '=', testPointId)
    .executeTakeFirst();
  if (!point) throw new AppError('not_found', 'There is no such test point in the book.');
  const rows = (await calibrationsOf(db, testPointId)).filter((row) => row.replaced_by === null);
  const visits = toVisits(rows, await replacementDates(db, point.deviceId));
  const points = driftPoints(visits);
  const toleranceMilli = point.tolerance_milli ?? point.class_tolerance ?? 0;
  return {
    testPointId,
    deviceId: point.deviceId,
    tag: point.tag,
    kind: point.kind,
    role: point.role,
    airState: point.air_state,
    unit: point.unit,
    toleranceMilli,
    actionLimitMilli: Math.max(toleranceMilli, point.action_limit_milli ?? 0),
    points: points.map(({ found, ...one }, index) => ({
      ...one,
      calibrationId: rows[index].id,
      foundMilli: found?.milli ?? null,
      foundRelation: found?.relation ?? null,
      person: rows[index].person_initials,
      outcome: rows[index].outcome,
    })),
    summary: { ...summariseDrift(points), ...toleranceTally(visits, toleranceMilli) },
  };
}

export const driftHandlers: GroupHandlers<'drift'> = {
  series: async ({ db }, { testPointId }) => seriesOf(db, testPointId),

  ofTag: async ({ db }, { tag, role }) => {
    const deviceId = await deviceIdOfTag(db, tag);
    if (deviceId === null) throw new AppError('not_found', `No device has the tag ${tag}.`);
    const points = await db
      .selectFrom('test_point')
      .select(['id', 'role'])
      .where('device_id', '=', deviceId)
      .orderBy('id')
      .execute();
    const wanted = role === undefined ? points : points.filter((point) => point.role === role);
    if (wanted.length === 0)
      throw new AppError(
        'not_found',
        `${tag} has no test point${role === undefined ? '' : ` with the role ${role}`}.`,
      );
    const series: DriftSeries[] = [];
    for (const point of wanted) series.push(await seriesOf(db, point.id));
    return { series };
  },

  points: async ({ db }, { deviceId }) => {
    const device = await db.selectFrom('device').select('tag').where('id', '=', deviceId).executeTakeFirst();
    if (!device) throw new AppError('not_found', 'There is no such device in the book.');
    const points = await db
      .selectFrom('test_point')
      .select(['id as testPointId', 'kind', 'role'])
      .where('device_id', '=', deviceId)
      .orderBy('id')
      .execute();
    return { tag: device.tag, points };
  },
};
