/** retrofit.csv and actuators.csv: quantities of a retrofit, and what an actuator that is kept must be known by. */
import type { RetrofitQuantities } from '../../../shared/contract/retrofit.ts';
import { retrofitOptions } from '../../../shared/retrofit/units.ts';
import type { Parts } from '../../../shared/retrofit/units.ts';
import type { CsvRows } from '../packWriter.ts';
import { figure, inPieces, once, text } from './cells.ts';
import type { Cells } from './cells.ts';

const partNames = {
  sensors: 'sensors',
  controllers: 'controllers',
  transducers: 'transducers',
  electricActuators: 'electric_actuators',
  thermostats: 'radio_thermostats',
  ai: 'ai',
  ao: 'ao',
  bi: 'bi',
  bo: 'bo',
  actuatorsKept: 'actuators_kept',
} as const satisfies Record<keyof Parts, string>;
export const partColumns = Object.values(partNames).flatMap((name) => [`${name}_low`, `${name}_high`]);

export const retrofitColumns = ['building', 'unit', 'option', 'units', 'actuators', ...partColumns];

function partCells(parts: Parts): Cells {
  return Object.fromEntries(
    (Object.entries(partNames) as [keyof Parts, string][]).flatMap(([key, name]) => [
      [`${name}_low`, String(parts[key].low)],
      [`${name}_high`, String(parts[key].high)],
    ]),
  );
}

/** One row a building, kind of unit and option. */
export function retrofitTable({ units }: RetrofitQuantities): CsvRows {
  return once(
    units.flatMap((unit) =>
      retrofitOptions.map((option) => ({
        building: text(unit.building),
        unit: unit.kind,
        option,
        units: String(unit.units),
        actuators: String(unit.actuators),
        ...partCells(unit.options[option]),
      })),
    ),
  );
}

export const actuatorColumns = [
  'asset',
  'controller',
  'building',
  'room',
  'kind',
  'carries',
  'normal_position',
  'positioner',
  'spring_start_psi',
  'spring_end_psi',
  'measured_start_psi',
  'measured_start_on',
  'measured_end_psi',
  'measured_end_on',
];

/** One row an actuator in use. */
export function actuatorTable({ actuators }: RetrofitQuantities): CsvRows {
  return inPieces(actuators, (one) => [
    {
      asset: one.tag,
      controller: text(one.controller),
      building: text(one.building),
      room: text(one.room),
      kind: one.kind,
      carries: text(one.duty),
      normal_position: one.normalPosition,
      positioner: text(one.positioner),
      spring_start_psi: figure(one.springStart),
      spring_end_psi: figure(one.springEnd),
      measured_start_psi: one.measuredStart === null ? '' : figure(one.measuredStart.value),
      measured_start_on: text(one.measuredStart?.on),
      measured_end_psi: one.measuredEnd === null ? '' : figure(one.measuredEnd.value),
      measured_end_on: text(one.measuredEnd?.on),
    },
  ]);
}
