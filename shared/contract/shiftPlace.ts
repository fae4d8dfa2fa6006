/** Places of a round for people: date, shift and person. */
import type { ShiftPlace } from './rounds.ts';

export function shiftPlaceText({ date, shift, person }: ShiftPlace): string {
  return `${date}, ${shift}, ${person}`;
}

/** Whether a task keeps its shift and gets another person. */
export function isHandedOver({ from, to }: { from: ShiftPlace; to: ShiftPlace | null }): boolean {
  return to !== null && from.date === to.date && from.shift === to.shift;
}
