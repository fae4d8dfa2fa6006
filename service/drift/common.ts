/** What the points of one main moved by together, about the days on which one of them was read. */
import type { BookDb } from '../../db/book.ts';
import { historiesOf, replacedRecords, replacementDays } from '../../db/drift.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { OutputOf } from '../../shared/contract/index.ts';
import { daysBetween } from '../../shared/dates/plainDate.ts';
import { COMMON_FROM } from '../../shared/stats/driftGroups.ts';
import { driftPoints } from '../../shared/stats/driftSeries.ts';
import { median } from 'simple-statistics';
import { visitsOf } from './visits.ts';

/** Drifts that end within so many days of each other belong to one round. */
const NEAR_DAYS = 45;
/** Neighbours that are looked at, by their ids: a median of so many moves no more with further ones. */
const MOST_NEIGHBOURS = 200;

type Drift = { calibrationId: number; date: string; milli: number };

async function driftsOf(
  db: BookDb,
  point: { id: number; deviceId: number; inServiceOn: string | null },
  replaced: ReadonlySet<number>,
): Promise<Drift[]> {
  const records = await historiesOf(db, { from: point.id, to: point.id }, replaced);
  const replacedOn = (await replacementDays(db, { deviceId: point.deviceId })).get(point.deviceId);
  const visits = visitsOf(records, { replacedOn, inServiceOn: point.inServiceOn });
  return driftPoints(visits).flatMap(({ date, driftMilli, driftFlagged }, index) =>
    driftMilli === null || driftFlagged
      ? []
      : [{ calibrationId: records[index].id, date, milli: driftMilli }],
  );
}

/** The median drift of the neighbours at each drift of a test point, where there are five of them at least. */
export async function commonOf(db: BookDb, testPointId: number): Promise<OutputOf<'drift.common'>> {
  const own = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['tp.id', 'tp.kind', 'tp.unit', 'd.id as deviceId', 'd.in_service_on as inServiceOn'])
    .select(['m.id as mainId', 'm.tag as main'])
    .where('tp.id', '=', testPointId)
    .executeTakeFirst();
  if (!own) throw new AppError('not_found', 'There is no such test point in the book.');
  if (own.mainId === null) return { main: null, shifts: [] };
  const neighbours = await db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .select(['tp.id', 'd.id as deviceId', 'd.in_service_on as inServiceOn'])
    .where('d.main_id', '=', own.mainId)
    .where('tp.kind', '=', own.kind)
    .where('tp.unit', '=', own.unit)
    .where('tp.id', '<>', testPointId)
    .orderBy('tp.id')
    .limit(MOST_NEIGHBOURS)
    .execute();
  const replaced = await replacedRecords(db);
  const others: Drift[] = [];
  for (const neighbour of neighbours) others.push(...(await driftsOf(db, neighbour, replaced)));
  const shifts = (await driftsOf(db, own, replaced)).flatMap(({ calibrationId, date }) => {
    const near = others.filter((one) => Math.abs(daysBetween(one.date, date)) <= NEAR_DAYS);
    return near.length < COMMON_FROM
      ? []
      : [
          {
            calibrationId,
            medianMilli: Math.round(median(near.map(({ milli }) => milli))),
            count: near.length,
          },
        ];
  });
  return { main: own.main, shifts };
}
