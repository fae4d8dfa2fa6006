/** Walks the histories of many test points, a stretch of ids at a time, so that memory stays bounded. */
import type { BookDb } from '../../db/book.ts';
import { historiesOf, replacedRecords, replacementDays } from '../../db/drift.ts';
import type { HistoryRow } from '../../db/drift.ts';
import { driftPointsQuery, sideOf, toleranceOf } from '../../db/driftPoints.ts';
import type { DriftPointRow, PointScope } from '../../db/driftPoints.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { driftPoints } from '../../shared/stats/driftSeries.ts';
import type { DriftPoint, DriftVisit, Side } from '../../shared/stats/driftSeries.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import type { JobHooks } from '../context.ts';
import { visitsOf } from './visits.ts';

const STRETCH = 100;

export type Walked = {
  row: DriftPointRow;
  toleranceMilli: number;
  side: Side;
  records: HistoryRow[];
  visits: DriftVisit[];
  points: DriftPoint[];
};

/** Histories of test points in the order of their ids, a stretch at a time; those without a record are left out. With a day, what was read by then. */
export async function* historiesByStretch(
  db: BookDb,
  rows: readonly DriftPointRow[],
  {
    upTo = null,
    onStretch = () => undefined,
  }: { upTo?: PlainDate | null; onStretch?: (done: number) => void } = {},
): AsyncGenerator<Walked[]> {
  const replaced = await replacedRecords(db);
  const replacements = await replacementDays(db, { upTo });
  for (let start = 0; start < rows.length; start += STRETCH) {
    onStretch(start);
    const stretch = rows.slice(start, start + STRETCH);
    const records = await historiesOf(
      db,
      { from: stretch[0].id, to: stretch[stretch.length - 1].id },
      replaced,
    );
    const walked: Walked[] = [];
    let at = 0;
    for (const row of stretch) {
      while (at < records.length && records[at].test_point_id < row.id) at += 1;
      const first = at;
      while (at < records.length && records[at].test_point_id === row.id) at += 1;
      const all = records.slice(first, at);
      const own = upTo === null ? all : all.filter(({ done_on }) => done_on <= upTo);
      if (own.length === 0) continue;
      const replacedOn = replacements.get(row.deviceId);
      const visits = visitsOf(own, { replacedOn, inServiceOn: row.inServiceOn });
      walked.push({
        row,
        toleranceMilli: toleranceOf(row),
        side: sideOf(row.kind),
        records: own,
        visits,
        points: driftPoints(visits),
      });
    }
    yield walked;
  }
}

/** Hands every test point of a scope that has a record to `each`, in order of id. */
export async function walkHistories(
  db: BookDb,
  scope: PointScope,
  hooks: JobHooks,
  each: (walked: Walked) => void,
): Promise<void> {
  hooks.progress(0, 1, 'reading the register');
  const rows = await driftPointsQuery(db, scope).execute();
  const onStretch = (done: number): void => {
    if (hooks.cancelled()) throw new AppError('cancelled', 'Cancelled; the book is as it was.');
    hooks.progress(done, rows.length, 'reading histories');
  };
  for await (const stretch of historiesByStretch(db, rows, { onStretch }))
    for (const walked of stretch) each(walked);
  hooks.progress(rows.length, rows.length, 'working out the figures');
}
