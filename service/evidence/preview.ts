/** What a pack would hold, and what is missing in it: counted before it is written. */
import { sql } from 'kysely';
import type { BookDb } from '../../db/book.ts';
import { buildingFigures, zoneControllers } from '../../db/energy.ts';
import type { PackPreview } from '../../shared/contract/evidence.ts';
import type { PackScope } from '../../shared/contract/packScope.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { addDays } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import type { JobHooks } from '../context.ts';
import { resolveScope, scopeWords } from './scope.ts';
import type { Resolved } from './scope.ts';
import { isWithin } from './tables/cells.ts';

const EXAMPLES = 5;
const YEAR_DAYS = 365;

type Gap = PackPreview['gaps'][number];

function gapOf(what: string, names: readonly string[]): Gap[] {
  return names.length === 0 ? [] : [{ what, count: names.length, examples: names.slice(0, EXAMPLES) }];
}

/** Records of the days of a scope, by test point. */
function byTestPoint(db: BookDb, { scope: { from, to } }: Resolved) {
  return db
    .selectFrom('calibration as c')
    .select(['c.test_point_id'])
    .where((eb) => (from === null ? eb.lit(true) : eb('c.done_on', '>=', from)))
    .where((eb) => (to === null ? eb.lit(true) : eb('c.done_on', '<=', to)))
    .groupBy('c.test_point_id');
}

function sumInScope(rows: readonly { test_point_id: number; n: number }[], { pointIds }: Resolved): number {
  return rows.reduce(
    (sum, { test_point_id, n }) => sum + (pointIds === null || pointIds.has(test_point_id) ? n : 0),
    0,
  );
}

/** Records of a scope by test point: one walk of the index, and one of the records for what only they say. */
async function recordSums(db: BookDb, resolved: Resolved) {
  const { pointIds } = resolved;
  const rows = await byTestPoint(db, resolved)
    .leftJoin('correction as x', 'x.replaced_id', 'c.id')
    .select((eb) => eb.fn.countAll<number>().as('records'))
    .select([
      sql<string>`min(c.done_on)`.as('first'),
      sql<string>`max(c.done_on)`.as('last'),
      sql<number>`sum(x.id is not null)`.as('corrected'),
      sql<number>`sum(c.supply_right = 0)`.as('supplyWrong'),
      sql<number>`sum(c.outcome = 'adjusted' and c.error_left_milli is null)`.as('withoutLeft'),
      sql<number>`sum(c.outcome in ('held', 'adjusted') and c.pressure_gauge_id is null and c.temperature_gauge_id is null)`.as(
        'withoutGauge',
      ),
    ])
    .execute();
  return pointIds === null ? rows : rows.filter((row) => pointIds.has(row.test_point_id));
}

async function readingCount(db: BookDb, resolved: Resolved): Promise<number> {
  const { scope, pointIds } = resolved;
  if (pointIds === null && scope.from === null && scope.to === null) {
    const { n } = await db
      .selectFrom('reading')
      .select((eb) => eb.fn.countAll<number>().as('n'))
      .executeTakeFirstOrThrow();
    return n;
  }
  const rows = await byTestPoint(db, resolved)
    .innerJoin('reading as r', 'r.calibration_id', 'c.id')
    .select((eb) => eb.fn.countAll<number>().as('n'))
    .execute();
  return sumInScope(rows, resolved);
}

/** Records whose instrument had no certificate on their day. */
async function lapsedRecords(db: BookDb, resolved: Resolved): Promise<number> {
  const rows = await byTestPoint(db, resolved)
    .select((eb) => eb.fn.countAll<number>().as('n'))
    .where(
      sql<boolean>`exists (select 1 from gauge g where g.id in (c.pressure_gauge_id, c.temperature_gauge_id)
        and not exists (select 1 from gauge_certificate k where k.gauge_id = g.id and k.issued_on <= c.done_on and k.due_on >= c.done_on))`,
    )
    .execute();
  return sumInScope(rows, resolved);
}

/** Counts and gaps of a scope. Throws `invalid_input` for a scope that cannot be, `cancelled`. */
export async function previewPack(
  db: BookDb,
  scope: PackScope,
  today: PlainDate,
  hooks: JobHooks,
): Promise<PackPreview> {
  const step = (done: number, words: string): void => {
    if (hooks.cancelled()) throw new AppError('cancelled', 'Cancelled; nothing was written.');
    hooks.progress(done, 5, words);
  };
  step(0, 'reading the register');
  const resolved = await resolveScope(db, scope);
  const isIn = (id: number): boolean => resolved.deviceIds === null || resolved.deviceIds.has(id);
  const points = (
    await db
      .selectFrom('test_point as tp')
      .innerJoin('device as d', 'd.id', 'tp.device_id')
      .select([
        'tp.id',
        'tp.kind',
        'tp.role',
        'tp.due_on',
        'tp.active',
        'd.id as deviceId',
        'd.tag',
        'd.retired_on',
        'd.in_service_on',
      ])
      .orderBy('d.tag')
      .orderBy('tp.id')
      .execute()
  ).filter(({ deviceId }) => isIn(deviceId));
  const nameOf = ({ tag, kind, role }: (typeof points)[number]): string =>
    `${tag} ${role === '' ? kind : role}`;
  step(1, 'counting records');
  const sums = new Map((await recordSums(db, resolved)).map((row) => [row.test_point_id, row]));
  step(2, 'counting readings');
  const readings = await readingCount(db, resolved);
  step(3, 'looking up certificates');
  const lapsed = await lapsedRecords(db, resolved);
  step(4, 'looking for gaps');
  const inUse = points.filter((point) => point.active === 1 && point.retired_on === null);
  const total = (key: 'records' | 'corrected' | 'supplyWrong' | 'withoutLeft' | 'withoutGauge'): number =>
    [...sums.values()].reduce((sum, row) => sum + row[key], 0);
  const devices = (
    await db
      .selectFrom('device')
      .select(['id', 'tag', 'class', 'retired_on', 'room_id'])
      .orderBy('tag')
      .execute()
  ).filter(({ id }) => isIn(id));
  const tested = new Set(
    (
      await db
        .selectFrom('air_test')
        .select('device_id')
        .where('done_on', '>=', addDays(scope.to ?? today, -YEAR_DAYS))
        .execute()
    ).map((row) => row.device_id),
  );
  const buildings = await buildingFigures(db);
  const leaks = await db.selectFrom('leak').select(['device_id', 'found_on as on']).execute();
  const tests = await db.selectFrom('air_test').select(['device_id', 'done_on as on']).execute();
  const count = (rows: typeof leaks): number =>
    rows.filter(({ device_id, on }) => isIn(device_id) && isWithin(on, resolved)).length;
  const zones = (await zoneControllers(db)).filter(
    ({ id, controller_kind: kind }) => isIn(id) && kind !== 'receiver' && kind !== 'humidity',
  );
  const everRead = new Set(
    (await byTestPoint(db, { ...resolved, scope: { ...scope, from: null } }).execute()).map(
      (row) => row.test_point_id,
    ),
  );
  const springs = inUse.filter(({ kind }) => kind === 'spring start' || kind === 'spring end');
  const many = (what: string, n: number): Gap[] => (n === 0 ? [] : [{ what, count: n, examples: [] }]);
  const spans = [...sums.values()];
  step(5, 'done');
  return {
    scope: scopeWords(scope),
    firstOn: spans.length === 0 ? null : spans.map(({ first }) => first).toSorted()[0],
    lastOn:
      spans.length === 0
        ? null
        : (spans
            .map(({ last }) => last)
            .toSorted()
            .at(-1) ?? null),
    counts: [
      { what: 'devices', count: devices.length },
      { what: 'test points', count: points.length },
      { what: 'records', count: total('records') },
      { what: 'readings', count: readings },
      { what: 'leaks', count: count(leaks) },
      { what: 'tests of air', count: count(tests) },
    ],
    gaps: [
      ...gapOf(
        'test points in use without a record in these days',
        inUse.filter(({ id }) => !sums.has(id)).map(nameOf),
      ),
      ...gapOf(
        `test points that are late on ${today}`,
        inUse.filter(({ due_on }) => due_on !== null && due_on < today).map(nameOf),
      ),
      ...gapOf(
        'spring ranges that were never measured',
        springs.filter(({ id }) => !everRead.has(id)).map(nameOf),
      ),
      ...gapOf('devices without a date of going into service', [
        ...new Set(points.filter(({ in_service_on }) => in_service_on === null).map(({ tag }) => tag)),
      ]),
      ...gapOf(
        'devices without a room',
        devices
          .filter(
            (one) =>
              one.room_id === null &&
              one.retired_on === null &&
              (one.class === 'controller' || one.class === 'actuator'),
          )
          .map(({ tag }) => tag),
      ),
      ...gapOf(
        'controllers without a served area, or in a building without loss, floor area or efficiency: no fuel, no money',
        zones
          .filter((zone) => {
            const building = zone.building === null ? undefined : buildings.get(zone.building);
            return (
              zone.served_area_ft2_milli === null ||
              !building?.floor_area_ft2_milli ||
              !building.heat_loss_btu_hf_milli ||
              !building.heating_efficiency_milli
            );
          })
          .map(({ tag }) => tag),
      ),
      ...gapOf(
        'air stations without a test in the last year',
        devices
          .filter((one) => one.class === 'air_station' && one.retired_on === null && !tested.has(one.id))
          .map(({ tag }) => tag),
      ),
      ...many('records that adjusted without a figure as left', total('withoutLeft')),
      ...many('records that name no instrument', total('withoutGauge')),
      ...many('records with an instrument that had no certificate on the day', lapsed),
      ...many('records taken while the supply was not right', total('supplyWrong')),
      ...many('records that a later one corrects', total('corrected')),
    ],
  };
}
