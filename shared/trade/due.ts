/** When a test point is due, by plain dates. */
import { addDays, daysBetween } from '../dates/plainDate.ts';
import type { PlainDate } from '../dates/plainDate.ts';

export type DueFacts = {
  /** Date of the last calibration that ended `held` or `adjusted`. */
  lastDoneOn: PlainDate | null;
  intervalDays: number;
  inServiceOn: PlainDate;
};

/**
 * Next due date: the last completed calibration plus the interval; never calibrated: the date put in
 * service. A device that went into service after its last calibration counts as calibrated on that day only
 * if a record says so, hence no maximum is taken.
 */
export function dueOn(facts: DueFacts): PlainDate {
  return facts.lastDoneOn === null ? facts.inServiceOn : addDays(facts.lastDoneOn, facts.intervalDays);
}

/** Interval in force of a test point, days: its own, else its device's, else its class's, else a year. */
export function intervalOf(own: {
  ownInterval: number | null;
  deviceInterval: number | null;
  classInterval: number | null;
}): number {
  return own.ownInterval ?? own.deviceInterval ?? own.classInterval ?? 365;
}

/** Days past due on a chosen date, zero when not late. */
export function daysLate(due: PlainDate, on: PlainDate): number {
  return Math.max(0, daysBetween(due, on));
}

export type DueStanding = 'late' | 'due in 30 days' | 'due in 90 days' | 'later';

/** Where a due date stands on a chosen date: late is strictly past; today is due, not late. */
export function dueStanding(due: PlainDate, on: PlainDate): DueStanding {
  const ahead = daysBetween(on, due);
  if (ahead < 0) return 'late';
  if (ahead <= 30) return 'due in 30 days';
  return ahead <= 90 ? 'due in 90 days' : 'later';
}
