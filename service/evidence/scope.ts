/** What a pack is about: test points and devices of a part of the site, and the days between which records count. */
import type { BookDb } from '../../db/book.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { PackScope } from '../../shared/contract/packScope.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';

export type { PackScope };

export const wholeSite: PackScope = {
  building: null,
  level: null,
  main: null,
  class: null,
  tags: null,
  from: null,
  to: null,
};

export type Resolved = {
  scope: PackScope;
  /** Null: every device of the book. */
  deviceIds: ReadonlySet<number> | null;
  pointIds: ReadonlySet<number> | null;
};

/** The devices and test points of a scope. Throws `invalid_input` where it names what the book does not hold, or nothing is left. */
export async function resolveScope(db: BookDb, scope: PackScope): Promise<Resolved> {
  const { building, level, main, class: kind, tags, from, to } = scope;
  const refuse = (column: string, value: string, reason: string): never => {
    throw new AppError('invalid_input', 'The scope of the pack cannot be.', {
      problems: [{ column, value, reason }],
    });
  };
  if (from !== null && to !== null && to < from) refuse('to', to, `before ${from}`);
  if (building === null && level === null && main === null && kind === null && tags === null)
    return { scope, deviceIds: null, pointIds: null };
  const rows = await db
    .selectFrom('device as d')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['d.id', 'd.tag', 'd.class', 'b.code as building', 'l.code as level', 'm.tag as main'])
    .execute();
  const known = { building: new Set<string>(), level: new Set<string>(), main: new Set<string>() };
  for (const row of rows)
    for (const key of ['building', 'level', 'main'] as const) if (row[key] !== null) known[key].add(row[key]);
  for (const row of rows) if (row.class === 'main') known.main.add(row.tag);
  for (const [key, value] of [
    ['building', building],
    ['level', level],
    ['main', main],
  ] as const)
    if (value !== null && !known[key].has(value)) refuse(key, value, 'the book holds none of that name');
  const missing = tags?.find((tag) => !rows.some((row) => row.tag === tag));
  if (missing !== undefined) refuse('tags', missing, 'no device has this tag');
  const devices = rows.filter(
    (row) =>
      (building === null || row.building === building) &&
      (level === null || row.level === level) &&
      (main === null || row.main === main || row.tag === main) &&
      (kind === null || row.class === kind) &&
      (tags === null || tags.includes(row.tag)),
  );
  if (devices.length === 0) refuse('scope', '', 'no device stands in it');
  const deviceIds = new Set(devices.map(({ id }) => id));
  const points = await db.selectFrom('test_point').select(['id', 'device_id']).execute();
  return {
    scope,
    deviceIds,
    pointIds: new Set(points.flatMap(({ id, device_id }) => (deviceIds.has(device_id) ? [id] : []))),
  };
}

/** The scope in words, for people and for the manifest. */
export function scopeWords({ building, level, main, class: kind, tags, from, to }: PackScope): string {
  const where = [
    building === null ? '' : `building ${building}`,
    level === null ? '' : `level ${level}`,
    main === null ? '' : `main ${main}`,
    kind === null ? '' : `class ${kind}`,
    tags === null ? '' : `tags ${tags.join(', ')}`,
  ].filter((part) => part !== '');
  const days =
    from === null && to === null ? 'all days' : `${from ?? 'the first day'} to ${to ?? 'the last day'}`;
  return `${where.length === 0 ? 'the whole site' : where.join(', ')}; ${days}`;
}

/** The last day that the book knows of: what is worked out “as it stands” stands so then, whenever the pack is made. */
export async function lastDayOf(db: BookDb): Promise<{ on: PlainDate; at: Date }> {
  const { on } = await db
    .selectFrom('calibration')
    .select((eb) => eb.fn.max('done_on').as('on'))
    .executeTakeFirstOrThrow();
  const newest = await db
    .selectFrom('ledger')
    .select('at')
    .orderBy('seq', 'desc')
    .limit(1)
    .executeTakeFirst();
  const at = newest?.at ?? '2000-01-01T00:00:00Z';
  return { on: on ?? at.slice(0, 10), at: new Date(at) };
}

/** The day as of which a pack stands: the last of its scope, else the book's; never before the first of its scope. */
export function asOfDay({ from, to }: PackScope, last: PlainDate): PlainDate {
  if (to !== null) return to;
  return from !== null && from > last ? from : last;
}
