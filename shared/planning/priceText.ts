import type { PriceParts } from './engine/plan.ts';

const partWords: [keyof PriceParts, string][] = [
  ['lateness', 'late'],
  ['switching', 'switching'],
  ['overtime', 'overtime'],
  ['walking', 'getting there'],
  ['unevenness', 'uneven weeks'],
  ['move', 'against what was promised'],
];

/** What a place costs, in words: the parts that are not nothing. */
export function priceText(parts: PriceParts): string {
  const words = partWords.flatMap(([key, word]) => (parts[key] === 0 ? [] : [`${word} ${parts[key]}`]));
  return words.length > 0 ? words.join(', ') : 'nothing';
}

/** A reason with its detail. */
export function reasonText({ reason, detail }: { reason: string; detail: string }): string {
  return detail === '' ? reason : `${reason}: ${detail}`;
}
