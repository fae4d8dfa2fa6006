/** What the energy of setpoints is weighed by: buildings, areas, coils, bills. */
import type { BookDb } from './book.ts';

/** Buildings by their code, figures in thousandths. */
export async function buildingFigures(db: BookDb) {
  const rows = await db
    .selectFrom('building')
    .select([
      'code',
      'floor_area_ft2_milli',
      'heat_loss_btu_hf_milli',
      'gain_btu_h_milli',
      'night_gain_btu_h_milli',
      'time_constant_h_milli',
      'heating_efficiency_milli',
      'cooling_kwh_year_milli',
    ])
    .orderBy('code')
    .execute();
  return new Map(rows.map((row) => [row.code, row]));
}
export type BuildingFigures =
  Awaited<ReturnType<typeof buildingFigures>> extends Map<string, infer T> ? T : never;

/** Controllers in service with the area that they keep. */
export async function zoneControllers(db: BookDb) {
  return db
    .selectFrom('controller as c')
    .innerJoin('device as d', 'd.id', 'c.device_id')
    .leftJoin('building as b', 'b.id', 'd.building_id')
    .leftJoin('device as m', 'm.id', 'd.main_id')
    .select(['d.id', 'd.tag', 'd.main_id', 'c.controller_kind', 'c.served_area_ft2_milli'])
    .select(['b.code as building', 'm.tag as main'])
    .where('d.retired_on', 'is', null)
    .orderBy('d.id')
    .execute();
}

/** Setpoints in use: dial, and the minutes that their visit takes. */
export async function setpointEfforts(db: BookDb) {
  return db
    .selectFrom('test_point as tp')
    .innerJoin('setpoint as s', 's.test_point_id', 'tp.id')
    .innerJoin('device as d', 'd.id', 'tp.device_id')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .select(['tp.id', 'tp.device_id as deviceId', 'tp.role', 'tp.unit', 's.dial_milli as dialMilli'])
    .select(['tp.minutes as own', 'cd.minutes as ofClass'])
    .where('tp.active', '=', 1)
    .where('d.retired_on', 'is', null)
    .orderBy('tp.id')
    .execute();
}

/** Minutes of the visit of devices that switch, by device. */
export async function switchingMinutes(db: BookDb): Promise<Map<number, number>> {
  const rows = await db
    .selectFrom('test_point as tp')
    .leftJoin('class_default as cd', (join) =>
      join.onRef('cd.kind', '=', 'tp.kind').onRef('cd.unit', '=', 'tp.unit'),
    )
    .select(['tp.device_id', 'tp.minutes', 'cd.minutes as ofClass'])
    .where('tp.kind', 'in', ['relay switching', 'clock', 'regulator high', 'main high'])
    .orderBy('tp.id')
    .execute();
  return new Map(
    rows.flatMap(({ device_id: id, minutes, ofClass }) => {
      const own = minutes ?? ofClass;
      return own === null ? [] : [[id, own] as const];
    }),
  );
}

/** What coils give fully open, Btu/h, by actuator. */
export async function fullLoads(db: BookDb): Promise<Map<number, number>> {
  const rows = await db
    .selectFrom('actuator')
    .select(['device_id', 'full_load_btu_h_milli'])
    .where('full_load_btu_h_milli', 'is not', null)
    .execute();
  return new Map(rows.map((row) => [row.device_id, (row.full_load_btu_h_milli ?? 0) / 1000]));
}

/** Open follow-ups of what decides over air states: relays and time switches. */
export async function openSwitchFaults(db: BookDb) {
  return db
    .selectFrom('follow_up as f')
    .innerJoin('device as d', 'd.id', 'f.device_id')
    .select(['f.device_id as deviceId', 'd.tag', 'f.cause', 'f.opened_at as openedAt'])
    .where('f.closed_at', 'is', null)
    .where('d.class', 'in', ['switchover_relay', 'time_switch'])
    .where('d.retired_on', 'is', null)
    .orderBy('f.id')
    .execute();
}

/** Power of stations for their flow, kW a scfm, by station; where one of the two is not known it is not there. */
export async function stationPower(db: BookDb): Promise<Map<number, number>> {
  const rows = await db
    .selectFrom('air_station')
    .select(['device_id', 'motor_kw_milli', 'capacity_scfm_milli'])
    .execute();
  return new Map(
    rows.flatMap((row) =>
      row.motor_kw_milli && row.capacity_scfm_milli
        ? [[row.device_id, row.motor_kw_milli / row.capacity_scfm_milli] as const]
        : [],
    ),
  );
}

/** Bills by meter and month. */
export async function energyBills(db: BookDb) {
  return db
    .selectFrom('energy_bill')
    .select(['meter', 'month', 'use_milli', 'unit', 'cost_milli'])
    .orderBy('meter')
    .orderBy('month')
    .execute();
}
