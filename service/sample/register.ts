/**
 * The register of the sample site, Wexmoor Civic Hall and Annex: all of it invented. Rows are canonical text,
 * loaded through the same door as any file.
 */
import type { RegisterRow, RowValues } from '../../shared/register/row.ts';
import type { RowClass } from '../../shared/register/columns.ts';

type MainPlan = {
  main: string;
  building: 'HALL' | 'ANNEX' | 'STORES';
  wing: string;
  levels: string[];
  count: number;
  kind: 'two-setpoint' | 'changeover' | 'single';
  rated: [string, string] | null;
};

const mainPlans: readonly MainPlan[] = [
  {
    main: 'HM-N',
    building: 'HALL',
    wing: 'N',
    levels: ['1', '2', '3', '4'],
    count: 45,
    kind: 'two-setpoint',
    rated: ['13', '18'],
  },
  {
    main: 'HM-S',
    building: 'HALL',
    wing: 'S',
    levels: ['1', '2', '3', '4'],
    count: 45,
    kind: 'two-setpoint',
    rated: ['13', '18'],
  },
  {
    main: 'HM-F',
    building: 'HALL',
    wing: 'F',
    levels: ['1', '2', '3', '4'],
    count: 30,
    kind: 'changeover',
    rated: ['13', '18'],
  },
  {
    main: 'AM-E',
    building: 'ANNEX',
    wing: 'E',
    levels: ['1', '2', '3'],
    count: 30,
    kind: 'two-setpoint',
    rated: ['16', '21'],
  },
  {
    main: 'AM-W',
    building: 'ANNEX',
    wing: 'W',
    levels: ['1', '2', '3'],
    count: 40,
    kind: 'single',
    rated: null,
  },
  {
    // Shut since the winter of 2025: its main stays as it was left, and its checks go on.
    main: 'ZM-S',
    building: 'STORES',
    wing: 'Z',
    levels: ['1'],
    count: 4,
    kind: 'two-setpoint',
    rated: ['13', '18'],
  },
];

const uses = [
  'office',
  'office',
  'meeting room',
  'office',
  'archive',
  'office',
  'reading room',
  'committee room',
  'office',
  'studio',
];
const holidays = [
  '2026-12-25',
  '2026-12-28',
  '2027-01-01',
  '2027-03-26',
  '2027-03-29',
  '2027-05-03',
  '2027-05-31',
  '2027-08-30',
  '2027-12-27',
  '2027-12-28',
];
/** What one controller keeps, ft2; the stores, and a room here and there, are not known. */
const areas: Partial<Record<MainPlan['building'], string>> = { HALL: '340', ANNEX: '360' };
/** Every one of these controllers was put in with metric hardware at a refit. */
const metricRooms = new Set(['W3-11', 'W3-12', 'W3-13', 'W3-14']);

function row(rowClass: RowClass, values: RowValues): RegisterRow {
  return { rowClass, values: { class: rowClass, ...values } };
}

function pad(value: number): string {
  return String(value).padStart(2, '0');
}

function placesAndSupply(): RegisterRow[] {
  const hall = { building: 'HALL', level: 'B', room: 'B-01' };
  const annex = { building: 'ANNEX', level: '1', room: 'P-01' };
  const stores = { building: 'STORES', level: '1', room: 'Z-00' };
  const psi = { pressure_unit: 'psi' };
  const since = { in_service_on: '1964-09-01' };
  const sinceAnnex = { in_service_on: '1971-05-01' };
  const byHandSwitch = {
    coil_voltage: '24',
    no_port: 'supply air',
    nc_port: 'exhaust',
    energised_state: 'low',
    power_loss_state: 'high',
    driven_by: 'hand switch',
  };
  const regulator = (tag: string, place: RowValues, fedBy: string, own: RowValues): RegisterRow =>
    row('regulator', { tag, ...place, ...psi, fed_by: fedBy, relief_pressure: '25', ...own });
  const main = (tag: string, place: RowValues, fedBy: string, own: RowValues): RegisterRow =>
    row('main', {
      tag,
      building: place.building,
      ...psi,
      ...(place.building === 'HALL' ? since : sinceAnnex),
      fed_by: fedBy,
      switch_minutes: '15',
      ...own,
    });
  return [
    row('building', {
      building: 'HALL',
      name: 'Wexmoor Civic Hall',
      note: 'Built 1964',
      floor_area_ft2: '48000',
      heat_loss_btu_hf: '12000',
      gain_btu_h: '144000',
      night_gain_btu_h: '36000',
      time_constant_h: '32',
      heating_efficiency: '0.8',
      cooling_kwh_year: '96000',
    }),
    row('building', {
      building: 'ANNEX',
      name: 'Wexmoor Annex',
      note: 'Built 1971',
      floor_area_ft2: '28000',
      heat_loss_btu_hf: '7600',
      gain_btu_h: '84000',
      night_gain_btu_h: '20000',
      heating_efficiency: '0.78',
    }),
    row('level', { building: 'HALL', level: 'B', name: 'Basement', sort_order: '0', walk_minutes: '2' }),
    ...['1', '2', '3', '4'].map((level) =>
      row('level', { building: 'HALL', level, name: `Floor ${level}`, sort_order: level, walk_minutes: '2' }),
    ),
    ...['1', '2', '3'].map((level) =>
      row('level', {
        building: 'ANNEX',
        level,
        name: `Floor ${level}`,
        sort_order: level,
        walk_minutes: '2',
      }),
    ),
    row('building', { building: 'STORES', name: 'Wexmoor Stores', note: 'Built 1968, shut since 2025' }),
    row('level', { building: 'STORES', level: '1', name: 'Floor 1', sort_order: '1', walk_minutes: '2' }),
    row('room', { ...stores, name: 'Pipe cupboard', use: 'plant', x_m: '1', y_m: '2' }),
    row('room', { ...hall, name: 'Plant room', use: 'plant', x_m: '4', y_m: '3' }),
    row('room', { ...annex, name: 'Air closet', use: 'plant', x_m: '2', y_m: '2' }),
    row('air_station', {
      tag: 'AS-HALL',
      ...hall,
      ...since,
      name: 'Hall air station',
      temperature_unit: 'degF',
      capacity_scfm: '14',
      motor_kw: '3.7',
      receiver_gal: '80',
      coldest_place: '48',
    }),
    row('air_station', {
      tag: 'AS-ANNEX',
      ...annex,
      ...sinceAnnex,
      name: 'Annex air station',
      temperature_unit: 'degF',
      capacity_scfm: '9',
      motor_kw: '2.2',
      receiver_gal: '60',
      coldest_place: '52',
    }),
    row('time_switch', {
      tag: 'TS-HALL',
      ...hall,
      in_service_on: '1998-03-02',
      programme: '12345 06:00-18:00 low|6 08:00-13:00 low',
      rest_state: 'high',
      holidays: holidays.join('|'),
      reserve_hours: '72',
    }),
    row('time_switch', {
      tag: 'TS-ANNEX',
      ...annex,
      in_service_on: '2004-10-11',
      programme: '12345 06:30-19:00 low',
      rest_state: 'high',
      holidays: holidays.join('|'),
      reserve_hours: '72',
    }),
    row('switchover_relay', {
      tag: 'SR-HN',
      ...hall,
      ...since,
      coil_voltage: '120',
      no_port: 'supply air',
      nc_port: 'exhaust',
      energised_state: 'low',
      power_loss_state: 'high',
      driven_by: 'TS-HALL',
      fed_by: 'AS-HALL',
    }),
    row('switchover_relay', {
      tag: 'SR-HS',
      ...hall,
      ...since,
      coil_voltage: '120',
      no_port: 'high regulator',
      nc_port: 'low regulator',
      energised_state: 'low',
      power_loss_state: 'high',
      driven_by: 'TS-HALL',
      fed_by: 'PRV-HS-LO|PRV-HS-HI',
    }),
    row('switchover_relay', {
      tag: 'SR-HF',
      ...hall,
      in_service_on: '1988-06-20',
      ...byHandSwitch,
      fed_by: 'AS-HALL',
    }),
    row('switchover_relay', {
      tag: 'SR-AE',
      ...annex,
      ...sinceAnnex,
      coil_voltage: '24',
      no_port: 'exhaust',
      nc_port: 'supply air',
      energised_state: 'high',
      power_loss_state: 'low',
      driven_by: 'TS-ANNEX',
      fed_by: 'AS-ANNEX',
    }),
    regulator('PRV-HN', hall, 'AS-HALL', {
      ...since,
      regulator_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
      pilot_by: 'SR-HN',
    }),
    regulator('PRV-HS-LO', hall, 'AS-HALL', { ...since, regulator_kind: 'single', low_pressure: '13' }),
    regulator('PRV-HS-HI', hall, 'AS-HALL', { ...since, regulator_kind: 'single', low_pressure: '18' }),
    regulator('PRV-HF', hall, 'AS-HALL', {
      in_service_on: '1988-06-20',
      regulator_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
      pilot_by: 'SR-HF',
    }),
    regulator('PRV-AE', annex, 'AS-ANNEX', {
      ...sinceAnnex,
      regulator_kind: 'two-pressure',
      low_pressure: '16',
      high_pressure: '21',
      pilot_by: 'SR-AE',
      relief_pressure: '28',
    }),
    regulator('PRV-AW', annex, 'AS-ANNEX', {
      ...sinceAnnex,
      regulator_kind: 'single',
      low_pressure: '20',
      relief_pressure: '28',
    }),
    main('HM-N', hall, 'PRV-HN', {
      name: 'Hall north',
      main_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
      low_means: 'occupied',
      high_means: 'unoccupied',
      switching: 'after hours only',
    }),
    main('HM-S', hall, 'SR-HS', {
      name: 'Hall south',
      main_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
      low_means: 'occupied',
      high_means: 'unoccupied',
      switching: 'after hours only',
    }),
    main('HM-F', hall, 'PRV-HF', {
      name: 'Hall fan-coil units',
      main_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
      low_means: 'cooling',
      high_means: 'heating',
      switching: 'in hours',
      portable_minutes: '12',
      lockout_months: '12|1|2',
      seasons: '05-01/09-30 low|10-01/04-30 high',
    }),
    main('AM-E', annex, 'PRV-AE', {
      name: 'Annex east wing',
      main_kind: 'two-pressure',
      low_pressure: '16',
      high_pressure: '21',
      low_means: 'occupied',
      high_means: 'unoccupied',
      switching: 'in hours',
    }),
    main('AM-W', annex, 'PRV-AW', { name: 'Annex west wing', main_kind: 'single', low_pressure: '20' }),
    row('switchover_relay', {
      tag: 'ZR-S',
      ...stores,
      ...sinceAnnex,
      ...byHandSwitch,
      fed_by: 'AS-ANNEX',
    }),
    regulator('ZV-S', stores, 'AS-ANNEX', {
      ...sinceAnnex,
      regulator_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
      pilot_by: 'ZR-S',
    }),
    main('ZM-S', stores, 'ZV-S', {
      name: 'Stores',
      main_kind: 'two-pressure',
      low_pressure: '13',
      high_pressure: '18',
      low_means: 'occupied',
      high_means: 'unoccupied',
      switching: 'in hours',
      held: 'yes',
    }),
    row('transmitter', {
      tag: 'TX-HALL-OA',
      building: 'HALL',
      level: '4',
      in_service_on: '1988-06-20',
      pressure_unit: 'psi',
      temperature_unit: 'degF',
      span_low: '-40',
      span_high: '160',
      output_low: '3',
      output_high: '15',
      fed_by: 'HM-N',
      name: 'Outdoor air temperature',
    }),
    ...heatingWater(),
    ...archive(),
  ];
}

/** The heating water of the hall, reset by the outdoor temperature: put in this autumn. */
function heatingWater(): RegisterRow[] {
  const place = { building: 'HALL', level: 'B', room: 'B-01' };
  const units = { pressure_unit: 'psi', temperature_unit: 'degF' };
  const put = { in_service_on: '2026-10-19' };
  return [
    row('transmitter', {
      tag: 'TX-HALL-HW',
      ...place,
      ...put,
      ...units,
      span_low: '40',
      span_high: '240',
      output_low: '3',
      output_high: '15',
      fed_by: 'HM-N',
      name: 'Heating water temperature',
    }),
    row('controller', {
      tag: 'RC-HALL-HW',
      ...place,
      ...put,
      ...units,
      controller_kind: 'receiver',
      fed_by: 'TX-HALL-HW|HM-N',
      name: 'Heating water, reset from outdoors',
    }),
    row('setpoint', {
      tag: 'RC-HALL-HW',
      role: 'only',
      ...units,
      action: 'direct',
      dial: '140',
      throttling_range: '20',
      output_low: '3',
      output_high: '13',
      calibration_basis: 'output midpoint',
      tolerance: '4',
      reset_from_at: '0',
      reset_from_setpoint: '180',
      reset_to_at: '60',
      reset_to_setpoint: '100',
    }),
  ];
}

/** The archive keeps its humidity. */
function archive(): RegisterRow[] {
  const place = { building: 'ANNEX', level: '1', room: 'P-01' };
  const units = { pressure_unit: 'psi', temperature_unit: 'degF' };
  return [
    row('controller', {
      tag: 'HC-ARCHIVE',
      ...place,
      ...units,
      in_service_on: '2026-10-19',
      controller_kind: 'humidity',
      fed_by: 'AM-W',
      name: 'Archive humidity',
    }),
    row('setpoint', {
      tag: 'HC-ARCHIVE',
      role: 'only',
      ...units,
      action: 'reverse',
      dial: '45',
      throttling_range: '20',
      output_low: '3',
      output_high: '13',
      calibration_basis: 'output midpoint',
    }),
  ];
}

type SetpointPlan = { role: string; action: 'direct' | 'reverse'; dial: string };

function setpointPlans(kind: MainPlan['kind']): SetpointPlan[] {
  if (kind === 'two-setpoint')
    return [
      { role: 'occupied', action: 'direct', dial: '71' },
      { role: 'unoccupied', action: 'direct', dial: '62' },
    ];
  if (kind === 'changeover')
    return [
      { role: 'heating', action: 'direct', dial: '70' },
      { role: 'cooling', action: 'reverse', dial: '75' },
    ];
  return [{ role: 'only', action: 'direct', dial: '71' }];
}

/** One room with its controller, setpoints and actuators. The first actuator governs where springs decide. */
function roomRows(plan: MainPlan, index: number): RegisterRow[] {
  const level = plan.levels[index % plan.levels.length];
  const number = Math.floor(index / plan.levels.length) + 1;
  const short = `${plan.wing}${level}-${pad(number)}`;
  const metric = metricRooms.has(short);
  const place = { building: plan.building, level, room: short };
  const units = metric
    ? { pressure_unit: 'kPa', temperature_unit: 'degC' }
    : { pressure_unit: 'psi', temperature_unit: 'degF' };
  const since = metric
    ? '1998-08-17'
    : plan.building === 'HALL'
      ? plan.kind === 'changeover'
        ? '1988-06-20'
        : '1964-09-01'
      : '1971-05-01';
  const controller = `TC-${short}`;
  const sequenced = plan.kind !== 'changeover' && index % 16 < 7;
  const rows = [
    row('room', {
      ...place,
      name: `${plan.wing} ${level}${pad(number)}`,
      use: uses[index % uses.length],
      x_m: String(4 * number + (plan.wing === 'S' || plan.wing === 'W' ? 60 : 0)),
      y_m: String(plan.wing === 'F' ? 24 : (index % 2) * 12),
      ...(index % 23 === 7 ? { access: '12345 06:00-17:00' } : {}),
    }),
    row('controller', {
      tag: controller,
      ...place,
      ...units,
      in_service_on: since,
      controller_kind: plan.kind,
      fed_by: plan.main,
      pipes: index % 3 === 0 ? '1' : '2',
      ...(areas[plan.building] === undefined || index % 13 === 12
        ? {}
        : { served_area_ft2: areas[plan.building] }),
      ...(plan.rated ? { rated_low: plan.rated[0], rated_high: plan.rated[1] } : {}),
      ...(plan.rated && index % 11 === 4
        ? {
            trip_falling: String(Number(plan.rated[0]) + 1.6),
            trip_rising: String(Number(plan.rated[1]) - 1.7),
          }
        : {}),
    }),
  ];
  const springBasis = !sequenced && plan.kind === 'single' && !metric;
  for (const setpoint of setpointPlans(plan.kind))
    rows.push(
      row('setpoint', {
        tag: controller,
        role: setpoint.role,
        ...units,
        action: setpoint.action,
        dial: metric ? '21.5' : setpoint.dial,
        throttling_range: metric ? '2' : '4',
        output_low: metric ? '20' : '3',
        output_high: metric ? '90' : '13',
        ...(springBasis
          ? { calibration_basis: 'spring midpoint' }
          : metric
            ? { calibration_basis: 'output midpoint' }
            : sequenced
              ? { calibration_basis: 'stated', calibration_pressure: '8' }
              : { calibration_basis: 'output midpoint' }),
      }),
    );
  const actuator = (tag: string, own: RowValues): RegisterRow =>
    row('actuator', {
      tag,
      ...place,
      pressure_unit: units.pressure_unit,
      in_service_on: since,
      actuator_kind: 'valve',
      fed_by: controller,
      positioner: index % 29 === 3 ? 'yes' : 'no',
      ...own,
    });
  if (plan.kind === 'changeover')
    rows.push(
      actuator(`VF-${short}`, {
        normal_position: 'open',
        spring_start: '3',
        spring_end: '8',
        duty: 'changeover coil',
      }),
    );
  else if (sequenced)
    rows.push(
      actuator(`VH-${short}`, {
        normal_position: 'open',
        spring_start: metric ? '20' : '3',
        spring_end: metric ? '48' : '7',
        duty: 'hot water',
      }),
      actuator(`VK-${short}`, {
        normal_position: 'closed',
        spring_start: metric ? '55' : '8',
        spring_end: metric ? '83' : '12',
        duty: 'chilled water',
      }),
    );
  else
    rows.push(
      actuator(`VH-${short}`, {
        normal_position: 'open',
        spring_start: metric ? '20' : '3',
        spring_end: metric ? '55' : '8',
        duty: 'hot water',
      }),
    );
  return rows;
}

/** Every row of the sample register. */
export function sampleRegister(): RegisterRow[] {
  return [
    ...placesAndSupply(),
    ...mainPlans.flatMap((plan) =>
      Array.from({ length: plan.count }, (_, index) => roomRows(plan, index)).flat(),
    ),
  ];
}
