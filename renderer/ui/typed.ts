/** Figures as people type them. */
import { parseMilli } from '../../shared/units/units.ts';

/** A typed figure in thousandths; a point and a comma both count as the decimal mark. Null when empty or not a number. */
export function typed(text: string): number | null {
  if (text.trim() === '') return null;
  return parseMilli(text, 'point') ?? parseMilli(text, 'comma');
}

/** Why a typed figure is refused; null when it is empty or reads well. */
export function typingProblem(text: string): string | null {
  return text.trim() === '' || typed(text) !== null ? null : 'not a number with at most three decimals';
}
