/** Walks along the supply path: what gives a device air, pilot air included, and what gets air through it. */
import type { BookDb } from './book.ts';

/** Ids of everything above a device, itself included. */
export async function idsAbove(db: BookDb, deviceId: number): Promise<number[]> {
  const rows = await db
    .withRecursive('above(id)', (w) =>
      w
        .selectFrom('device')
        .select('device.id')
        .where('device.id', '=', deviceId)
        .union(
          w.selectFrom('supplies as s').innerJoin('above', 'above.id', 's.to_id').select('s.from_id as id'),
        ),
    )
    .selectFrom('above')
    .select('id')
    .execute();
  return rows.map((row) => row.id);
}

/** Ids of everything below a device, itself included. */
export async function idsBelow(db: BookDb, deviceId: number): Promise<number[]> {
  const rows = await db
    .withRecursive('fed(id)', (w) =>
      w
        .selectFrom('device')
        .select('device.id')
        .where('device.id', '=', deviceId)
        .union(w.selectFrom('supplies as s').innerJoin('fed', 'fed.id', 's.from_id').select('s.to_id as id')),
    )
    .selectFrom('fed')
    .select('id')
    .execute();
  return rows.map((row) => row.id);
}
