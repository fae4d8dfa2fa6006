import { sql } from 'kysely';
import type { Kysely } from 'kysely';
import { appendOnlyTriggers, instant, isoDate } from './202611260500_cards_of_every_class.ts';

const statements = [
  // SQLite changes no CHECK of a table that stands: the chain is made anew with the kinds that it may hold from now on.
  `create table ledger_anew (
    seq integer primary key,
    kind text not null check (kind in ('calibration', 'correction', 'replacement', 'setting change',
      'certificate', 'instrument fault', 'issued round', 'air test', 'leak', 'leak mended')),
    record_id integer,
    at text not null ${instant('at')},
    entry_json text not null check (json_valid(entry_json)),
    prev_hash text not null check (length(prev_hash) = 64),
    hash text not null unique check (length(hash) = 64)) strict`,
  `insert into ledger_anew (seq, kind, record_id, at, entry_json, prev_hash, hash)
    select seq, kind, record_id, at, entry_json, prev_hash, hash from ledger order by seq`,
  `drop table ledger`,
  `alter table ledger_anew rename to ledger`,
  `create index ledger_by_record on ledger (kind, record_id)`,
  `create table air_test (
    id integer primary key,
    device_id integer not null references device (id),
    kind text not null check (kind in ('on and off', 'hour meter', 'bleed-down', 'regulated demand', 'pump-up',
      'air quality', 'bleed of a device')),
    done_on text not null ${isoDate('done_on')},
    person_id integer not null references person (id),
    pressure_gauge_id integer references gauge (id),
    method_version text not null,
    flow_scim_milli integer,
    share_ppm integer check (share_ppm between 0 and 1000000),
    note text not null default '',
    replaces_id integer unique references air_test (id),
    reason text not null default '',
    snapshot_json text not null check (json_valid(snapshot_json)),
    at text not null ${instant('at')},
    check ((replaces_id is null) = (reason = ''))
  ) strict`,
  `create index air_test_by_device on air_test (device_id, done_on, id)`,
  `create table air_test_reading (
    id integer primary key,
    air_test_id integer not null references air_test (id),
    position integer not null,
    quantity text not null check (length(quantity) between 1 and 60),
    value_milli integer not null,
    unit text not null check (length(unit) between 1 and 20),
    unique (air_test_id, position),
    unique (air_test_id, quantity)
  ) strict`,
  `create table leak (
    id integer primary key,
    device_id integer not null references device (id),
    place text not null check (length(place) between 1 and 200),
    found_on text not null ${isoDate('found_on')},
    person_id integer not null references person (id),
    diameter_micro integer not null check (diameter_micro > 0),
    diameter_unit text not null check (diameter_unit in ('in', 'mm')),
    pressure_milli integer not null check (pressure_milli > 0),
    pressure_unit text not null check (pressure_unit in ('psi', 'kPa')),
    coefficient_milli integer check (coefficient_milli between 1 and 1000),
    method_version text not null,
    low_scim_milli integer not null,
    typical_scim_milli integer not null,
    high_scim_milli integer not null,
    note text not null default '',
    replaces_id integer unique references leak (id),
    reason text not null default '',
    snapshot_json text not null check (json_valid(snapshot_json)),
    at text not null ${instant('at')},
    check ((replaces_id is null) = (reason = ''))
  ) strict`,
  `create index leak_by_device on leak (device_id, found_on, id)`,
  `create table leak_mended (
    id integer primary key,
    leak_id integer not null unique references leak (id),
    mended_on text not null ${isoDate('mended_on')},
    person_id integer not null references person (id),
    note text not null default '',
    at text not null ${instant('at')}
  ) strict`,
  `alter table air_station add column motor_kw_milli integer check (motor_kw_milli >= 0)`,
  `alter table air_station add column altitude_ft integer`,
  ...['controller', 'transmitter', 'actuator', 'switchover_relay'].map(
    (table) => `alter table ${table} add column bleed_scim_milli integer check (bleed_scim_milli >= 0)`,
  ),
];

const appendOnly = ['ledger', 'air_test', 'air_test_reading', 'leak', 'leak_mended'];

/** Tests of air stations, leaks, and what devices bleed by their own sheets. */
export async function up(db: Kysely<any>): Promise<void> {
  for (const statement of statements) await sql.raw(statement).execute(db);
  for (const table of appendOnly)
    for (const trigger of appendOnlyTriggers(table)) await sql.raw(trigger).execute(db);
}
