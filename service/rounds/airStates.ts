/**
 * Which air state a main has by itself at a time: by season, else by the time switch that drives its relay,
 * else its recorded natural state. Times are local clock minutes of a plain date.
 */
import type { BookDb } from '../../db/book.ts';
import { minutesOfClock } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { programmeStateAt, seasonStateAt } from '../../shared/register/air/programme.ts';
import type { AirState } from '../../shared/trade/switchover.ts';

type SwitchProgramme = {
  restState: AirState | null;
  spans: { weekdays: string; from: number; to: number; state: AirState }[];
  holidays: Set<PlainDate>;
};

export type MainAir = {
  id: number;
  tag: string;
  seasons: { from: string; to: string; state: AirState }[];
  programme: SwitchProgramme | null;
  naturalState: AirState;
  switching: 'after hours only' | 'in hours' | 'never';
  switchMinutes: number;
  /** Minutes more by portable supply; null = there is none. */
  portableMinutes: number | null;
  isHeld: boolean;
  lockoutMonths: Set<number>;
};

/** Common practice for one change of pressure with settling, where the register says nothing. */
export const DEFAULT_SWITCH_MINUTES = 15;

/** State of a main by itself at a minute of a day. */
export function naturalStateAt(main: MainAir, date: PlainDate, minute: number): AirState {
  const season = seasonStateAt(main.seasons, date);
  if (season !== null) return season;
  return main.programme
    ? programmeStateAt(main.programme, { date, minute }, main.naturalState)
    : main.naturalState;
}

/** The one state that a main has from `from` until before `to`; null when it changes in between. */
export function settledState(main: MainAir, date: PlainDate, from: number, to: number): AirState | null {
  const state = naturalStateAt(main, date, from);
  const edges = main.programme?.spans.flatMap((span) => [span.from, span.to]) ?? [];
  for (const edge of edges)
    if (edge > from && edge < to && naturalStateAt(main, date, edge) !== state) return null;
  return state;
}

/** The two-pressure mains in service, with what drives them. */
export async function mainsWithAir(db: BookDb): Promise<MainAir[]> {
  const mains = await db
    .selectFrom('main as m')
    .innerJoin('device as d', 'd.id', 'm.device_id')
    .select([
      'd.id',
      'd.tag',
      'm.natural_state',
      'm.switching',
      'm.switch_minutes',
      'm.lockout_months',
      'm.portable_minutes',
      'm.held',
    ])
    .where('m.main_kind', '=', 'two-pressure')
    .where('d.retired_on', 'is', null)
    .orderBy('d.tag')
    .execute();
  const seasons = await db
    .selectFrom('main_season')
    .select(['main_id', 'from_month_day', 'to_month_day', 'air_state'])
    .orderBy('main_id')
    .orderBy('position')
    .execute();
  const supplies = await db
    .selectFrom('supplies')
    .select(['from_id', 'to_id'])
    .orderBy('to_id')
    .orderBy('position')
    .execute();
  const relays = new Map(
    (await db.selectFrom('switchover_relay').select(['device_id', 'time_switch_id']).execute()).map((row) => [
      row.device_id,
      row.time_switch_id,
    ]),
  );
  const programmes = await readProgrammes(db);
  const feeders = new Map<number, number[]>();
  for (const { from_id, to_id } of supplies) feeders.set(to_id, [...(feeders.get(to_id) ?? []), from_id]);
  return mains.map((main) => ({
    id: main.id,
    tag: main.tag,
    seasons: seasons
      .filter((row) => row.main_id === main.id)
      .map((row) => ({ from: row.from_month_day, to: row.to_month_day, state: row.air_state })),
    programme: drivingProgramme(main.id, feeders, relays, programmes),
    naturalState: main.natural_state ?? 'low',
    switching: main.switching ?? 'never',
    switchMinutes: main.switch_minutes ?? DEFAULT_SWITCH_MINUTES,
    portableMinutes: main.portable_minutes,
    isHeld: main.held === 'yes',
    lockoutMonths: new Set(
      (main.lockout_months ?? '')
        .split('|')
        .filter((text) => text !== '')
        .map(Number),
    ),
  }));
}

async function readProgrammes(db: BookDb): Promise<Map<number, SwitchProgramme>> {
  const programmes = new Map<number, SwitchProgramme>();
  for (const row of await db.selectFrom('time_switch').select(['device_id', 'rest_state']).execute())
    programmes.set(row.device_id, { restState: row.rest_state, spans: [], holidays: new Set() });
  for (const row of await db
    .selectFrom('time_switch_program')
    .select(['time_switch_id', 'weekdays', 'from_time', 'to_time', 'air_state'])
    .execute())
    programmes.get(row.time_switch_id)?.spans.push({
      weekdays: row.weekdays,
      from: minutesOfClock(row.from_time) ?? 0,
      to: minutesOfClock(row.to_time) ?? 1440,
      state: row.air_state,
    });
  for (const row of await db.selectFrom('holiday').select(['time_switch_id', 'on_date']).execute())
    programmes.get(row.time_switch_id)?.holidays.add(row.on_date);
  return programmes;
}

/** The programme of the nearest relay above a main that a time switch drives. */
function drivingProgramme(
  mainId: number,
  feeders: ReadonlyMap<number, number[]>,
  relays: ReadonlyMap<number, number | null>,
  programmes: ReadonlyMap<number, SwitchProgramme>,
): SwitchProgramme | null {
  const seen = new Set<number>();
  let level = feeders.get(mainId) ?? [];
  while (level.length > 0) {
    for (const id of level) {
      const timeSwitch = relays.get(id);
      if (timeSwitch) return programmes.get(timeSwitch) ?? null;
    }
    const next: number[] = [];
    for (const id of level) {
      if (seen.has(id)) continue;
      seen.add(id);
      next.push(...(feeders.get(id) ?? []));
    }
    level = next;
  }
  return null;
}
