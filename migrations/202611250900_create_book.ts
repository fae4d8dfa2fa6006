import { sql } from 'kysely';
import type { Kysely } from 'kysely';

const isoDate = (column: string): string =>
  `check (${column} glob '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')`;
const instant = (column: string): string =>
  `check (${column} glob '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z')`;
const airState = (column: string): string => `check (${column} in ('low', 'high'))`;
const pressureUnit = `text check (pressure_unit in ('psi', 'kPa'))`;
const temperatureUnit = `text check (temperature_unit in ('degF', 'degC'))`;
const relation = (column: string): string => `text check (${column} in ('=', '>=', '<='))`;
const verdict = (column: string): string =>
  `text check (${column} in ('inside', 'inside, in doubt', 'outside, in doubt', 'outside', 'unknown'))`;

/** Statements in order; each table is STRICT, every enumerated column has its CHECK. */
const statements: string[] = [
  `create table setting (
    key text not null primary key,
    value_json text not null check (json_valid(value_json)),
    version integer not null default 1
  ) strict`,
  `create table class_default (
    id integer primary key,
    kind text not null check (kind in ('setpoint', 'regulator low', 'regulator high', 'spring start', 'spring end',
      'transmitter zero', 'transmitter span', 'relay switching', 'clock', 'dew point')),
    unit text not null check (unit in ('psi', 'kPa', 'degF', 'degC', 'minutes', 'none')),
    tolerance_milli integer not null check (tolerance_milli >= 0),
    tolerance_left_milli integer not null check (tolerance_left_milli >= 0),
    action_limit_milli integer not null check (action_limit_milli >= 0),
    interval_days integer not null check (interval_days between 7 and 3660),
    minutes integer not null check (minutes between 1 and 480),
    weight integer not null check (weight between 1 and 10),
    version integer not null default 1,
    unique (kind, unit)
  ) strict`,

  // place
  `create table building (
    id integer primary key,
    code text not null unique,
    name text not null default '',
    note text not null default '',
    version integer not null default 1
  ) strict`,
  `create table level (
    id integer primary key,
    building_id integer not null references building (id),
    code text not null,
    name text not null default '',
    sort_order integer,
    walk_minutes integer check (walk_minutes between 0 and 60),
    note text not null default '',
    version integer not null default 1,
    unique (building_id, code)
  ) strict`,
  `create table room (
    id integer primary key,
    building_id integer not null references building (id),
    level_id integer not null references level (id),
    code text not null,
    name text not null default '',
    use text not null default '',
    x_m_milli integer,
    y_m_milli integer,
    note text not null default '',
    version integer not null default 1,
    unique (building_id, code)
  ) strict`,
  `create index room_by_level on room (level_id)`,
  `create table access_window (
    id integer primary key,
    room_id integer not null references room (id),
    position integer not null,
    weekdays text not null,
    from_time text not null,
    to_time text not null check (to_time > from_time),
    unique (room_id, position)
  ) strict`,

  // device
  `create table device (
    id integer primary key,
    tag text not null unique,
    class text not null check (class in ('air_station', 'regulator', 'switchover_relay', 'time_switch', 'main',
      'controller', 'transmitter', 'actuator')),
    name text not null default '',
    building_id integer references building (id),
    level_id integer references level (id),
    room_id integer references room (id),
    in_service_on text ${isoDate('in_service_on')},
    retired_on text ${isoDate('retired_on')},
    pressure_unit ${pressureUnit},
    temperature_unit ${temperatureUnit},
    main_id integer references device (id),
    interval_days integer check (interval_days between 7 and 3660),
    minutes integer check (minutes between 1 and 480),
    note text not null default '',
    version integer not null default 1
  ) strict`,
  `create index device_by_class on device (class, tag)`,
  `create index device_by_main on device (main_id, tag)`,
  `create index device_by_level on device (level_id, tag)`,
  `create index device_by_building on device (building_id, tag)`,
  `create index device_by_room on device (room_id)`,
  `create table air_station (
    device_id integer primary key references device (id),
    capacity_scfm_milli integer check (capacity_scfm_milli >= 0),
    receiver_gal_milli integer check (receiver_gal_milli >= 0),
    coldest_place_milli integer
  ) strict`,
  `create table regulator (
    device_id integer primary key references device (id),
    regulator_kind text not null check (regulator_kind in ('single', 'two-pressure')),
    low_pressure_milli integer not null,
    high_pressure_milli integer,
    relief_pressure_milli integer
  ) strict`,
  `create table time_switch (
    device_id integer primary key references device (id),
    rest_state text ${airState('rest_state')},
    reserve_hours_milli integer check (reserve_hours_milli >= 0)
  ) strict`,
  `create table time_switch_program (
    id integer primary key,
    time_switch_id integer not null references time_switch (device_id),
    position integer not null,
    weekdays text not null,
    from_time text not null,
    to_time text not null check (to_time > from_time),
    air_state text not null ${airState('air_state')},
    unique (time_switch_id, position)
  ) strict`,
  `create table holiday (
    id integer primary key,
    time_switch_id integer not null references time_switch (device_id),
    on_date text not null ${isoDate('on_date')},
    unique (time_switch_id, on_date)
  ) strict`,
  `create table switchover_relay (
    device_id integer primary key references device (id),
    coil_voltage integer check (coil_voltage between 5 and 480),
    no_port text not null check (no_port in ('supply air', 'exhaust', 'low regulator', 'high regulator')),
    nc_port text not null check (nc_port in ('supply air', 'exhaust', 'low regulator', 'high regulator')),
    energised_state text not null ${airState('energised_state')},
    power_loss_state text ${airState('power_loss_state')},
    driven_kind text check (driven_kind in ('time switch', 'hand switch', 'building signal')),
    time_switch_id integer references time_switch (device_id),
    check ((driven_kind = 'time switch') = (time_switch_id is not null) or driven_kind is null and time_switch_id is null)
  ) strict`,
  `create table main (
    device_id integer primary key references device (id),
    main_kind text not null check (main_kind in ('single', 'two-pressure')),
    low_means text check (low_means in ('occupied', 'unoccupied', 'cooling', 'heating')),
    high_means text check (high_means in ('occupied', 'unoccupied', 'cooling', 'heating')),
    low_pressure_milli integer not null,
    high_pressure_milli integer,
    switching text check (switching in ('after hours only', 'in hours', 'never')),
    switch_minutes integer check (switch_minutes between 0 and 240),
    lockout_months text,
    natural_state text ${airState('natural_state')}
  ) strict`,
  `create table main_season (
    id integer primary key,
    main_id integer not null references main (device_id),
    position integer not null,
    from_month_day text not null,
    to_month_day text not null,
    air_state text not null ${airState('air_state')},
    unique (main_id, position)
  ) strict`,
  `create table controller (
    device_id integer primary key references device (id),
    controller_kind text not null check (controller_kind in ('single', 'two-setpoint', 'changeover', 'receiver', 'humidity')),
    rated_low_milli integer,
    rated_high_milli integer,
    trip_rising_milli integer,
    trip_falling_milli integer,
    pipes text check (pipes in ('1', '2'))
  ) strict`,
  `create table transmitter (
    device_id integer primary key references device (id),
    span_low_milli integer not null,
    span_high_milli integer not null,
    output_low_milli integer not null,
    output_high_milli integer not null
  ) strict`,
  `create table actuator (
    device_id integer primary key references device (id),
    actuator_kind text not null check (actuator_kind in ('valve', 'damper')),
    normal_position text not null check (normal_position in ('open', 'closed')),
    spring_start_milli integer not null,
    spring_end_milli integer not null,
    duty text check (duty in ('hot water', 'chilled water', 'changeover coil', 'steam', 'heating air', 'cooling air',
      'outdoor air', 'return air')),
    positioner text check (positioner in ('yes', 'no'))
  ) strict`,
  `create table supplies (
    id integer primary key,
    from_id integer not null references device (id),
    to_id integer not null references device (id),
    port text not null check (port in ('air', 'pilot')),
    position integer not null,
    unique (to_id, from_id, port),
    check (from_id <> to_id)
  ) strict`,
  `create index supplies_from on supplies (from_id)`,

  // test point
  `create table test_point (
    id integer primary key,
    device_id integer not null references device (id),
    kind text not null check (kind in ('setpoint', 'regulator low', 'regulator high', 'spring start', 'spring end',
      'transmitter zero', 'transmitter span', 'relay switching', 'clock', 'dew point')),
    role text not null default '' check (role in ('', 'only', 'occupied', 'unoccupied', 'heating', 'cooling')),
    air_state text ${airState('air_state')},
    nominal_milli integer,
    unit text not null check (unit in ('psi', 'kPa', 'degF', 'degC', 'minutes', 'none')),
    tolerance_milli integer check (tolerance_milli > 0),
    interval_days integer check (interval_days between 7 and 3660),
    minutes integer check (minutes between 1 and 480),
    active integer not null default 1 check (active in (0, 1)),
    last_done_on text ${isoDate('last_done_on')},
    due_on text ${isoDate('due_on')},
    version integer not null default 1,
    unique (device_id, kind, role)
  ) strict`,
  `create index test_point_by_due on test_point (due_on, id) where active = 1`,
  `create table setpoint (
    test_point_id integer primary key references test_point (id),
    role text not null check (role in ('only', 'occupied', 'unoccupied', 'heating', 'cooling')),
    action text not null check (action in ('direct', 'reverse')),
    dial_milli integer not null,
    throttling_range_milli integer not null check (throttling_range_milli > 0),
    output_low_milli integer not null,
    output_high_milli integer not null check (output_high_milli > output_low_milli),
    calibration_basis text not null check (calibration_basis in ('output midpoint', 'spring midpoint', 'stated')),
    calibration_pressure_milli integer,
    note text not null default ''
  ) strict`,

  // people, calendar and gauges
  `create table person (
    id integer primary key,
    name text not null,
    initials text not null unique,
    skills text not null default '[]' check (json_valid(skills)),
    active integer not null default 1 check (active in (0, 1)),
    version integer not null default 1
  ) strict`,
  `create table shift_pattern (
    id integer primary key,
    name text not null unique,
    weekdays text not null,
    from_time text not null,
    to_time text not null check (to_time > from_time),
    minutes integer not null check (minutes between 1 and 1440),
    overtime_minutes integer not null default 0 check (overtime_minutes between 0 and 480),
    occupied integer not null check (occupied in (0, 1)),
    version integer not null default 1
  ) strict`,
  `create table person_shift (
    person_id integer not null references person (id),
    shift_pattern_id integer not null references shift_pattern (id),
    primary key (person_id, shift_pattern_id)
  ) strict`,
  `create table absence (
    id integer primary key,
    person_id integer not null references person (id),
    from_on text not null ${isoDate('from_on')},
    to_on text not null ${isoDate('to_on')},
    reason text not null default '',
    check (to_on >= from_on)
  ) strict`,
  `create table day_off (
    id integer primary key,
    on_date text not null unique ${isoDate('on_date')},
    name text not null default ''
  ) strict`,
  `create table gauge (
    id integer primary key,
    tag text not null unique,
    kind text not null check (kind in ('pressure', 'temperature')),
    unit text not null check (unit in ('psi', 'kPa', 'degF', 'degC')),
    range_low_milli integer not null,
    range_high_milli integer not null,
    accuracy_form text not null check (accuracy_form in ('absolute', 'percent of span', 'grade')),
    accuracy_milli integer,
    accuracy_grade text,
    certificate_due_on text ${isoDate('certificate_due_on')},
    retired_on text ${isoDate('retired_on')},
    version integer not null default 1,
    check (range_high_milli > range_low_milli)
  ) strict`,
  `create table gauge_certificate (
    id integer primary key,
    gauge_id integer not null references gauge (id),
    number text not null,
    issued_on text not null ${isoDate('issued_on')},
    due_on text not null ${isoDate('due_on')},
    doubt_milli integer,
    note text not null default '',
    unique (gauge_id, number)
  ) strict`,

  // record
  `create table calibration (
    id integer primary key,
    test_point_id integer not null references test_point (id),
    done_on text not null ${isoDate('done_on')},
    started_at text ${instant('started_at')},
    ended_at text not null ${instant('ended_at')},
    person_id integer not null references person (id),
    outcome text not null check (outcome in ('held', 'adjusted', 'device failed', 'supply not right', 'no access',
      'unsafe', 'not tested')),
    source text not null check (source in ('bench', 'file', 'sample')),
    unit text not null check (unit in ('psi', 'kPa', 'degF', 'degC', 'minutes', 'none')),
    method text check (method in ('M1', 'M2', 'M3', 'typed')),
    method_version text not null,
    decision_rule text not null check (decision_rule in ('simple acceptance')),
    error_found_milli integer,
    found_relation ${relation('found_relation')},
    verdict_found ${verdict('verdict_found')},
    error_left_milli integer,
    left_relation ${relation('left_relation')},
    verdict_left ${verdict('verdict_left')},
    doubt_milli integer,
    pressure_gauge_id integer references gauge (id),
    temperature_gauge_id integer references gauge (id),
    supply_right integer not null check (supply_right in (0, 1)),
    snapshot_json text not null check (json_valid(snapshot_json)),
    note text not null default '',
    check ((error_found_milli is null) = (found_relation is null)),
    check ((error_left_milli is null) = (left_relation is null))
  ) strict`,
  `create index calibration_by_test_point on calibration (test_point_id, done_on, id)`,
  `create index calibration_by_day on calibration (done_on, id)`,
  `create table reading (
    id integer primary key,
    calibration_id integer not null references calibration (id),
    position integer not null,
    phase text not null check (phase in ('found', 'left', 'check', 'restored')),
    quantity text not null check (quantity in ('main pressure', 'dial', 'room temperature', 'branch pressure',
      'dial at calibration pressure', 'branch dial up', 'branch dial down', 'dial up', 'dial down',
      'branch full travel one way', 'branch full travel other way', 'dial put back', 'value')),
    value_milli integer not null,
    unit text not null check (unit in ('psi', 'kPa', 'degF', 'degC', 'minutes', 'none')),
    air_state text ${airState('air_state')},
    unique (calibration_id, position)
  ) strict`,
  `create table correction (
    id integer primary key,
    replaced_id integer not null unique references calibration (id),
    replacement_id integer not null references calibration (id),
    reason text not null,
    person_id integer not null references person (id),
    at text not null ${instant('at')}
  ) strict`,
  `create table replacement (
    id integer primary key,
    device_id integer not null references device (id),
    new_device_id integer references device (id),
    on_date text not null ${isoDate('on_date')},
    calibration_id integer references calibration (id),
    reason text not null default ''
  ) strict`,
  `create index replacement_by_device on replacement (device_id, on_date)`,
  `create table follow_up (
    id integer primary key,
    device_id integer not null references device (id),
    calibration_id integer references calibration (id),
    cause text not null,
    opened_at text not null ${instant('opened_at')},
    opened_by integer not null references person (id),
    closed_at text ${instant('closed_at')},
    closed_by integer references person (id),
    closing_note text not null default '',
    version integer not null default 1,
    check ((closed_at is null) = (closed_by is null))
  ) strict`,
  `create index follow_up_open on follow_up (device_id) where closed_at is null`,
  `create table setting_change (
    id integer primary key,
    what text not null,
    subject text not null,
    device_id integer references device (id),
    from_value text,
    to_value text,
    at text not null ${instant('at')},
    person_id integer references person (id),
    why text not null default ''
  ) strict`,
  `create index setting_change_by_device on setting_change (device_id, id)`,
  `create table bench_draft (
    device_id integer primary key references device (id),
    draft_json text not null check (json_valid(draft_json)),
    saved_at text not null ${instant('saved_at')}
  ) strict`,

  // chain
  `create table ledger (
    seq integer primary key,
    kind text not null check (kind in ('calibration', 'correction', 'replacement', 'setting change',
      'certificate', 'issued round')),
    record_id integer,
    at text not null ${instant('at')},
    entry_json text not null check (json_valid(entry_json)),
    prev_hash text not null check (length(prev_hash) = 64),
    hash text not null unique check (length(hash) = 64)
  ) strict`,
  `create index ledger_by_record on ledger (kind, record_id)`,

  // plan
  `create table round (
    id integer primary key,
    name text not null,
    from_on text not null ${isoDate('from_on')},
    to_on text not null ${isoDate('to_on')},
    seed integer not null,
    status text not null check (status in ('draft', 'issued', 'closed')),
    drawn_at text not null ${instant('drawn_at')},
    evaluations integer not null,
    instance_json text not null check (json_valid(instance_json)),
    figures_json text not null check (json_valid(figures_json)),
    version integer not null default 1,
    check (to_on >= from_on)
  ) strict`,
  `create table visit (
    id integer primary key,
    round_id integer not null references round (id),
    slot integer not null,
    on_date text not null ${isoDate('on_date')},
    shift_pattern_id integer not null references shift_pattern (id),
    person_id integer not null references person (id),
    position integer not null,
    building_id integer references building (id),
    level_id integer references level (id),
    room_id integer references room (id),
    main_id integer references device (id),
    air_state text ${airState('air_state')},
    no_access_reason text,
    unique (round_id, slot, person_id, position)
  ) strict`,
  `create index visit_by_day on visit (round_id, on_date, person_id, position)`,
  `create table task (
    id integer primary key,
    round_id integer not null references round (id),
    task_key text not null,
    device_id integer not null references device (id),
    kind text not null,
    role text not null default '' check (role in ('', 'only', 'occupied', 'unoccupied', 'heating', 'cooling')),
    minutes integer not null check (minutes >= 0),
    due_on text not null ${isoDate('due_on')},
    visit_id integer references visit (id),
    position integer,
    unique (round_id, task_key)
  ) strict`,
  `create index task_by_visit on task (visit_id, position)`,
  `create index task_by_device on task (device_id)`,
  `create table task_test_point (
    task_id integer not null references task (id),
    test_point_id integer not null references test_point (id),
    primary key (task_id, test_point_id)
  ) strict`,
  `create index task_test_point_by_point on task_test_point (test_point_id)`,
  `create table placement_reason (
    task_id integer primary key references task (id),
    code text not null,
    detail text not null default ''
  ) strict`,
  `create table pin (
    task_id integer primary key references task (id),
    slot integer not null,
    person_id integer not null references person (id)
  ) strict`,

  // full-text find over devices; the rows are kept by db/deviceSearch.ts in the same transaction
  `create virtual table device_search using fts5 (tag, name, class, place, main, tokenize = "unicode61 tokenchars '-_.'", prefix = '1 2 3')`,
];

/** Append-only: rows of a record are never changed or removed, by any statement, on any connection of ours. */
const appendOnly = [
  'calibration',
  'reading',
  'correction',
  'replacement',
  'setting_change',
  'gauge_certificate',
  'ledger',
];

function appendOnlyTriggers(table: string): string[] {
  return [
    `create trigger ${table}_never_updated before update on ${table}
      begin select raise(abort, 'append-only: ${table} rows are never changed'); end`,
    `create trigger ${table}_never_deleted before delete on ${table}
      begin select raise(abort, 'append-only: ${table} rows are never removed'); end`,
  ];
}

function insertTrigger(table: string, key: string): string {
  return `create trigger ${table}_appended_last before insert on ${table}
    when new.${key} is not null and new.${key} <= (select coalesce(max(${key}), 0) from ${table})
      and exists (select 1 from ${table} where ${key} = new.${key})
    begin select raise(abort, 'append-only: ${table} rows are never replaced'); end`;
}

const ledgerTrigger = `create trigger ledger_continues_chain before insert on ledger
  when new.seq <> (select coalesce(max(seq), 0) + 1 from ledger)
    or new.prev_hash <> coalesce((select hash from ledger order by seq desc limit 1),
      '0000000000000000000000000000000000000000000000000000000000000000')
  begin select raise(abort, 'append-only: a ledger entry must continue the chain'); end`;

export async function up(db: Kysely<any>): Promise<void> {
  for (const statement of statements) await sql.raw(statement).execute(db);
  for (const table of appendOnly) {
    for (const trigger of appendOnlyTriggers(table)) await sql.raw(trigger).execute(db);
    await sql.raw(table === 'ledger' ? ledgerTrigger : insertTrigger(table, 'id')).execute(db);
  }
  await sql
    .raw(
      `insert into class_default (kind, unit, tolerance_milli, tolerance_left_milli, action_limit_milli, interval_days, minutes, weight) values
      ('setpoint', 'degF', 1000, 500, 2000, 365, 15, 4),
      ('setpoint', 'degC', 600, 300, 1100, 365, 15, 4),
      ('regulator low', 'psi', 500, 500, 1000, 365, 15, 8),
      ('regulator low', 'kPa', 3500, 3500, 7000, 365, 15, 8),
      ('regulator high', 'psi', 500, 500, 1000, 365, 10, 8),
      ('regulator high', 'kPa', 3500, 3500, 7000, 365, 10, 8),
      ('spring start', 'psi', 500, 500, 1000, 730, 10, 3),
      ('spring start', 'kPa', 3500, 3500, 7000, 730, 10, 3),
      ('spring end', 'psi', 500, 500, 1000, 730, 5, 3),
      ('spring end', 'kPa', 3500, 3500, 7000, 730, 5, 3),
      ('transmitter zero', 'psi', 120, 120, 240, 365, 15, 4),
      ('transmitter zero', 'kPa', 800, 800, 1600, 365, 15, 4),
      ('transmitter span', 'psi', 120, 120, 240, 365, 10, 4),
      ('transmitter span', 'kPa', 800, 800, 1600, 365, 10, 4),
      ('relay switching', 'none', 0, 0, 0, 365, 15, 7),
      ('clock', 'minutes', 5000, 5000, 10000, 182, 15, 6),
      ('dew point', 'degF', 2000, 2000, 5000, 182, 180, 9),
      ('dew point', 'degC', 1000, 1000, 3000, 182, 180, 9)`,
    )
    .execute(db);
}
