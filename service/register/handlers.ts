/** Use cases of the register. */
import { chainHead } from '../../db/ledger.ts';
import { registerIndex } from '../../db/registerIndex.ts';
import {
  changesOfDevice,
  countRegister,
  deviceIdOfTag,
  registerFacets,
  registerPageQuery,
  supplyLinks,
  testPointsOfDevice,
} from '../../db/registerQueries.ts';
import { deviceRow, placeRows, setpointRows } from '../../db/registerRows.ts';
import { recentCalibrations } from '../../db/records.ts';
import type { BookDb } from '../../db/book.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { isDeviceClass } from '../../shared/register/columns.ts';
import type { PlaceClass, RowClass } from '../../shared/register/columns.ts';
import { plainStyle, readRow, rowKey } from '../../shared/register/row.ts';
import type { RowValues } from '../../shared/register/row.ts';
import type { DeviceClass } from '../../shared/trade/words.ts';
import type { GroupHandlers } from '../context.ts';
import { toCalibrationSummary } from '../records/summary.ts';
import { requireVersion } from './requireVersion.ts';
import { applyRows, isSameRow } from './applyRows.ts';
import { checkRows, withImpliedLevels } from './checkRows.ts';
import { replaceDevice, replacementsAround } from './replaceDevice.ts';
import { registerCsv } from './exportRegister.ts';

const HISTORY_SHOWN = 60;

type Held = { id: number | null; values: RowValues; version: number | null };

/** The row that the book holds under the same key; places carry no id for the caller. */
async function heldRow(
  db: BookDb,
  rowClass: RowClass,
  cells: Readonly<Record<string, string>>,
): Promise<Held | null> {
  if (isDeviceClass(rowClass)) {
    const device = await db
      .selectFrom('device')
      .select(['id', 'version'])
      .where('tag', '=', cells.tag?.trim() ?? '')
      .executeTakeFirst();
    const row = device ? await deviceRow(db, device.id) : null;
    return device && row ? { id: device.id, values: row.values, version: device.version } : null;
  }
  if (rowClass === 'setpoint') {
    const id = await deviceIdOfTag(db, cells.tag?.trim() ?? '');
    if (id === null) return null;
    const row = (await setpointRows(db, [id])).find((one) => one.values.role === cells.role?.trim());
    if (!row) return null;
    const point = await db
      .selectFrom('test_point')
      .select('version')
      .where('id', '=', row.id)
      .executeTakeFirstOrThrow();
    return { id, values: row.values, version: point.version };
  }
  const key = rowKey(rowClass, cells);
  const row = (await placeRows(db)).find((one) => rowKey(one.rowClass, one.values) === key);
  return row ? { id: null, values: row.values, version: row.version } : null;
}

async function saveRow(
  db: BookDb,
  input: { rowClass: RowClass; cells: Readonly<Record<string, string>>; version: number | null; why: string },
  by: { at: string; personId: number | null },
): Promise<{ id: number | null; changed: boolean }> {
  const { rowClass, cells, version, why } = input;
  const held = await heldRow(db, rowClass, cells);
  requireVersion(version, held);
  const read = readRow(rowClass, cells, plainStyle, held?.values ?? null);
  const index = await registerIndex(db);
  const [row] = withImpliedLevels(index, [{ rowClass, values: read.values }]);
  const { values } = row;
  const problems =
    read.problems.length > 0
      ? read.problems
      : checkRows(index, [row]).map(({ column, value, reason }) => ({ column, value, reason }));
  if (problems.length > 0)
    throw new AppError('invalid_input', 'Some fields need another value.', { problems });
  if (held && isSameRow(rowClass, held.values, values)) return { id: held.id, changed: false };
  await applyRows(db, [{ rowClass, values, before: held?.values ?? null }], { ...by, why });
  return { id: values.tag === undefined ? null : await deviceIdOfTag(db, values.tag), changed: true };
}

export const registerHandlers: GroupHandlers<'register'> = {
  list: async ({ db }, { offset, limit, ...filter }) => ({
    total: await countRegister(db, filter),
    rows: await registerPageQuery(db, filter, { offset, limit }).execute(),
  }),

  facets: async ({ db }) => registerFacets(db),

  places: async ({ db }) => ({
    rows: (await placeRows(db)).map(({ rowClass, values, version }) => ({
      rowClass: rowClass as PlaceClass,
      values,
      version,
    })),
  }),

  find: async ({ db }, { tag }) => ({ id: await deviceIdOfTag(db, tag.trim()) }),

  device: async ({ db }, { id }) => {
    const row = await deviceRow(db, id);
    if (!row) throw new AppError('not_found', 'There is no such device in the book.');
    const head = await db
      .selectFrom('device as d')
      .leftJoin('device as m', 'm.id', 'd.main_id')
      .select(['d.version', 'm.id as mainId', 'm.tag as mainTag'])
      .where('d.id', '=', id)
      .executeTakeFirstOrThrow();
    const points = await testPointsOfDevice(db, id);
    const versions = new Map(points.map((point) => [point.id, point.version]));
    const followUps = await db
      .selectFrom('follow_up')
      .select(['id', 'cause', 'opened_at as openedAt', 'closed_at as closedAt', 'version'])
      .where('device_id', '=', id)
      .orderBy('id', 'desc')
      .execute();
    return {
      id,
      version: head.version,
      rowClass: row.rowClass as DeviceClass,
      values: row.values,
      main: head.mainId !== null && head.mainTag !== null ? { id: head.mainId, tag: head.mainTag } : null,
      fedBy: await supplyLinks(db, id, 'feeders'),
      feeds: await supplyLinks(db, id, 'fed'),
      setpoints: (await setpointRows(db, [id])).map((setpoint) => ({
        testPointId: setpoint.id,
        version: versions.get(setpoint.id) ?? 1,
        values: setpoint.values,
      })),
      testPoints: points.map((point) => ({
        id: point.id,
        kind: point.kind,
        role: point.role,
        airState: point.air_state,
        nominalMilli: point.nominal_milli,
        unit: point.unit,
        toleranceMilli: point.tolerance_milli ?? 0,
        intervalDays: point.interval_days ?? 365,
        minutes: point.minutes ?? 15,
        lastDoneOn: point.last_done_on,
        dueOn: point.due_on,
        active: point.active === 1,
      })),
      followUps,
      ...(await replacementsAround(db, id)),
      history: (await recentCalibrations(db, id, HISTORY_SHOWN)).map(toCalibrationSummary),
      changes: await changesOfDevice(db, id, HISTORY_SHOWN),
    };
  },

  save: async ({ db, clock, personId }, input) => saveRow(db, input, { at: clock.now(), personId }),

  retire: async ({ db, clock, personId }, { id, version, on, why }) => {
    const row = await deviceRow(db, id);
    if (!row) throw new AppError('not_found', 'There is no such device in the book.');
    await saveRow(
      db,
      { rowClass: row.rowClass, cells: { ...row.values, retired_on: on }, version, why: why || 'retired' },
      { at: clock.now(), personId },
    );
    const after = await db
      .selectFrom('device')
      .select('version')
      .where('id', '=', id)
      .executeTakeFirstOrThrow();
    return { version: after.version };
  },

  replace: async ({ db, clock }, input) =>
    replaceDevice(db, input, { today: clock.today(), now: clock.now() }),

  export: async ({ db }) => {
    const head = await chainHead(db);
    return {
      // The file loads back as it is: the head of the chain at writing stands in its name.
      fileName: `register-${head.seq}-${head.hash.slice(0, 16)}.csv`,
      mediaType: 'text/csv; charset=utf-8',
      bytes: await registerCsv(db),
    };
  },
};
