/** Use cases of the drift book: one test point's history as a series. */
import { deviceIdOfTag } from '../../db/registerQueries.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { DriftSeries } from '../../shared/contract/drift.ts';
import type { GroupHandlers } from '../context.ts';
import { setpointRoles, testPointKinds } from '../../shared/trade/words.ts';
import { commonOf } from './common.ts';
import { seriesOf } from './series.ts';

export const driftHandlers: GroupHandlers<'drift'> = {
  series: async ({ db, clock }, { testPointId }) => seriesOf(db, testPointId, clock.today()),

  common: async ({ db }, { testPointId }) => commonOf(db, testPointId),

  ofTag: async ({ db, clock }, { tag, role }) => {
    const deviceId = await deviceIdOfTag(db, tag);
    if (deviceId === null) throw new AppError('not_found', `No device has the tag ${tag}.`);
    const points = await db
      .selectFrom('test_point')
      .select(['id', 'kind', 'role'])
      .where('device_id', '=', deviceId)
      .orderBy('id')
      .execute();
    // In the order of the words, whatever order they were entered in.
    points.sort(
      (a, b) =>
        testPointKinds.indexOf(a.kind) - testPointKinds.indexOf(b.kind) ||
        setpointRoles.findIndex((one) => one === a.role) - setpointRoles.findIndex((one) => one === b.role),
    );
    const wanted = role === undefined ? points : points.filter((point) => point.role === role);
    if (wanted.length === 0)
      throw new AppError(
        'not_found',
        `${tag} has no test point${role === undefined ? '' : ` with the role ${role}`}.`,
      );
    const series: DriftSeries[] = [];
    for (const point of wanted) series.push(await seriesOf(db, point.id, clock.today()));
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
