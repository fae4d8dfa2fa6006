/** The clock is an argument everywhere: instants are UTC to the second, today is the day of the machine. */
import type { PlainDate } from '../shared/dates/plainDate.ts';

export type Clock = { now: () => string; today: () => PlainDate };

function pad(value: number): string {
  return String(value).padStart(2, '0');
}

/** The clock of the machine. */
export const systemClock: Clock = {
  now: () => `${new Date().toISOString().slice(0, 19)}Z`,
  today: () => {
    const date = new Date();
    return `${date.getFullYear()}-${pad(date.getMonth() + 1)}-${pad(date.getDate())}`;
  },
};

/** A clock that stands still, for tests and for the sample site. */
export function fixedClock(now: string): Clock {
  return { now: () => now, today: () => now.slice(0, 10) };
}
