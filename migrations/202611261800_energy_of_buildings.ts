import { sql } from 'kysely';
import type { Kysely } from 'kysely';

const decimal = (table: string, column: string): string =>
  `alter table ${table} add column ${column}_milli integer check (${column}_milli >= 0)`;

const bills = `create table energy_bill (
    id integer primary key,
    meter text not null check (length(meter) between 1 and 60),
    month text not null check (month glob '[0-9][0-9][0-9][0-9]-[0-1][0-9]'),
    use_milli integer not null check (use_milli >= 0),
    unit text not null check (unit in ('therm', 'kWh')),
    cost_milli integer,
    unique (meter, month)
  ) strict`;

/** What the energy of a setpoint is weighed by: a building's loss and gains, the area of a controller, the load of a coil; and the bills of the meters. */
export async function up(db: Kysely<any>): Promise<void> {
  for (const column of [
    'floor_area_ft2',
    'heat_loss_btu_hf',
    'gain_btu_h',
    'night_gain_btu_h',
    'time_constant_h',
    'heating_efficiency',
    'cooling_kwh_year',
  ])
    await sql.raw(decimal('building', column)).execute(db);
  await sql.raw(decimal('controller', 'served_area_ft2')).execute(db);
  await sql.raw(decimal('actuator', 'full_load_btu_h')).execute(db);
  await sql.raw(bills).execute(db);
}
