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
