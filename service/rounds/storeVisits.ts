/** Writes visits of a plan into the book: the one place that turns slots and places back into rows. */
import type { BookDb } from '../../db/book.ts';
import type { DrawnVisit, PlanInstance } from '../../shared/planning/instance.ts';
import { airStateOf } from './planStates.ts';

export type StoredPlace = { visitId: number; position: number };

async function rowIds(db: BookDb) {
  const buildings = await db.selectFrom('building').select(['id', 'code']).execute();
  const codeOf = new Map(buildings.map((row) => [row.id, row.code]));
  const levels = await db.selectFrom('level').select(['id', 'building_id', 'code']).execute();
  const rooms = await db.selectFrom('room').select(['id', 'building_id', 'code']).execute();
  const mains = await db.selectFrom('device').select(['id', 'tag']).where('class', '=', 'main').execute();
  const shifts = await db.selectFrom('shift_pattern').select(['id', 'name']).execute();
  const people = await db.selectFrom('person').select(['id', 'initials']).execute();
  return {
    buildings: new Map(buildings.map((row) => [row.code, row.id])),
    levels: new Map(levels.map((row) => [`${codeOf.get(row.building_id)}/${row.code}`, row.id])),
    rooms: new Map(rooms.map((row) => [`${codeOf.get(row.building_id)}/${row.code}`, row.id])),
    mains: new Map(mains.map((row) => [row.tag, row.id])),
    shifts: new Map(shifts.map((row) => [row.name, row.id])),
    people: new Map(people.map((row) => [row.initials, row.id])),
  };
}

/** Inserts visits; answers where each task stands. */
export async function storeVisits(
  db: BookDb,
  roundId: number,
  instance: PlanInstance,
  visits: readonly DrawnVisit[],
): Promise<Map<string, StoredPlace>> {
  const ids = await rowIds(db);
  const crews = new Map(instance.crews.map((crew) => [crew.id, crew.personId ?? ids.people.get(crew.id)]));
  const placeOfTask = new Map<string, StoredPlace>();
  for (const visit of visits) {
    const { date = '', shift = '', shiftId } = instance.slots[visit.slot];
    const { id } = await db
      .insertInto('visit')
      .values({
        round_id: roundId,
        slot: visit.slot,
        on_date: date,
        shift_pattern_id: shiftId ?? (ids.shifts.get(shift) as number),
        person_id: crews.get(visit.crew) as number,
        position: visit.order,
        building_id: visit.building === null ? null : (ids.buildings.get(visit.building) ?? null),
        level_id: visit.floor === null ? null : (ids.levels.get(`${visit.building}/${visit.floor}`) ?? null),
        room_id: visit.room === null ? null : (ids.rooms.get(`${visit.building}/${visit.room}`) ?? null),
        main_id: visit.main === null ? null : (ids.mains.get(visit.main) ?? null),
        air_state: visit.state === null ? null : airStateOf(visit.state),
      })
      .returning('id')
      .executeTakeFirstOrThrow();
    for (const [index, key] of visit.tasks.entries())
      placeOfTask.set(key, { visitId: id, position: index + 1 });
  }
  return placeOfTask;
}
