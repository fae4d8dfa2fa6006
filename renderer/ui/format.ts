/** How figures are written on screens. */
import { differenceLabel, formatMilli, unitLabel } from '../../shared/units/units.ts';
import type { Unit } from '../../shared/units/units.ts';

/** A stored value with its unit; an en dash where there is none. */
export function valueText(milli: number | null, unit: Unit): string {
  if (milli === null) return '–';
  const label = unitLabel(unit);
  return label === '' ? formatMilli(milli) : `${formatMilli(milli)} ${label}`;
}

/** A signed difference with its unit (K for degC), and the sign of a bound before it. */
export function differenceText(milli: number | null, unit: Unit, relation: string | null = '='): string {
  if (milli === null) return '–';
  const sign = milli > 0 ? '+' : milli < 0 ? '−' : '';
  const bound = relation === '>=' ? '≥ ' : relation === '<=' ? '≤ ' : '';
  return `${bound}${sign}${formatMilli(Math.abs(milli))} ${differenceLabel(unit)}`.trim();
}

/** A figure with its sign before it. */
export function signedText(value: number, digits: number): string {
  const figure = Math.abs(value).toFixed(digits);
  return `${Number(figure) === 0 ? '' : value > 0 ? '+' : '−'}${figure}`;
}

/** A tolerance: ±1 °F. */
export function toleranceText(milli: number, unit: Unit): string {
  return `±${formatMilli(milli)} ${differenceLabel(unit)}`.trim();
}

/** Minutes as people read them: 45 min, 6 h 30. */
export function minutesText(minutes: number): string {
  const hours = Math.floor(minutes / 60);
  return hours === 0 ? `${minutes} min` : `${hours} h ${String(minutes % 60).padStart(2, '0')}`;
}

/** Text as a label: first letter large. */
export function sentence(text: string): string {
  return text === '' ? '' : text[0].toUpperCase() + text.slice(1);
}

/** A probability in parts per million as people read it: 97.1 %; never 100 % or 0 % where there is doubt left. */
export function likelihoodText(ppm: number): string {
  if (ppm >= 999_500) return 'more than 99.9 % likely';
  if (ppm < 500) return 'less than 0.1 % likely';
  return `${formatMilli(Math.round(ppm / 1000) * 100)} % likely`;
}

/** A flow, with the digits that it deserves: 1.59 scfm, 0.075 scfm. */
export function flowText(scfm: number): string {
  return `${plainFigure(scfm)} scfm`;
}

/** A worked-out figure with three significant digits, without decimals from a hundred on. */
export function plainFigure(value: number): string {
  const shown = Math.abs(value) >= 100 ? Math.round(value) : Number(value.toPrecision(3));
  return String(shown).replace('-', '−');
}

/** A share as percent with one decimal. */
export function percentText(share: number): string {
  return `${Number((share * 100).toFixed(1))} %`;
}
