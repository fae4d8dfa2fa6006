/** Which test points a register row brings, with nominal value and unit. */
import type { TestPointKind } from '../trade/words.ts';
import { parseMilli } from '../units/units.ts';
import type { ScaleUnit, TemperatureUnit, Unit } from '../units/units.ts';
import type { RowValues } from './row.ts';
import type { RowClass } from './columns.ts';

export type TestPointSpec = { kind: TestPointKind; nominalMilli: number | null; unit: Unit };

function milliOf(values: RowValues, column: string): number | null {
  return values[column] === undefined ? null : parseMilli(values[column]);
}

/** Test points of a device row; setpoints come from their own rows. Units are the row's own. */
export function testPointsOf(rowClass: RowClass, values: RowValues): TestPointSpec[] {
  const pressure = (values.pressure_unit ?? 'psi') as Unit;
  const temperature = (values.temperature_unit ?? 'degF') as Unit;
  switch (rowClass) {
    case 'air_station':
      return [{ kind: 'dew point', nominalMilli: null, unit: temperature }];
    case 'regulator': {
      const low: TestPointSpec = {
        kind: 'regulator low',
        nominalMilli: milliOf(values, 'low_pressure'),
        unit: pressure,
      };
      const high = milliOf(values, 'high_pressure');
      return high === null ? [low] : [low, { kind: 'regulator high', nominalMilli: high, unit: pressure }];
    }
    case 'switchover_relay':
      return [{ kind: 'relay switching', nominalMilli: null, unit: 'none' }];
    case 'time_switch':
      return [{ kind: 'clock', nominalMilli: 0, unit: 'minutes' }];
    case 'main': {
      const low: TestPointSpec = {
        kind: 'main low',
        nominalMilli: milliOf(values, 'low_pressure'),
        unit: pressure,
      };
      const high = values.main_kind === 'two-pressure' ? milliOf(values, 'high_pressure') : null;
      return high === null ? [low] : [low, { kind: 'main high', nominalMilli: high, unit: pressure }];
    }
    case 'transmitter':
      return [
        { kind: 'transmitter zero', nominalMilli: milliOf(values, 'output_low'), unit: pressure },
        { kind: 'transmitter span', nominalMilli: milliOf(values, 'output_high'), unit: pressure },
      ];
    case 'actuator':
      return [
        { kind: 'spring start', nominalMilli: milliOf(values, 'spring_start'), unit: pressure },
        { kind: 'spring end', nominalMilli: milliOf(values, 'spring_end'), unit: pressure },
      ];
    default:
      return [];
  }
}

/** Unit that a controller's dial is marked in: percent of relative humidity on a humidity controller. */
export function scaleUnitOf(controllerKind: string, temperatureUnit: TemperatureUnit | null): ScaleUnit {
  return controllerKind === 'humidity' ? 'percent' : (temperatureUnit ?? 'degF');
}

/**
 * The air state that a setpoint asks for on a main; null when it asks for none (a single main, or a
 * single-setpoint controller), `unknown` when the main's two pressures do not mean the role.
 */
export function airStateOfRole(
  role: string,
  main: { kind: string; lowMeans: string | null; highMeans: string | null } | null,
): 'low' | 'high' | null | 'unknown' {
  if (role === 'only') return null;
  if (main?.kind !== 'two-pressure') return 'unknown';
  if (main.lowMeans === role) return 'low';
  return main.highMeans === role ? 'high' : 'unknown';
}
