/**
 * What the errors of one zone's setpoints, and a switchover that does not work, cost in heat, degF.h a year: the heat of the
 * day's setpoint by degree days about its balance point, less what the night saves (one node, `setback.ts`). All errors act
 * at once; taken away one after another, in the order in which they are mended, what each saves adds up to the whole.
 * Errors are control point less intended: plus is warmer. Without the loss K no fuel follows, and these hours rank as they are.
 */
import { monthArea } from './setback.ts';
import type { WeekOff } from './setback.ts';
import { MONTH_DAYS } from './weather.ts';
import type { Climate } from './weather.ts';

const HOURS_A_DAY = 24;
/** A month this much colder than the balance point is heated all day; in a milder one the night saves less than it seems. */
const DEEP_DEGF = 10;

export type Zone = {
  dayDegF: number;
  /** Null: it has one setpoint, or nothing changes it at night. */
  nightDegF: number | null;
  /** By how much gains lift a room above the outdoors: mean, and while nobody is there. */
  gainDegF: number;
  nightGainDegF: number;
  /** Hours. */
  tau: number;
  week: WeekOff;
};

/** Errors by month, degF, and whether the night's setpoint is reached at all. */
export type ZoneState = { day: readonly number[]; night: readonly number[]; isSwitching: boolean };

/** With the night counted in every month that is heated, and only in those that are heated all day. */
export type Heat = { full: number; deep: number };

/** The same error in every month. */
export function allYear(degF: number): number[] {
  return MONTH_DAYS.map(() => degF);
}

export const asIntended: ZoneState = { day: allYear(0), night: allYear(0), isSwitching: true };

/** Heat of one month in some state, degF.h. */
export function heatOfMonth(
  zone: Zone,
  { day: dayError, night: nightError, isSwitching }: { day: number; night: number; isSwitching: boolean },
  climate: Climate,
  month: number,
): Heat {
  const day = zone.dayDegF + dayError;
  const whole = HOURS_A_DAY * climate.degreeDays(month, day - zone.gainDegF, 'heating');
  const outdoor = climate.means[month];
  const intended = zone.dayDegF - zone.gainDegF;
  const saved =
    zone.nightDegF === null || !isSwitching || outdoor >= intended
      ? 0
      : monthArea(
          {
            dayDegF: day,
            nightDegF: zone.nightDegF + nightError,
            balanceDegF: outdoor + zone.nightGainDegF,
            tau: zone.tau,
          },
          MONTH_DAYS[month],
          zone.week,
        );
  const isDeep = outdoor < intended - DEEP_DEGF;
  return { full: Math.max(0, whole - saved), deep: Math.max(0, whole - (isDeep ? saved : 0)) };
}

/** Heat of a year in some state, degF.h. */
export function heatOf(zone: Zone, { day, night, isSwitching }: ZoneState, climate: Climate): Heat {
  const heat: Heat = { full: 0, deep: 0 };
  for (const month of MONTH_DAYS.keys()) {
    const own = heatOfMonth(zone, { day: day[month], night: night[month], isSwitching }, climate, month);
    heat.full += own.full;
    heat.deep += own.deep;
  }
  return heat;
}

export const steps = ['switchover', 'night', 'day'] as const;
export type Step = (typeof steps)[number];

export type StepHeat = {
  /** Were it the only fault. */
  alone: Heat;
  /** With what comes before it in the order mended already. */
  inOrder: Heat;
};

const less = (a: Heat, b: Heat): Heat => ({ full: a.full - b.full, deep: a.deep - b.deep });

/** What each step saves, degF.h a year; negative where putting it right costs heat. The steps in order add up to the whole. */
export function savedBySteps(zone: Zone, found: ZoneState, climate: Climate): Record<Step, StepHeat> {
  const heat = (state: ZoneState): Heat => heatOf(zone, state, climate);
  const intended = heat(asIntended);
  const switched = { ...found, isSwitching: true };
  const nightRight = { ...switched, night: asIntended.night };
  const [asFound, afterSwitch, afterNight] = [heat(found), heat(switched), heat(nightRight)];
  return {
    switchover: {
      alone: less(heat({ ...asIntended, isSwitching: found.isSwitching }), intended),
      inOrder: less(asFound, afterSwitch),
    },
    night: {
      alone: less(heat({ ...asIntended, night: found.night }), intended),
      inOrder: less(afterSwitch, afterNight),
    },
    day: {
      alone: less(heat({ ...asIntended, day: found.day }), intended),
      inOrder: less(afterNight, intended),
    },
  };
}

/** Hours of a week by state, half an hour each from Monday 00:00 on, as off-periods; one over the week's end is one. */
export function offPeriods(isOff: readonly boolean[]): WeekOff {
  const hours = 168 / isOff.length;
  if (isOff.every((off) => off)) return [{ count: 1, hours: 168 }];
  const start = isOff.findIndex((off) => !off);
  const found = new Map<number, number>();
  let run = 0;
  for (let at = 1; at <= isOff.length; at += 1) {
    if (isOff[(start + at) % isOff.length]) run += 1;
    else if (run > 0) {
      found.set(run * hours, (found.get(run * hours) ?? 0) + 1);
      run = 0;
    }
  }
  return [...found]
    .map(([length, count]) => ({ count, hours: length }))
    .toSorted((a, b) => a.hours - b.hours);
}
