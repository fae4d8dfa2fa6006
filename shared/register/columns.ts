/**
 * The register's columns, once for everything: CSV files, forms, device pages, the documentation and the
 * database all follow this list. A row describes a place, a device or a setpoint; its class says which
 * columns it may and must fill.
 */
import { deviceClasses, setpointRoles } from '../trade/words.ts';
import type { DeviceClass } from '../trade/words.ts';
import { airStates, portContents } from '../trade/switchover.ts';
import { calibrationBases, controllerActions } from '../trade/proportional.ts';
import { normalPositions } from '../trade/actuators.ts';
import { pressureUnits, temperatureUnits } from '../units/units.ts';

export const placeClasses = ['building', 'level', 'room'] as const;
export type PlaceClass = (typeof placeClasses)[number];
export const rowClasses = [...placeClasses, ...deviceClasses, 'setpoint'] as const;
export type RowClass = (typeof rowClasses)[number];

export type ColumnKind =
  | 'text'
  | 'code'
  | 'tag'
  | 'tags'
  | 'choice'
  | 'pressure'
  | 'temperature'
  | 'temperature difference'
  | 'decimal'
  | 'integer'
  | 'date'
  | 'dates'
  | 'access list'
  | 'programme list'
  | 'season list'
  | 'month list';

export type Column = {
  name: string;
  label: string;
  kind: ColumnKind;
  /** Which classes may fill it, and which must. */
  on: Partial<Record<RowClass, 'must' | 'may'>>;
  help: string;
  choices?: readonly string[];
  /** Allowed range in the column's base unit (psi, degF, or the number itself), limits included. */
  range?: { from: number; to: number };
};

function on(must: readonly RowClass[], may: readonly RowClass[] = []): Column['on'] {
  return Object.fromEntries([
    ...must.map((c) => [c, 'must'] as const),
    ...may.map((c) => [c, 'may'] as const),
  ]);
}

const devices = deviceClasses;
const withPressures: readonly RowClass[] = [
  'regulator',
  'main',
  'controller',
  'transmitter',
  'actuator',
  'setpoint',
];
const withTemperatures: readonly RowClass[] = ['air_station', 'controller', 'transmitter', 'setpoint'];
const controllerKinds = ['single', 'two-setpoint', 'changeover', 'receiver', 'humidity'] as const;
const duties = [
  'hot water',
  'chilled water',
  'changeover coil',
  'steam',
  'heating air',
  'cooling air',
  'outdoor air',
  'return air',
] as const;

export const columns: readonly Column[] = [
  {
    name: 'class',
    label: 'Class',
    kind: 'choice',
    choices: rowClasses,
    on: on(rowClasses),
    help: 'what the row describes',
  },
  {
    name: 'tag',
    label: 'Tag',
    kind: 'code',
    on: on([...devices, 'setpoint']),
    help: 'the label on the device, unique in the book; on a setpoint row the tag of its controller',
  },
  {
    name: 'role',
    label: 'Role',
    kind: 'choice',
    choices: setpointRoles,
    on: on(['setpoint']),
    help: 'which setpoint of the controller',
  },
  {
    name: 'building',
    label: 'Building',
    kind: 'code',
    on: on(['building', 'level', 'room'], devices),
    help: 'building code',
  },
  {
    name: 'level',
    label: 'Level',
    kind: 'code',
    on: on(['level', 'room'], devices),
    help: 'level code within the building',
  },
  {
    name: 'room',
    label: 'Room',
    kind: 'code',
    on: on(['room'], devices),
    help: 'room code within the building',
  },
  {
    name: 'name',
    label: 'Name',
    kind: 'text',
    on: on(
      [],
      rowClasses.filter((c) => c !== 'setpoint'),
    ),
    help: 'name or short description',
  },
  {
    name: 'sort_order',
    label: 'Order',
    kind: 'integer',
    range: { from: -50, to: 500 },
    on: on([], ['level']),
    help: 'order of the levels from below',
  },
  {
    name: 'walk_minutes',
    label: 'Walk to the level',
    kind: 'integer',
    range: { from: 0, to: 60 },
    on: on([], ['level']),
    help: 'minutes to walk to this level from the one below',
  },
  { name: 'use', label: 'Use', kind: 'text', on: on([], ['room']), help: 'what the room is used for' },
  {
    name: 'x_m',
    label: 'x',
    kind: 'decimal',
    range: { from: -10000, to: 10000 },
    on: on([], ['room']),
    help: 'walking coordinate in metres',
  },
  {
    name: 'y_m',
    label: 'y',
    kind: 'decimal',
    range: { from: -10000, to: 10000 },
    on: on([], ['room']),
    help: 'walking coordinate in metres',
  },
  {
    name: 'access',
    label: 'Access',
    kind: 'access list',
    on: on([], ['room']),
    help: 'when the room may be entered, as `12345 07:00-17:00`, several separated by `|`; empty = always',
  },
  {
    name: 'floor_area_ft2',
    label: 'Floor area, ft²',
    kind: 'decimal',
    range: { from: 0, to: 50000000 },
    on: on([], ['building']),
    help: 'heated floor area of the building',
  },
  {
    name: 'heat_loss_btu_hf',
    label: 'Heat loss, Btu/(h·°F)',
    kind: 'decimal',
    range: { from: 0, to: 50000000 },
    on: on([], ['building']),
    help: 'loss of the whole building by its skin and its outdoor air: the sum of U·A plus 1.08 times the outdoor cfm; empty = not known, and no fuel is worked out',
  },
  {
    name: 'gain_btu_h',
    label: 'Heat gains, Btu/h',
    kind: 'decimal',
    range: { from: 0, to: 500000000 },
    on: on([], ['building']),
    help: 'mean gains by people, light, machines and sun over the year',
  },
  {
    name: 'night_gain_btu_h',
    label: 'Gains at night, Btu/h',
    kind: 'decimal',
    range: { from: 0, to: 500000000 },
    on: on([], ['building']),
    help: 'gains while nobody is there; empty = a quarter of the mean',
  },
  {
    name: 'time_constant_h',
    label: 'Time constant, h',
    kind: 'decimal',
    range: { from: 1, to: 500 },
    on: on([], ['building']),
    help: 'hours in which the building, left alone, falls by 63 % of the way to where it would settle; empty = 32, a building of middling mass (common practice)',
  },
  {
    name: 'heating_efficiency',
    label: 'Heating efficiency',
    kind: 'decimal',
    range: { from: 0.1, to: 1 },
    on: on([], ['building']),
    help: 'useful heat for a unit of fuel, 0.1 to 1; empty = not known',
  },
  {
    name: 'cooling_kwh_year',
    label: 'Cooling, kWh a year',
    kind: 'decimal',
    range: { from: 0, to: 1000000000 },
    on: on([], ['building']),
    help: 'metered electricity for cooling in a year',
  },
  {
    name: 'in_service_on',
    label: 'In service',
    kind: 'date',
    on: on(
      devices.filter((c) => c !== 'main'),
      ['main'],
    ),
    help: 'date put in service',
  },
  {
    name: 'retired_on',
    label: 'Retired',
    kind: 'date',
    on: on([], devices),
    help: 'date taken out of service',
  },
  {
    name: 'pressure_unit',
    label: 'Pressure unit',
    kind: 'choice',
    choices: pressureUnits,
    on: on([], withPressures),
    help: 'unit of the row’s pressures; empty = the unit declared for the file',
  },
  {
    name: 'temperature_unit',
    label: 'Temperature unit',
    kind: 'choice',
    choices: temperatureUnits,
    on: on([], withTemperatures),
    help: 'unit of the row’s temperatures; empty = the unit declared for the file',
  },
  {
    name: 'fed_by',
    label: 'Fed by',
    kind: 'tags',
    on: on([], devices),
    help: 'what feeds it air: tags separated by `|`',
  },
  {
    name: 'pilot_by',
    label: 'Piloted by',
    kind: 'tag',
    on: on([], ['regulator']),
    help: 'the switchover relay on the pilot port of a two-pressure regulator',
  },
  {
    name: 'capacity_scfm',
    label: 'Capacity, scfm',
    kind: 'decimal',
    range: { from: 0, to: 10000 },
    on: on([], ['air_station']),
    help: 'tested capacity of the compressors',
  },
  {
    name: 'receiver_gal',
    label: 'Receiver, gal',
    kind: 'decimal',
    range: { from: 0, to: 10000 },
    on: on([], ['air_station']),
    help: 'volume of the receiver',
  },
  {
    name: 'motor_kw',
    label: 'Motor, kW',
    kind: 'decimal',
    range: { from: 0, to: 10000 },
    on: on([], ['air_station']),
    help: 'power of the compressors while they run, measured or by nameplate',
  },
  {
    name: 'altitude_ft',
    label: 'Altitude, ft',
    kind: 'integer',
    range: { from: -1500, to: 15000 },
    on: on([], ['air_station']),
    help: 'height above the sea; empty = sea level',
  },
  {
    name: 'bleed_scim',
    label: 'Steady air use, scim',
    kind: 'decimal',
    range: { from: 0, to: 10000 },
    on: on([], ['switchover_relay', 'controller', 'transmitter', 'actuator']),
    help: 'what it takes while nothing moves, by its own sheet; empty = by its kind',
  },
  {
    name: 'coldest_place',
    label: 'Coldest place',
    kind: 'temperature',
    range: { from: -60, to: 150 },
    on: on([], ['air_station']),
    help: 'lowest temperature that any tubing meets',
  },
  {
    name: 'regulator_kind',
    label: 'Regulator kind',
    kind: 'choice',
    choices: ['single', 'two-pressure'],
    on: on(['regulator']),
    help: 'a two-pressure regulator has a pilot port',
  },
  {
    name: 'main_kind',
    label: 'Main kind',
    kind: 'choice',
    choices: ['single', 'two-pressure'],
    on: on(['main']),
    help: 'one pressure or two',
  },
  {
    name: 'low_means',
    label: 'Low means',
    kind: 'choice',
    choices: ['occupied', 'unoccupied', 'cooling', 'heating'],
    on: on([], ['main']),
    help: 'what the low pressure of a two-pressure main asks for',
  },
  {
    name: 'high_means',
    label: 'High means',
    kind: 'choice',
    choices: ['occupied', 'unoccupied', 'cooling', 'heating'],
    on: on([], ['main']),
    help: 'what the high pressure asks for',
  },
  {
    name: 'low_pressure',
    label: 'Low pressure',
    kind: 'pressure',
    range: { from: 0, to: 150 },
    on: on(['regulator', 'main']),
    help: 'the low setting, or the only one',
  },
  {
    name: 'high_pressure',
    label: 'High pressure',
    kind: 'pressure',
    range: { from: 0, to: 150 },
    on: on([], ['regulator', 'main']),
    help: 'the high setting',
  },
  {
    name: 'relief_pressure',
    label: 'Relief',
    kind: 'pressure',
    range: { from: 0, to: 200 },
    on: on([], ['regulator']),
    help: 'setting of the relief valve',
  },
  {
    name: 'switching',
    label: 'Switching by hand',
    kind: 'choice',
    choices: ['after hours only', 'in hours', 'never'],
    on: on([], ['main']),
    help: 'when the main may be held at the state it would not have by itself; empty = never',
  },
  {
    name: 'switch_minutes',
    label: 'Minutes per switching',
    kind: 'integer',
    range: { from: 0, to: 240 },
    on: on([], ['main']),
    help: 'minutes one change of pressure takes, walk and settling included; empty = 15',
  },
  {
    name: 'portable_minutes',
    label: 'More minutes by portable supply',
    kind: 'integer',
    range: { from: 1, to: 240 },
    on: on([], ['main']),
    help: 'minutes more that a setpoint takes from a portable two-pressure supply, without touching the main; empty = there is none',
  },
  {
    name: 'held',
    label: 'Held as left',
    kind: 'choice',
    choices: ['yes', 'no'],
    on: on([], ['main']),
    help: '`yes` in a shut building only: the main stays as it was left, its time switch overridden, until the next change; empty = no',
  },
  {
    name: 'lockout_months',
    label: 'Lockout months',
    kind: 'month list',
    on: on([], ['main']),
    help: 'months (1-12, separated by `|`) in which the main must not be switched by hand, for frost or heat',
  },
  {
    name: 'natural_state',
    label: 'Natural state',
    kind: 'choice',
    choices: airStates,
    on: on([], ['main']),
    help: 'state of a two-pressure main that no time switch and no season drives; empty = low',
  },
  {
    name: 'seasons',
    label: 'Seasons',
    kind: 'season list',
    on: on([], ['main']),
    help: 'air state by season, as `05-01/09-30 low`, several separated by `|`, the whole year covered once',
  },
  {
    name: 'coil_voltage',
    label: 'Coil voltage',
    kind: 'integer',
    range: { from: 5, to: 480 },
    on: on([], ['switchover_relay']),
    help: 'coil voltage in volts',
  },
  {
    name: 'no_port',
    label: 'Port open without current',
    kind: 'choice',
    choices: portContents,
    on: on(['switchover_relay']),
    help: 'what sits on the port that is open de-energised',
  },
  {
    name: 'nc_port',
    label: 'Port open with current',
    kind: 'choice',
    choices: portContents,
    on: on(['switchover_relay']),
    help: 'what sits on the port that is open energised',
  },
  {
    name: 'energised_state',
    label: 'Air state energised',
    kind: 'choice',
    choices: airStates,
    on: on(['switchover_relay']),
    help: 'air state of the main while the coil has current',
  },
  {
    name: 'power_loss_state',
    label: 'Wanted on power loss',
    kind: 'choice',
    choices: airStates,
    on: on([], ['switchover_relay']),
    help: 'air state wanted when the power fails',
  },
  {
    name: 'driven_by',
    label: 'Driven by',
    kind: 'code',
    on: on([], ['switchover_relay']),
    help: 'tag of a time switch, or `hand switch`, or `building signal`',
  },
  {
    name: 'programme',
    label: 'Programme',
    kind: 'programme list',
    on: on([], ['time_switch']),
    help: 'air state by weekday and time, as `12345 06:00-18:00 low`, several separated by `|`',
  },
  {
    name: 'rest_state',
    label: 'State at other times',
    kind: 'choice',
    choices: airStates,
    on: on([], ['time_switch']),
    help: 'air state outside the programme',
  },
  {
    name: 'holidays',
    label: 'Holidays',
    kind: 'dates',
    on: on([], ['time_switch']),
    help: 'dates on which the rest state holds all day, separated by `|`',
  },
  {
    name: 'reserve_hours',
    label: 'Reserve, hours',
    kind: 'decimal',
    range: { from: 0, to: 10000 },
    on: on([], ['time_switch']),
    help: 'how long it keeps time without power',
  },
  {
    name: 'controller_kind',
    label: 'Controller kind',
    kind: 'choice',
    choices: controllerKinds,
    on: on(['controller']),
    help: 'how many setpoints, and what the air state changes',
  },
  {
    name: 'rated_low',
    label: 'Rated low',
    kind: 'pressure',
    range: { from: 0, to: 50 },
    on: on([], ['controller']),
    help: 'lower figure of the rated changeover pair',
  },
  {
    name: 'rated_high',
    label: 'Rated high',
    kind: 'pressure',
    range: { from: 0, to: 50 },
    on: on([], ['controller']),
    help: 'upper figure of the rated changeover pair',
  },
  {
    name: 'trip_rising',
    label: 'Measured, rising',
    kind: 'pressure',
    range: { from: 0, to: 50 },
    on: on([], ['controller']),
    help: 'measured changeover pressure, main rising',
  },
  {
    name: 'trip_falling',
    label: 'Measured, falling',
    kind: 'pressure',
    range: { from: 0, to: 50 },
    on: on([], ['controller']),
    help: 'measured changeover pressure, main falling',
  },
  {
    name: 'pipes',
    label: 'Pipes',
    kind: 'choice',
    choices: ['1', '2'],
    on: on([], ['controller']),
    help: 'one-pipe (restrictor) or two-pipe (relay)',
  },
  {
    name: 'served_area_ft2',
    label: 'Served area, ft²',
    kind: 'decimal',
    range: { from: 0, to: 10000000 },
    on: on([], ['controller']),
    help: 'floor area that it keeps; its share of the building’s loss follows from it',
  },
  {
    name: 'span_low',
    label: 'Span from',
    kind: 'temperature',
    range: { from: -100, to: 500 },
    on: on(['transmitter']),
    help: 'temperature at the start of the signal',
  },
  {
    name: 'span_high',
    label: 'Span to',
    kind: 'temperature',
    range: { from: -100, to: 500 },
    on: on(['transmitter']),
    help: 'temperature at the end of the signal',
  },
  {
    name: 'actuator_kind',
    label: 'Actuator kind',
    kind: 'choice',
    choices: ['valve', 'damper'],
    on: on(['actuator']),
    help: 'valve or damper',
  },
  {
    name: 'normal_position',
    label: 'Normal position',
    kind: 'choice',
    choices: normalPositions,
    on: on(['actuator']),
    help: 'where the spring puts it without air',
  },
  {
    name: 'spring_start',
    label: 'Spring start',
    kind: 'pressure',
    range: { from: 0, to: 30 },
    on: on(['actuator']),
    help: 'pressure of first movement, nominal',
  },
  {
    name: 'spring_end',
    label: 'Spring end',
    kind: 'pressure',
    range: { from: 0, to: 30 },
    on: on(['actuator']),
    help: 'pressure of full travel, nominal',
  },
  {
    name: 'duty',
    label: 'Carries',
    kind: 'choice',
    choices: duties,
    on: on([], ['actuator']),
    help: 'what it carries',
  },
  {
    name: 'positioner',
    label: 'Positioner',
    kind: 'choice',
    choices: ['yes', 'no'],
    on: on([], ['actuator']),
    help: 'has a positioner',
  },
  {
    name: 'full_load_btu_h',
    label: 'Full load, Btu/h',
    kind: 'decimal',
    range: { from: 0, to: 100000000 },
    on: on([], ['actuator']),
    help: 'heat or cold that its coil gives fully open; what an overlap wastes follows from it',
  },
  {
    name: 'action',
    label: 'Action',
    kind: 'choice',
    choices: controllerActions,
    on: on(['setpoint']),
    help: 'direct: output rises with temperature',
  },
  {
    name: 'dial',
    label: 'Dial',
    kind: 'temperature',
    range: { from: -60, to: 300 },
    on: on(['setpoint']),
    help: 'working value of the dial',
  },
  {
    name: 'throttling_range',
    label: 'Throttling range',
    kind: 'temperature difference',
    range: { from: 0.2, to: 60 },
    on: on(['setpoint']),
    help: 'temperature change that swings the output through its range',
  },
  {
    name: 'output_low',
    label: 'Output from',
    kind: 'pressure',
    range: { from: 0, to: 30 },
    on: on(['setpoint', 'transmitter']),
    help: 'start of the output range',
  },
  {
    name: 'output_high',
    label: 'Output to',
    kind: 'pressure',
    range: { from: 0, to: 30 },
    on: on(['setpoint', 'transmitter']),
    help: 'end of the output range',
  },
  {
    name: 'calibration_basis',
    label: 'Calibration basis',
    kind: 'choice',
    choices: calibrationBases,
    on: on(['setpoint']),
    help: 'what the calibration pressure follows from',
  },
  {
    name: 'calibration_pressure',
    label: 'Calibration pressure',
    kind: 'pressure',
    range: { from: 0, to: 30 },
    on: on([], ['setpoint']),
    help: 'needed when the basis is `stated`',
  },
  {
    name: 'reset_from_at',
    label: 'Reset from',
    kind: 'temperature',
    range: { from: -100, to: 500 },
    on: on([], ['setpoint']),
    help: 'other temperature (usually outdoors) at which the reset of a receiver-controller begins',
  },
  {
    name: 'reset_from_setpoint',
    label: 'Setpoint there',
    kind: 'temperature',
    range: { from: -100, to: 500 },
    on: on([], ['setpoint']),
    help: 'setpoint at that temperature',
  },
  {
    name: 'reset_to_at',
    label: 'Reset to',
    kind: 'temperature',
    range: { from: -100, to: 500 },
    on: on([], ['setpoint']),
    help: 'other temperature at which the reset ends',
  },
  {
    name: 'reset_to_setpoint',
    label: 'Setpoint at its end',
    kind: 'temperature',
    range: { from: -100, to: 500 },
    on: on([], ['setpoint']),
    help: 'setpoint at the end of the reset',
  },
  {
    name: 'tolerance',
    label: 'Tolerance',
    kind: 'temperature difference',
    range: { from: 0.1, to: 20 },
    on: on([], ['setpoint']),
    help: 'permitted as-found error; empty = the default of the class',
  },
  {
    name: 'interval_days',
    label: 'Interval, days',
    kind: 'integer',
    range: { from: 7, to: 3660 },
    on: on([], [...devices, 'setpoint']),
    help: 'days between calibrations; empty = the default of the class',
  },
  {
    name: 'minutes',
    label: 'Minutes',
    kind: 'integer',
    range: { from: 1, to: 480 },
    on: on([], [...devices.filter((c) => c !== 'controller'), 'setpoint']),
    help: 'minutes for the visit; empty = the default of the class',
  },
  { name: 'note', label: 'Note', kind: 'text', on: on([], rowClasses), help: 'remarks' },
];

const byName = new Map(columns.map((column) => [column.name, column]));

/** A column by its name; null when there is none. */
export function columnNamed(name: string): Column | null {
  return byName.get(name) ?? null;
}

/** The columns that rows of a class may fill, in file order. */
export function columnsOf(rowClass: RowClass): Column[] {
  return columns.filter((column) => column.on[rowClass] !== undefined);
}

/** True for the classes that stand in the device table. */
export function isDeviceClass(rowClass: RowClass): rowClass is DeviceClass {
  return (deviceClasses as readonly string[]).includes(rowClass);
}

/** Setpoint roles that a kind of controller has. */
export function rolesOfController(kind: string): readonly string[] {
  if (kind === 'two-setpoint') return ['occupied', 'unoccupied'];
  if (kind === 'changeover') return ['heating', 'cooling'];
  return ['only'];
}
