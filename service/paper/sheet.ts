/** What stands on a paper sheet: the cards of somebody's day, or of every setpoint of a main in one air state. */
import type { BookDb } from '../../db/book.ts';
import { instrumentsOn } from '../../db/gauges.ts';
import { activePeople } from '../../db/people.ts';
import { newestRecords } from '../../db/records.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import { AppError } from '../../shared/contract/errors.ts';
import type { PaperRow, PaperSheet, SheetScope } from '../../shared/contract/paper.ts';
import { cardDevice, cardEntries } from '../bench/cardFacts.ts';
import { buildDaySheet } from '../rounds/daySheet.ts';
import { benchRulesOf } from '../settings/benchRules.ts';

/** The name under which a sheet's draft is kept. */
export function sheetName(scope: SheetScope): string {
  return scope.kind === 'day'
    ? `day ${scope.roundId} ${scope.date} ${scope.personId}`
    : `main ${scope.mainId} ${scope.airState ?? 'any'}`;
}

type Wanted = { deviceId: number; key: string };

async function wantedOfDay(db: BookDb, scope: Extract<SheetScope, { kind: 'day' }>) {
  const sheet = await buildDaySheet(db, scope);
  const wanted: Wanted[] = [];
  for (const { visits } of sheet.shifts)
    for (const { tasks } of visits)
      for (const { deviceId, role } of tasks)
        if (!wanted.some((one) => one.deviceId === deviceId && one.key === (role ?? '')))
          wanted.push({ deviceId, key: role ?? '' });
  return {
    wanted,
    title: `${sheet.person.name} (${sheet.person.initials}), ${sheet.date}`,
    date: sheet.date,
    personId: scope.personId,
  };
}

async function wantedOfMain(db: BookDb, scope: Extract<SheetScope, { kind: 'main' }>) {
  const main = await db
    .selectFrom('device')
    .select(['tag', 'class'])
    .where('id', '=', scope.mainId)
    .executeTakeFirst();
  if (main?.class !== 'main') throw new AppError('not_found', 'There is no such main.');
  let query = db
    .selectFrom('test_point as tp')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('level as l', 'l.id', 'd.level_id')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('room as r', 'r.id', 'd.room_id')
    .select(['d.id as deviceId', 'tp.role as key'])
    .where('tp.kind', '=', 'setpoint')
    .where('tp.active', '=', 1)
    .where('d.main_id', '=', scope.mainId)
    .orderBy('b.code')
    .orderBy('l.sort_order')
    .orderBy('r.code')
    .orderBy('d.tag')
    .orderBy('tp.role');
  query =
    scope.airState === null
      ? query.where('tp.air_state', 'is', null)
      : query.where('tp.air_state', '=', scope.airState);
  return {
    wanted: (await query.execute()) as Wanted[],
    title: `main ${main.tag}${scope.airState === null ? '' : `, ${scope.airState} state`}`,
    date: null,
    personId: null,
  };
}

async function rowOf(db: BookDb, { deviceId, key }: Wanted, today: string): Promise<PaperRow | null> {
  const device = await cardDevice(db, deviceId);
  if (device.retired_on !== null) return null;
  const entry = (await cardEntries(db, device, today)).find((one) => one.key === key);
  if (!entry) return null;
  const newest = await newestRecords(db, deviceId);
  return {
    deviceId,
    tag: device.tag,
    key,
    place: [device.building, device.level, device.room].filter((word) => word).join(' / '),
    title: key === '' ? descriptionOf(entry.facts).title : `${key} setpoint`,
    facts: entry.facts,
    points: entry.facts.points.map((point) => ({
      key: point.key,
      testPointId: point.testPointId,
      dueOn: null,
      newestRecordId: newest.get(point.testPointId) ?? null,
      last: null,
    })),
  };
}

/** The rows of a sheet with what they are judged by. */
export async function sheetRows(db: BookDb, scope: SheetScope, today: string) {
  const { wanted, ...head } =
    scope.kind === 'day' ? await wantedOfDay(db, scope) : await wantedOfMain(db, scope);
  const rows: PaperRow[] = [];
  for (const one of wanted) {
    const row = await rowOf(db, one, today);
    if (row) rows.push(row);
  }
  return { ...head, rows };
}

/** The whole sheet for the grid. */
export async function paperSheetOf(db: BookDb, scope: SheetScope, today: string): Promise<PaperSheet> {
  const { rows, title, date, personId } = await sheetRows(db, scope, today);
  const draft = await db
    .selectFrom('paper_draft')
    .select(['draft_json as json', 'saved_at as savedAt', 'revision'])
    .where('sheet', '=', sheetName(scope))
    .executeTakeFirst();
  // A day that has not come cannot have been worked on.
  const doneOn = date !== null && date < today ? date : today;
  return {
    title,
    doneOn,
    personId,
    rows,
    people: await activePeople(db),
    instruments: await instrumentsOn(db, doneOn),
    rule: (await benchRulesOf(db)).value.decisionRule,
    draft: draft ?? null,
  };
}
