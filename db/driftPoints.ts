/** Test points with everything that drift statistics group by. */
import type { Side } from '../shared/stats/driftSeries.ts';
import type { BookDb } from './book.ts';

export type PointScope = {
  mainId: number | null;
  levelId: number | null;
  kind: string | null;
  class: string | null;
};

/** Test points of a scope by id, retired devices with their histories among them. */
export function driftPointsQuery(db: BookDb, scope: PointScope) {
  let query = db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .select([
      'tp.id',
      'tp.kind',
      'tp.role',
      'tp.unit',
      'tp.active',
      'tp.tolerance_milli as ownTolerance',
      'tp.interval_days as ownInterval',
      'tp.last_done_on as lastDoneOn',
      'd.id as deviceId',
      'd.tag',
      'd.class',
      'd.in_service_on as inServiceOn',
      'd.retired_on as retiredOn',
      'd.interval_days as deviceInterval',
      'tp.air_state as airState',
      'cd.action_limit_milli as actionLimit',
      'cd.tolerance_milli as classTolerance',
      'cd.interval_days as classInterval',
      'm.tag as main',
      'b.code as building',
      'l.code as level',
      'r.use as roomUse',
    ])
    .orderBy('tp.id');
  if (scope.mainId !== null) query = query.where('d.main_id', '=', scope.mainId);
  if (scope.levelId !== null) query = query.where('d.level_id', '=', scope.levelId);
  if (scope.kind !== null) query = query.where('tp.kind', '=', scope.kind as 'setpoint');
  if (scope.class !== null) query = query.where('d.class', '=', scope.class as 'controller');
  return query;
}

export type DriftPointRow = Awaited<ReturnType<ReturnType<typeof driftPointsQuery>['execute']>>[number];

/** Every test point. */
export const everywhere: PointScope = { mainId: null, levelId: null, kind: null, class: null };

/** A dew point may lie as far below what it may be at most as it likes; anything else is off on both sides. */
export function sideOf(kind: string): Side {
  return kind === 'dew point' ? 'above' : 'both';
}

/** Tolerance of a point in thousandths: its own, else its class's. */
export function toleranceOf(row: Pick<DriftPointRow, 'ownTolerance' | 'classTolerance'>): number {
  return row.ownTolerance ?? row.classTolerance ?? 1_000;
}
