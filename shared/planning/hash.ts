import type { Assignment } from './instance.ts';
import { compareText } from './engine/compile.ts';

/** FNV-1a over the UTF-16 units of a text, 32 bits. */
function fnv(text: string, start: number): string {
  let hash = start;
  for (let at = 0; at < text.length; at += 1) {
    hash ^= text.charCodeAt(at);
    hash = Math.imul(hash, 0x01000193) >>> 0;
  }
  return hash.toString(16).padStart(8, '0');
}

/**
 * A short name for an assignment, 16 hexadecimal digits: equal assignments have equal names on every machine.
 * For comparing runs, not for proof against forgery.
 */
export function assignmentHash(assignment: Assignment): string {
  const text = Object.keys(assignment)
    .sort(compareText)
    .map((id) => {
      const place = assignment[id];
      return place ? `${id}=${place.slot},${place.crew}${place.portable ? ',portable' : ''}` : `${id}=`;
    })
    .join('\n');
  return fnv(text, 0x811c9dc5) + fnv(text, 0x01234567);
}
