/** Figures as people type them. */
import { parseMilli } from '../../shared/units/units.ts';

/** 1,500: a thousand in one country, one and a half in another. */
function isAmbiguous(text: string): boolean {
  return /^\s*[1-9]\d{0,2},\d{3}\s*$/.test(text);
}

/** A typed figure in thousandths; a point and a comma both count as the decimal mark. Null when empty or not a number. */
export function typed(text: string): number | null {
  if (text.trim() === '' || isAmbiguous(text)) return null;
  return parseMilli(text, 'point') ?? parseMilli(text, 'comma');
}

/** Why a typed figure is refused; null when it is empty or reads well. */
export function typingProblem(text: string): string | null {
  if (text.trim() === '' || typed(text) !== null) return null;
  return isAmbiguous(text)
    ? 'thousands, or a decimal comma? Write it with a point, or without the comma'
    : 'not a number with at most three decimals';
}
