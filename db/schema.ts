/** Table types, generated from the migrated schema by scripts/schemaTypes.ts. Do not edit. */
import type { Generated } from 'kysely';

export type AbsenceTable = {
  id: Generated<number>;
  person_id: number;
  from_on: string;
  to_on: string;
  reason: Generated<string>;
};

export type AccessWindowTable = {
  id: Generated<number>;
  room_id: number;
  position: number;
  weekdays: string;
  from_time: string;
  to_time: string;
};

export type ActuatorTable = {
  device_id: number;
  actuator_kind: 'valve' | 'damper';
  normal_position: 'open' | 'closed';
  spring_start_milli: number;
  spring_end_milli: number;
  duty:
    | 'hot water'
    | 'chilled water'
    | 'changeover coil'
    | 'steam'
    | 'heating air'
    | 'cooling air'
    | 'outdoor air'
    | 'return air'
    | null;
  positioner: 'yes' | 'no' | null;
  bleed_scim_milli: number | null;
  full_load_btu_h_milli: number | null;
};

export type AirStationTable = {
  device_id: number;
  capacity_scfm_milli: number | null;
  receiver_gal_milli: number | null;
  coldest_place_milli: number | null;
  motor_kw_milli: number | null;
  altitude_ft: number | null;
};

export type AirTestTable = {
  id: Generated<number>;
  device_id: number;
  kind:
    | 'on and off'
    | 'hour meter'
    | 'bleed-down'
    | 'regulated demand'
    | 'pump-up'
    | 'air quality'
    | 'bleed of a device';
  done_on: string;
  person_id: number;
  pressure_gauge_id: number | null;
  method_version: string;
  flow_scim_milli: number | null;
  share_ppm: number | null;
  note: Generated<string>;
  replaces_id: number | null;
  reason: Generated<string>;
  snapshot_json: string;
  at: string;
};

export type AirTestReadingTable = {
  id: Generated<number>;
  air_test_id: number;
  position: number;
  quantity: string;
  value_milli: number;
  unit: string;
};

export type BenchDraftTable = {
  device_id: number;
  draft_json: string;
  saved_at: string;
};

export type BuildingTable = {
  id: Generated<number>;
  code: string;
  name: Generated<string>;
  note: Generated<string>;
  version: Generated<number>;
  floor_area_ft2_milli: number | null;
  heat_loss_btu_hf_milli: number | null;
  gain_btu_h_milli: number | null;
  night_gain_btu_h_milli: number | null;
  time_constant_h_milli: number | null;
  heating_efficiency_milli: number | null;
  cooling_kwh_year_milli: number | null;
};

export type CalibrationTable = {
  id: Generated<number>;
  test_point_id: number;
  done_on: string;
  started_at: string | null;
  ended_at: string;
  person_id: number;
  outcome: 'held' | 'adjusted' | 'device failed' | 'supply not right' | 'no access' | 'unsafe' | 'not tested';
  source: 'bench' | 'paper' | 'file' | 'sample';
  unit: 'psi' | 'kPa' | 'degF' | 'degC' | 'minutes' | 'seconds' | 'percent' | 'V' | 'ml' | 'none';
  method: 'M1' | 'M2' | 'M3' | 'typed' | 'read' | 'proved' | 'test pressure' | null;
  method_version: string;
  decision_rule: 'simple acceptance' | 'guard band 0.83 U' | 'guard band U' | 'guard band by ratio';
  error_found_milli: number | null;
  found_relation: '=' | '>=' | '<=' | null;
  verdict_found: 'inside' | 'inside, in doubt' | 'outside, in doubt' | 'outside' | 'unknown' | null;
  error_left_milli: number | null;
  left_relation: '=' | '>=' | '<=' | null;
  verdict_left: 'inside' | 'inside, in doubt' | 'outside, in doubt' | 'outside' | 'unknown' | null;
  doubt_milli: number | null;
  doubt_left_milli: number | null;
  conformance_found_ppm: number | null;
  conformance_left_ppm: number | null;
  pressure_gauge_id: number | null;
  temperature_gauge_id: number | null;
  supply_right: 0 | 1;
  snapshot_json: string;
  note: Generated<string>;
  card_id: number | null;
};

export type ClassDefaultTable = {
  id: Generated<number>;
  kind:
    | 'setpoint'
    | 'regulator low'
    | 'regulator high'
    | 'main low'
    | 'main high'
    | 'spring start'
    | 'spring end'
    | 'transmitter zero'
    | 'transmitter span'
    | 'relay switching'
    | 'clock'
    | 'dew point';
  unit: 'psi' | 'kPa' | 'degF' | 'degC' | 'minutes' | 'seconds' | 'percent' | 'V' | 'ml' | 'none';
  tolerance_milli: number;
  tolerance_left_milli: number;
  action_limit_milli: number;
  interval_days: number;
  minutes: number;
  weight: number;
  version: Generated<number>;
};

export type ControllerTable = {
  device_id: number;
  controller_kind: 'single' | 'two-setpoint' | 'changeover' | 'receiver' | 'humidity';
  rated_low_milli: number | null;
  rated_high_milli: number | null;
  trip_rising_milli: number | null;
  trip_falling_milli: number | null;
  pipes: '1' | '2' | null;
  bleed_scim_milli: number | null;
  served_area_ft2_milli: number | null;
};

export type CorrectionTable = {
  id: Generated<number>;
  replaced_id: number;
  replacement_id: number;
  reason: string;
  person_id: number;
  at: string;
};

export type DayOffTable = {
  id: Generated<number>;
  on_date: string;
  name: Generated<string>;
};

export type DeviceTable = {
  id: Generated<number>;
  tag: string;
  class:
    | 'air_station'
    | 'regulator'
    | 'switchover_relay'
    | 'time_switch'
    | 'main'
    | 'controller'
    | 'transmitter'
    | 'actuator';
  name: Generated<string>;
  building_id: number | null;
  level_id: number | null;
  room_id: number | null;
  in_service_on: string | null;
  retired_on: string | null;
  pressure_unit: 'psi' | 'kPa' | null;
  temperature_unit: 'degF' | 'degC' | null;
  main_id: number | null;
  interval_days: number | null;
  minutes: number | null;
  note: Generated<string>;
  version: Generated<number>;
};

export type EnergyBillTable = {
  id: Generated<number>;
  meter: string;
  month: string;
  use_milli: number;
  unit: 'therm' | 'kWh';
  cost_milli: number | null;
};

export type FollowUpTable = {
  id: Generated<number>;
  device_id: number;
  calibration_id: number | null;
  cause: string;
  opened_at: string;
  opened_by: number;
  closed_at: string | null;
  closed_by: number | null;
  closing_note: Generated<string>;
  version: Generated<number>;
  symptom: string | null;
  likely_json: Generated<string>;
  assigned_to: number | null;
  closing_calibration_id: number | null;
  part_of_id: number | null;
};

export type GaugeTable = {
  id: Generated<number>;
  tag: string;
  kind: 'pressure' | 'temperature' | 'humidity';
  unit: 'psi' | 'kPa' | 'degF' | 'degC' | 'percent';
  range_low_milli: number;
  range_high_milli: number;
  accuracy_form: 'absolute' | 'percent of span' | 'grade';
  accuracy_milli: number | null;
  accuracy_grade: string | null;
  step_milli: number | null;
  certificate_due_on: string | null;
  retired_on: string | null;
  version: Generated<number>;
};

export type GaugeCertificateTable = {
  id: Generated<number>;
  gauge_id: number;
  number: string;
  issued_on: string;
  due_on: string;
  doubt_milli: number | null;
  note: Generated<string>;
};

export type HolidayTable = {
  id: Generated<number>;
  time_switch_id: number;
  on_date: string;
};

export type InstrumentFaultTable = {
  id: Generated<number>;
  gauge_id: number;
  found_on: string;
  since_on: string;
  bias_milli: number;
  unit: 'psi' | 'kPa' | 'degF' | 'degC' | 'percent';
  note: Generated<string>;
  person_id: number;
  at: string;
};

export type LeakTable = {
  id: Generated<number>;
  device_id: number;
  place: string;
  found_on: string;
  person_id: number;
  diameter_micro: number;
  diameter_unit: 'in' | 'mm';
  pressure_milli: number;
  pressure_unit: 'psi' | 'kPa';
  coefficient_milli: number | null;
  method_version: string;
  low_scim_milli: number;
  typical_scim_milli: number;
  high_scim_milli: number;
  note: Generated<string>;
  replaces_id: number | null;
  reason: Generated<string>;
  snapshot_json: string;
  at: string;
};

export type LeakMendedTable = {
  id: Generated<number>;
  leak_id: number;
  mended_on: string;
  person_id: number;
  note: Generated<string>;
  at: string;
};

export type LedgerTable = {
  seq: number;
  kind:
    | 'calibration'
    | 'correction'
    | 'replacement'
    | 'setting change'
    | 'certificate'
    | 'instrument fault'
    | 'issued round'
    | 'air test'
    | 'leak'
    | 'leak mended';
  record_id: number | null;
  at: string;
  entry_json: string;
  prev_hash: string;
  hash: string;
};

export type LevelTable = {
  id: Generated<number>;
  building_id: number;
  code: string;
  name: Generated<string>;
  sort_order: number | null;
  walk_minutes: number | null;
  note: Generated<string>;
  version: Generated<number>;
};

export type MainTable = {
  device_id: number;
  main_kind: 'single' | 'two-pressure';
  low_means: 'occupied' | 'unoccupied' | 'cooling' | 'heating' | null;
  high_means: 'occupied' | 'unoccupied' | 'cooling' | 'heating' | null;
  low_pressure_milli: number;
  high_pressure_milli: number | null;
  switching: 'after hours only' | 'in hours' | 'never' | null;
  switch_minutes: number | null;
  lockout_months: string | null;
  natural_state: 'low' | 'high' | null;
  portable_minutes: number | null;
  held: 'yes' | 'no' | null;
};

export type MainSeasonTable = {
  id: Generated<number>;
  main_id: number;
  position: number;
  from_month_day: string;
  to_month_day: string;
  air_state: 'low' | 'high';
};

export type PaperDraftTable = {
  sheet: string;
  draft_json: string;
  revision: number;
  saved_at: string;
};

export type PersonTable = {
  id: Generated<number>;
  name: string;
  initials: string;
  skills: Generated<string>;
  active: Generated<0 | 1>;
  version: Generated<number>;
};

export type PersonShiftTable = {
  person_id: number;
  shift_pattern_id: number;
};

export type PinTable = {
  task_id: number;
  slot: number;
  person_id: number;
};

export type PlacementReasonTable = {
  task_id: number;
  code: string;
  detail: Generated<string>;
};

export type ReadingTable = {
  id: Generated<number>;
  calibration_id: number;
  position: number;
  phase: 'found' | 'left' | 'check' | 'restored';
  quantity: string;
  value_milli: number | null;
  value_text: string | null;
  unit: 'psi' | 'kPa' | 'degF' | 'degC' | 'minutes' | 'seconds' | 'percent' | 'V' | 'ml' | 'none';
  air_state: 'low' | 'high' | null;
};

export type RegulatorTable = {
  device_id: number;
  regulator_kind: 'single' | 'two-pressure';
  low_pressure_milli: number;
  high_pressure_milli: number | null;
  relief_pressure_milli: number | null;
};

export type ReplacementTable = {
  id: Generated<number>;
  device_id: number;
  new_device_id: number | null;
  on_date: string;
  calibration_id: number | null;
  reason: Generated<string>;
};

export type RoomTable = {
  id: Generated<number>;
  building_id: number;
  level_id: number;
  code: string;
  name: Generated<string>;
  use: Generated<string>;
  x_m_milli: number | null;
  y_m_milli: number | null;
  note: Generated<string>;
  version: Generated<number>;
};

export type RoundTable = {
  id: Generated<number>;
  name: string;
  from_on: string;
  to_on: string;
  seed: number;
  status: 'draft' | 'issued' | 'closed';
  drawn_at: string;
  evaluations: number;
  instance_json: string;
  figures_json: string;
  version: Generated<number>;
  moved_json: string | null;
};

export type SetpointTable = {
  test_point_id: number;
  role: 'only' | 'occupied' | 'unoccupied' | 'heating' | 'cooling';
  action: 'direct' | 'reverse';
  dial_milli: number;
  throttling_range_milli: number;
  output_low_milli: number;
  output_high_milli: number;
  calibration_basis: 'output midpoint' | 'spring midpoint' | 'stated';
  calibration_pressure_milli: number | null;
  note: Generated<string>;
  reset_from_at_milli: number | null;
  reset_from_setpoint_milli: number | null;
  reset_to_at_milli: number | null;
  reset_to_setpoint_milli: number | null;
};

export type SettingTable = {
  key: string;
  value_json: string;
  version: Generated<number>;
};

export type SettingChangeTable = {
  id: Generated<number>;
  what: string;
  subject: string;
  device_id: number | null;
  from_value: string | null;
  to_value: string | null;
  at: string;
  person_id: number | null;
  why: Generated<string>;
};

export type ShiftPatternTable = {
  id: Generated<number>;
  name: string;
  weekdays: string;
  from_time: string;
  to_time: string;
  minutes: number;
  overtime_minutes: Generated<number>;
  occupied: 0 | 1;
  version: Generated<number>;
};

export type SuppliesTable = {
  id: Generated<number>;
  from_id: number;
  to_id: number;
  port: 'air' | 'pilot';
  position: number;
};

export type SwitchoverRelayTable = {
  device_id: number;
  coil_voltage: number | null;
  no_port: 'supply air' | 'exhaust' | 'low regulator' | 'high regulator';
  nc_port: 'supply air' | 'exhaust' | 'low regulator' | 'high regulator';
  energised_state: 'low' | 'high';
  power_loss_state: 'low' | 'high' | null;
  driven_kind: 'time switch' | 'hand switch' | 'building signal' | null;
  time_switch_id: number | null;
  bleed_scim_milli: number | null;
};

export type TaskTable = {
  id: Generated<number>;
  round_id: number;
  task_key: string;
  device_id: number;
  kind: string;
  role: Generated<'' | 'only' | 'occupied' | 'unoccupied' | 'heating' | 'cooling'>;
  minutes: number;
  due_on: string;
  visit_id: number | null;
  position: number | null;
};

export type TaskTestPointTable = {
  task_id: number;
  test_point_id: number;
};

export type TestPointTable = {
  id: Generated<number>;
  device_id: number;
  kind:
    | 'setpoint'
    | 'regulator low'
    | 'regulator high'
    | 'main low'
    | 'main high'
    | 'spring start'
    | 'spring end'
    | 'transmitter zero'
    | 'transmitter span'
    | 'relay switching'
    | 'clock'
    | 'dew point';
  role: Generated<'' | 'only' | 'occupied' | 'unoccupied' | 'heating' | 'cooling'>;
  air_state: 'low' | 'high' | null;
  nominal_milli: number | null;
  unit: 'psi' | 'kPa' | 'degF' | 'degC' | 'minutes' | 'seconds' | 'percent' | 'V' | 'ml' | 'none';
  tolerance_milli: number | null;
  interval_days: number | null;
  minutes: number | null;
  active: Generated<0 | 1>;
  last_done_on: string | null;
  due_on: string | null;
  version: Generated<number>;
};

export type TimeSwitchTable = {
  device_id: number;
  rest_state: 'low' | 'high' | null;
  reserve_hours_milli: number | null;
};

export type TimeSwitchProgramTable = {
  id: Generated<number>;
  time_switch_id: number;
  position: number;
  weekdays: string;
  from_time: string;
  to_time: string;
  air_state: 'low' | 'high';
};

export type TransmitterTable = {
  device_id: number;
  span_low_milli: number;
  span_high_milli: number;
  output_low_milli: number;
  output_high_milli: number;
  bleed_scim_milli: number | null;
};

export type VisitTable = {
  id: Generated<number>;
  round_id: number;
  slot: number;
  on_date: string;
  shift_pattern_id: number;
  person_id: number;
  position: number;
  building_id: number | null;
  level_id: number | null;
  room_id: number | null;
  main_id: number | null;
  air_state: 'low' | 'high' | null;
  no_access_reason: string | null;
};

export type BookTables = {
  absence: AbsenceTable;
  access_window: AccessWindowTable;
  actuator: ActuatorTable;
  air_station: AirStationTable;
  air_test: AirTestTable;
  air_test_reading: AirTestReadingTable;
  bench_draft: BenchDraftTable;
  building: BuildingTable;
  calibration: CalibrationTable;
  class_default: ClassDefaultTable;
  controller: ControllerTable;
  correction: CorrectionTable;
  day_off: DayOffTable;
  device: DeviceTable;
  energy_bill: EnergyBillTable;
  follow_up: FollowUpTable;
  gauge: GaugeTable;
  gauge_certificate: GaugeCertificateTable;
  holiday: HolidayTable;
  instrument_fault: InstrumentFaultTable;
  leak: LeakTable;
  leak_mended: LeakMendedTable;
  ledger: LedgerTable;
  level: LevelTable;
  main: MainTable;
  main_season: MainSeasonTable;
  paper_draft: PaperDraftTable;
  person: PersonTable;
  person_shift: PersonShiftTable;
  pin: PinTable;
  placement_reason: PlacementReasonTable;
  reading: ReadingTable;
  regulator: RegulatorTable;
  replacement: ReplacementTable;
  room: RoomTable;
  round: RoundTable;
  setpoint: SetpointTable;
  setting: SettingTable;
  setting_change: SettingChangeTable;
  shift_pattern: ShiftPatternTable;
  supplies: SuppliesTable;
  switchover_relay: SwitchoverRelayTable;
  task: TaskTable;
  task_test_point: TaskTestPointTable;
  test_point: TestPointTable;
  time_switch: TimeSwitchTable;
  time_switch_program: TimeSwitchProgramTable;
  transmitter: TransmitterTable;
  visit: VisitTable;
};
