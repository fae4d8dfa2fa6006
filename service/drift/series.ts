/** One test point's history with its statistics. */
import type { BookDb } from '../../db/book.ts';
import { historiesOf, replacedRecords, replacementDays, tolerancesOfDay } from '../../db/drift.ts';
import { driftPointsQuery, everywhere, sideOf, toleranceOf } from '../../db/driftPoints.ts';
import { initialsOf } from '../../db/people.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { DriftSeries } from '../../shared/contract/drift.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { driftPoints, toleranceTally } from '../../shared/stats/driftSeries.ts';
import { driftStatistics } from '../../shared/stats/driftStatistics.ts';
import { whatMayBeSaid } from '../../shared/stats/driftWords.ts';
import { differenceLabel } from '../../shared/units/units.ts';
import { visitsOf } from './visits.ts';

/** The series of one test point. Throws `not_found` when there is none. */
export async function seriesOf(db: BookDb, testPointId: number, today: PlainDate): Promise<DriftSeries> {
  const point = await driftPointsQuery(db, everywhere).where('tp.id', '=', testPointId).executeTakeFirst();
  if (!point) throw new AppError('not_found', 'There is no such test point in the book.');
  const rows = await historiesOf(
    db,
    { from: testPointId, to: testPointId },
    await replacedRecords(db, testPointId),
  );
  const replacedOn = (await replacementDays(db, { deviceId: point.deviceId })).get(point.deviceId);
  const visits = visitsOf(rows, { replacedOn, inServiceOn: point.inServiceOn });
  const points = driftPoints(visits);
  const toleranceMilli = toleranceOf(point);
  const { line: _, ...statistics } = driftStatistics(points, toleranceMilli, {
    isShown: true,
    side: sideOf(point.kind),
  });
  const people = await initialsOf(
    db,
    rows.map((row) => row.person_id),
  );
  const tolerances = await tolerancesOfDay(db, testPointId);
  const isSetpoint = point.kind === 'setpoint' && point.unit !== 'percent';
  return {
    testPointId,
    deviceId: point.deviceId,
    tag: point.tag,
    kind: point.kind,
    role: point.role,
    airState: point.airState,
    unit: point.unit,
    toleranceMilli,
    actionLimitMilli: Math.max(toleranceMilli, point.actionLimit ?? 0),
    points: points.map(({ found, ...one }, index) => ({
      ...one,
      calibrationId: rows[index].id,
      foundMilli: found?.milli ?? null,
      foundRelation: found?.relation ?? null,
      toleranceMilli: tolerances.get(rows[index].id) ?? null,
      person: people.get(rows[index].person_id) ?? '',
      outcome: rows[index].outcome,
    })),
    statistics,
    said: whatMayBeSaid(statistics, {
      unit: differenceLabel(point.unit),
      up: isSetpoint ? 'warmer' : 'up',
      down: isSetpoint ? 'colder' : 'down',
      today,
    }),
    // In tolerance or not is a matter of the day: of what was read, not of what it is re-expressed as.
    ...toleranceTally(
      visits.filter(({ isBeforeService }) => !isBeforeService),
      toleranceMilli,
      sideOf(point.kind),
    ),
  };
}
