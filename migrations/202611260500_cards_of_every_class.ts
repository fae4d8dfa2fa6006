import { sql } from 'kysely';
import type { Kysely } from 'kysely';

const units = `('psi', 'kPa', 'degF', 'degC', 'minutes', 'seconds', 'percent', 'V', 'ml', 'none')`;
const kinds = `('setpoint', 'regulator low', 'regulator high', 'main low', 'main high', 'spring start', 'spring end',
  'transmitter zero', 'transmitter span', 'relay switching', 'clock', 'dew point')`;
export const isoDate = (column: string): string =>
  `check (${column} glob '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')`;
export const instant = (column: string): string =>
  `check (${column} glob '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z')`;
const airState = (column: string): string => `check (${column} in ('low', 'high'))`;
const relation = (column: string): string => `text check (${column} in ('=', '>=', '<='))`;
const verdict = (column: string): string =>
  `text check (${column} in ('inside', 'inside, in doubt', 'outside, in doubt', 'outside', 'unknown'))`;

/**
 * SQLite changes no CHECK of a table that stands: each table is made anew, filled and given the old name. Foreign keys
 * are off while a book is migrated, and are checked after.
 */
const rebuilt: { table: string; columns: string; copied: string[]; after: string[] }[] = [
  {
    table: 'class_default',
    columns: `
      id integer primary key,
      kind text not null check (kind in ${kinds}),
      unit text not null check (unit in ${units}),
      tolerance_milli integer not null check (tolerance_milli >= 0),
      tolerance_left_milli integer not null check (tolerance_left_milli >= 0),
      action_limit_milli integer not null check (action_limit_milli >= 0),
      interval_days integer not null check (interval_days between 7 and 3660),
      minutes integer not null check (minutes between 1 and 480),
      weight integer not null check (weight between 1 and 10),
      version integer not null default 1,
      unique (kind, unit)`,
    copied: [
      'id',
      'kind',
      'unit',
      'tolerance_milli',
      'tolerance_left_milli',
      'action_limit_milli',
      'interval_days',
      'minutes',
      'weight',
      'version',
    ],
    after: [
      `insert into class_default (kind, unit, tolerance_milli, tolerance_left_milli, action_limit_milli, interval_days, minutes, weight) values
        ('main low', 'psi', 1000, 1000, 2000, 365, 45, 7),
        ('main low', 'kPa', 7000, 7000, 14000, 365, 45, 7),
        ('main high', 'psi', 1000, 1000, 2000, 365, 45, 7),
        ('main high', 'kPa', 7000, 7000, 14000, 365, 45, 7),
        ('setpoint', 'percent', 3000, 2000, 6000, 365, 20, 4)`,
    ],
  },
  {
    table: 'test_point',
    columns: `
      id integer primary key,
      device_id integer not null references device (id),
      kind text not null check (kind in ${kinds}),
      role text not null default '' check (role in ('', 'only', 'occupied', 'unoccupied', 'heating', 'cooling')),
      air_state text ${airState('air_state')},
      nominal_milli integer,
      unit text not null check (unit in ${units}),
      tolerance_milli integer check (tolerance_milli > 0),
      interval_days integer check (interval_days between 7 and 3660),
      minutes integer check (minutes between 1 and 480),
      active integer not null default 1 check (active in (0, 1)),
      last_done_on text ${isoDate('last_done_on')},
      due_on text ${isoDate('due_on')},
      version integer not null default 1,
      unique (device_id, kind, role)`,
    copied: [
      'id',
      'device_id',
      'kind',
      'role',
      'air_state',
      'nominal_milli',
      'unit',
      'tolerance_milli',
      'interval_days',
      'minutes',
      'active',
      'last_done_on',
      'due_on',
      'version',
    ],
    after: [
      `create index test_point_by_due on test_point (due_on, id) where active = 1`,
      // Mains have test points of their own from now on, and humidity setpoints are held in percent.
      `insert into test_point (device_id, kind, nominal_milli, unit)
        select device_id, 'main low', low_pressure_milli, coalesce(pressure_unit, 'psi')
        from main join device on device.id = main.device_id where retired_on is null`,
      `insert into test_point (device_id, kind, nominal_milli, unit)
        select device_id, 'main high', high_pressure_milli, coalesce(pressure_unit, 'psi')
        from main join device on device.id = main.device_id
        where retired_on is null and main_kind = 'two-pressure' and high_pressure_milli is not null`,
      `update test_point set due_on = (select in_service_on from device where device.id = test_point.device_id)
        where kind in ('main low', 'main high')`,
    ],
  },
  {
    table: 'gauge',
    columns: `
      id integer primary key,
      tag text not null unique,
      kind text not null check (kind in ('pressure', 'temperature', 'humidity')),
      unit text not null check (unit in ('psi', 'kPa', 'degF', 'degC', 'percent')),
      range_low_milli integer not null,
      range_high_milli integer not null,
      accuracy_form text not null check (accuracy_form in ('absolute', 'percent of span', 'grade')),
      accuracy_milli integer check (accuracy_milli >= 0),
      accuracy_grade text,
      step_milli integer check (step_milli > 0),
      certificate_due_on text ${isoDate('certificate_due_on')},
      retired_on text ${isoDate('retired_on')},
      version integer not null default 1,
      check (range_high_milli > range_low_milli)`,
    copied: [
      'id',
      'tag',
      'kind',
      'unit',
      'range_low_milli',
      'range_high_milli',
      'accuracy_form',
      'accuracy_milli',
      'accuracy_grade',
      'certificate_due_on',
      'retired_on',
      'version',
    ],
    after: [],
  },
  {
    table: 'calibration',
    columns: `
      id integer primary key,
      test_point_id integer not null references test_point (id),
      done_on text not null ${isoDate('done_on')},
      started_at text ${instant('started_at')},
      ended_at text not null ${instant('ended_at')},
      person_id integer not null references person (id),
      outcome text not null check (outcome in ('held', 'adjusted', 'device failed', 'supply not right', 'no access',
        'unsafe', 'not tested')),
      source text not null check (source in ('bench', 'paper', 'file', 'sample')),
      unit text not null check (unit in ${units}),
      method text check (method in ('M1', 'M2', 'M3', 'typed', 'read', 'proved', 'test pressure')),
      method_version text not null,
      decision_rule text not null check (decision_rule in ('simple acceptance', 'guard band 0.83 U', 'guard band U',
        'guard band by ratio')),
      error_found_milli integer,
      found_relation ${relation('found_relation')},
      verdict_found ${verdict('verdict_found')},
      error_left_milli integer,
      left_relation ${relation('left_relation')},
      verdict_left ${verdict('verdict_left')},
      doubt_milli integer,
      doubt_left_milli integer,
      conformance_found_ppm integer check (conformance_found_ppm between 0 and 1000000),
      conformance_left_ppm integer check (conformance_left_ppm between 0 and 1000000),
      pressure_gauge_id integer references gauge (id),
      temperature_gauge_id integer references gauge (id),
      supply_right integer not null check (supply_right in (0, 1)),
      snapshot_json text not null check (json_valid(snapshot_json)),
      note text not null default '',
      card_id integer,
      check ((error_found_milli is null) = (found_relation is null)),
      check ((error_left_milli is null) = (left_relation is null))`,
    copied: [
      'id',
      'test_point_id',
      'done_on',
      'started_at',
      'ended_at',
      'person_id',
      'outcome',
      'source',
      'unit',
      'method',
      'method_version',
      'decision_rule',
      'error_found_milli',
      'found_relation',
      'verdict_found',
      'error_left_milli',
      'left_relation',
      'verdict_left',
      'doubt_milli',
      'pressure_gauge_id',
      'temperature_gauge_id',
      'supply_right',
      'snapshot_json',
      'note',
    ],
    after: [
      `create index calibration_by_test_point on calibration (test_point_id, done_on, id)`,
      `create index calibration_by_day on calibration (done_on, id)`,
      `create index calibration_by_card on calibration (card_id) where card_id is not null`,
      `create index calibration_by_pressure_gauge on calibration (pressure_gauge_id, done_on, id)
        where pressure_gauge_id is not null`,
      `create index calibration_by_temperature_gauge on calibration (temperature_gauge_id, done_on, id)
        where temperature_gauge_id is not null`,
    ],
  },
  {
    table: 'reading',
    columns: `
      id integer primary key,
      calibration_id integer not null references calibration (id),
      position integer not null,
      phase text not null check (phase in ('found', 'left', 'check', 'restored')),
      quantity text not null check (length(quantity) between 1 and 60),
      value_milli integer,
      value_text text check (length(value_text) between 1 and 60),
      unit text not null check (unit in ${units}),
      air_state text ${airState('air_state')},
      unique (calibration_id, position),
      check ((value_milli is null) <> (value_text is null))`,
    copied: ['id', 'calibration_id', 'position', 'phase', 'quantity', 'value_milli', 'unit', 'air_state'],
    after: [],
  },
  {
    table: 'ledger',
    columns: `
      seq integer primary key,
      kind text not null check (kind in ('calibration', 'correction', 'replacement', 'setting change',
        'certificate', 'instrument fault', 'issued round')),
      record_id integer,
      at text not null ${instant('at')},
      entry_json text not null check (json_valid(entry_json)),
      prev_hash text not null check (length(prev_hash) = 64),
      hash text not null unique check (length(hash) = 64)`,
    copied: ['seq', 'kind', 'record_id', 'at', 'entry_json', 'prev_hash', 'hash'],
    after: [`create index ledger_by_record on ledger (kind, record_id)`],
  },
];

const added = [
  `create table instrument_fault (
    id integer primary key,
    gauge_id integer not null references gauge (id),
    found_on text not null ${isoDate('found_on')},
    since_on text not null ${isoDate('since_on')},
    bias_milli integer not null check (bias_milli <> 0),
    unit text not null check (unit in ('psi', 'kPa', 'degF', 'degC', 'percent')),
    note text not null default '',
    person_id integer not null references person (id),
    at text not null ${instant('at')},
    check (since_on <= found_on)
  ) strict`,
  `create index instrument_fault_by_gauge on instrument_fault (gauge_id, id)`,
  `create index gauge_certificate_by_gauge on gauge_certificate (gauge_id, issued_on, id)`,
  `alter table follow_up add column symptom text`,
  `alter table follow_up add column likely_json text not null default '[]'`,
  `alter table follow_up add column assigned_to integer references person (id)`,
  `alter table follow_up add column closing_calibration_id integer references calibration (id)`,
  `alter table follow_up add column part_of_id integer references follow_up (id)`,
  `alter table setpoint add column reset_from_at_milli integer`,
  `alter table setpoint add column reset_from_setpoint_milli integer`,
  `alter table setpoint add column reset_to_at_milli integer`,
  `alter table setpoint add column reset_to_setpoint_milli integer`,
  `create table paper_draft (
    sheet text not null primary key,
    draft_json text not null check (json_valid(draft_json)),
    revision integer not null,
    saved_at text not null ${instant('saved_at')}
  ) strict`,
];

const appendOnly = ['calibration', 'reading', 'ledger', 'instrument_fault'];

/** Triggers that refuse to change, remove or replace what was appended. */
export function appendOnlyTriggers(table: string): string[] {
  return [
    `create trigger ${table}_never_updated before update on ${table}
      begin select raise(abort, 'append-only: ${table} rows are never changed'); end`,
    `create trigger ${table}_never_deleted before delete on ${table}
      begin select raise(abort, 'append-only: ${table} rows are never removed'); end`,
    table === 'ledger'
      ? `create trigger ledger_continues_chain before insert on ledger
          when new.seq <> (select coalesce(max(seq), 0) + 1 from ledger)
            or new.prev_hash <> coalesce((select hash from ledger order by seq desc limit 1),
              '0000000000000000000000000000000000000000000000000000000000000000')
          begin select raise(abort, 'append-only: a ledger entry must continue the chain'); end`
      : `create trigger ${table}_appended_last before insert on ${table}
          when new.id is not null and new.id <= (select coalesce(max(id), 0) from ${table})
            and exists (select 1 from ${table} where id = new.id)
          begin select raise(abort, 'append-only: ${table} rows are never replaced'); end`,
  ];
}

/** Cards of every class: more kinds of test points, units, methods and rules; the doubt of a record; the gauge drawer. */
export async function up(db: Kysely<any>): Promise<void> {
  for (const { table, columns, copied, after } of rebuilt) {
    const list = copied.join(', ');
    await sql.raw(`create table ${table}_anew (${columns}) strict`).execute(db);
    await sql
      .raw(`insert into ${table}_anew (${list}) select ${list} from ${table} order by rowid`)
      .execute(db);
    await sql.raw(`drop table ${table}`).execute(db);
    await sql.raw(`alter table ${table}_anew rename to ${table}`).execute(db);
    for (const statement of after) await sql.raw(statement).execute(db);
  }
  for (const statement of added) await sql.raw(statement).execute(db);
  for (const table of appendOnly)
    for (const trigger of appendOnlyTriggers(table)) await sql.raw(trigger).execute(db);
}
