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

/** The unit that UCUM writes so; null for any other text. */
export function unitOfUcum(code: string): Unit | null {
  const found = Object.entries(ucum).find(([, own]) => own === code);
  return found ? (found[0] as Unit) : null;
}

export function ucumOf(unit: Unit): string {
  return ucum[unit];
}

/** Of a difference: an error, a tolerance, a doubt. */
export function ucumOfDifference(unit: Unit): string {
  return unit === 'degC' ? 'K' : ucum[unit];
}

const airUnit: Record<string, string> = {
  minutes: 'min',
  hours: 'h',
  psi: '[psi]',
  kPa: 'kPa',
  gal: '[gal_us]',
  ft3: '[ft_i]3',
  L: 'L',
  scfm: '[ft_i]3/min',
  scim: '[in_i]3/min',
  'L/min': 'L/min',
  'mg/m3': 'mg/m3',
  'per m3': '/m3',
  um: 'um',
};

/** Of a test of a station. */
export function ucumOfAir(unit: string): string {
  return airUnit[unit] ?? unit;
}
