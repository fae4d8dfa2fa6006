/** Units as UCUM writes them; a difference of temperatures in degC is one in K. */
import type { Unit } from '../../shared/units/units.ts';

const ucum: Record<Unit, string> = {
  psi: '[psi]',
  kPa: 'kPa',
  degF: '[degF]',
  degC: 'Cel',
  minutes: 'min',
  seconds: 's',
  percent: '%',
  V: 'V',
  ml: 'mL',
  none: '1',
};

export function ucumOf(unit: Unit): string {
  return ucum[unit];
}

/** Of a difference: an error, a tolerance, a doubt. */
export function ucumOfDifference(unit: Unit): string {
  return unit === 'degC' ? 'K' : ucum[unit];
}
