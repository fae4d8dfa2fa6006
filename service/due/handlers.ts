/** Use cases of the due ledger. */
import { countNeverDone, dueCountsByDay, dueLedger } from '../../db/due.ts';
import type { BookDb } from '../../db/book.ts';
import { addDays, addMonths, monthOf } from '../../shared/dates/plainDate.ts';
import { daysLate } from '../../shared/trade/due.ts';
import { deviceClasses } from '../../shared/trade/words.ts';
import type { DeviceClass } from '../../shared/trade/words.ts';
import type { GroupHandlers } from '../context.ts';

const MONTHS_SHOWN = 13;

function asClass(text: string): DeviceClass {
  return deviceClasses.find((one) => one === text) ?? 'controller';
}

/** The newest as-found error of each test point that has one, by the newest record that was not corrected. */
async function lastErrors(
  db: BookDb,
  ids: readonly number[],
): Promise<Map<number, { milli: number; relation: '=' | '>=' | '<=' }>> {
  const errors = new Map<number, { milli: number; relation: '=' | '>=' | '<=' }>();
  for (let start = 0; start < ids.length; start += 500) {
    const rows = await db
      .selectFrom('calibration as c')
      .leftJoin('correction as x', 'x.replaced_id', 'c.id')
      .select(['c.test_point_id', 'c.error_found_milli', 'c.found_relation'])
      .where('c.test_point_id', 'in', ids.slice(start, start + 500))
      .where('c.error_found_milli', 'is not', null)
      .where('x.id', 'is', null)
      .orderBy('c.test_point_id')
      .orderBy('c.done_on')
      .orderBy('c.id')
      .execute();
    for (const row of rows)
      if (row.error_found_milli !== null && row.found_relation !== null)
        errors.set(row.test_point_id, { milli: row.error_found_milli, relation: row.found_relation });
  }
  return errors;
}

/** Two-pressure and single mains with the date their supply was last checked, when not within a year. */
async function uncheckedMains(
  db: BookDb,
  on: string,
): Promise<{ id: number; tag: string; lastSupplyCheck: string | null }[]> {
  const mains = await db
    .selectFrom('device')
    .select(['id', 'tag'])
    .where('class', '=', 'main')
    .where('retired_on', 'is', null)
    .orderBy('tag')
    .execute();
  const supplies = await db.selectFrom('supplies').select(['from_id', 'to_id']).execute();
  const feeders = new Map<number, number[]>();
  for (const { from_id, to_id } of supplies) feeders.set(to_id, [...(feeders.get(to_id) ?? []), from_id]);
  const regulators = new Map(
    (
      await db
        .selectFrom('test_point')
        .select(['device_id', (eb) => eb.fn.min('last_done_on').as('done')])
        .where('kind', 'in', ['regulator low', 'regulator high'])
        .where('active', '=', 1)
        .groupBy('device_id')
        .execute()
    ).map((row) => [row.device_id, row.done]),
  );
  const limit = addDays(on, -365);
  return mains.flatMap((main) => {
    const seen = new Set<number>();
    const queue = [main.id];
    const dates: (string | null)[] = [];
    while (queue.length > 0) {
      const next = queue.pop() as number;
      if (seen.has(next)) continue;
      seen.add(next);
      if (regulators.has(next)) dates.push(regulators.get(next) ?? null);
      queue.push(...(feeders.get(next) ?? []));
    }
    const known = dates.filter((date) => date !== null).sort();
    const oldest = dates.length > 0 && known.length === dates.length ? known[0] : null;
    return oldest !== null && oldest >= limit
      ? []
      : [{ id: main.id, tag: main.tag, lastSupplyCheck: oldest }];
  });
}

export const dueHandlers: GroupHandlers<'due'> = {
  summary: async ({ db, clock }, input) => {
    const on = input.on ?? clock.today();
    const in30 = addDays(on, 30);
    const in90 = addDays(on, 90);
    const days = await dueCountsByDay(db, { to: `${addMonths(monthOf(on), MONTHS_SHOWN - 1)}-31` });
    const sum = (keep: (date: string) => boolean): number =>
      days.reduce((total, day) => total + (keep(day.dueOn) ? day.count : 0), 0);
    const late = sum((date) => date < on);
    const first = monthOf(on);
    const months = Array.from({ length: MONTHS_SHOWN }, (_, index) => {
      const month = addMonths(first, index);
      return {
        month,
        count: sum((date) => date >= on && monthOf(date) === month),
        late: index === 0 ? late : 0,
      };
    });
    const followUps = await db
      .selectFrom('follow_up')
      .select((eb) => eb.fn.countAll<number>().as('count'))
      .where('closed_at', 'is', null)
      .executeTakeFirstOrThrow();
    const gauges = await db
      .selectFrom('gauge')
      .select((eb) => eb.fn.countAll<number>().as('count'))
      .where('retired_on', 'is', null)
      .where('certificate_due_on', '<', on)
      .executeTakeFirstOrThrow();
    return {
      on,
      late,
      within30: sum((date) => date >= on && date <= in30),
      within90: sum((date) => date >= on && date <= in90),
      neverDone: await countNeverDone(db),
      openFollowUps: followUps.count,
      lapsedGauges: gauges.count,
      uncheckedMains: await uncheckedMains(db, on),
      months,
    };
  },

  ledger: async ({ db, clock }, input) => {
    const on = input.on ?? clock.today();
    const until = input.until ?? addDays(on, 90);
    const rows = await dueLedger(db, { until, limit: input.limit, neverDone: input.neverDone });
    const errors = await lastErrors(
      db,
      rows.map((row) => row.testPointId),
    );
    return {
      on,
      until,
      rows: rows.map((row) => {
        const last = errors.get(row.testPointId);
        return {
          ...row,
          class: asClass(row.class),
          unit: row.unit as 'psi',
          daysLate: daysLate(row.dueOn, on),
          lastErrorMilli: last?.milli ?? null,
          lastRelation: last?.relation ?? null,
        };
      }),
    };
  },
};
