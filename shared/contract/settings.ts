import { z } from 'zod';
import { clockTime, milli, plainDate, rowId, unit, weekdays } from './common.ts';
import { command, nothing, query } from './define.ts';
import { refuse, versioned } from './inputs.ts';
import { decisionRules } from '../trade/doubt.ts';
import { deviceClasses } from '../trade/words.ts';
import { minutesOfClock } from '../dates/plainDate.ts';
import { pressureUnits, temperatureUnits } from '../units/units.ts';

export const absence = z.object({ from: plainDate, to: plainDate, reason: z.string().max(200).default('') });

export const person = z.object({
  id: rowId,
  name: z.string(),
  initials: z.string(),
  /** Classes of devices that this person works on; none = all. */
  skills: z.array(z.enum(deviceClasses)),
  active: z.boolean(),
  shiftIds: z.array(rowId),
  absences: z.array(absence),
  version: z.number().int(),
});
export type Person = z.infer<typeof person>;

export const shiftPattern = z.object({
  id: rowId,
  name: z.string(),
  weekdays,
  from: z.string(),
  to: z.string(),
  minutes: z.number().int(),
  overtimeMinutes: z.number().int(),
  occupied: z.boolean(),
  version: z.number().int(),
});

export const planningOptions = z.object({
  earlyDays: z.number().int().min(0).max(365),
  lateDays: z.number().int().min(0).max(365),
  walkBuildingMinutes: z.number().int().min(0).max(120),
  walkLevelMinutes: z.number().int().min(0).max(60),
  roomAccessMinutes: z.number().int().min(0).max(60),
  switchoverPoints: z.number().int().min(0).max(10_000),
  switchoverOccupiedPoints: z.number().int().min(0).max(10_000),
  overtimePointsPerMinute: z.number().int().min(0).max(100),
  walkPointsPerMinute: z.number().int().min(0).max(100),
  unevenPointsPerMinute: z.number().int().min(0).max(100),
});
export type PlanningOptions = z.infer<typeof planningOptions>;

/** Starting values: the prices of docs/planning-format.md, common practice for the minutes. */
export const defaultPlanning: PlanningOptions = {
  earlyDays: 45,
  lateDays: 60,
  walkBuildingMinutes: 8,
  walkLevelMinutes: 2,
  roomAccessMinutes: 5,
  switchoverPoints: 20,
  switchoverOccupiedPoints: 20,
  overtimePointsPerMinute: 2,
  walkPointsPerMinute: 1,
  unevenPointsPerMinute: 1,
};

export const benchRules = z.object({
  decisionRule: z.enum(decisionRules),
  /** Below this outdoor temperature no main is forced, in thousandths of a degF. */
  freezeLockoutMilli: milli.min(20_000, 'at least 20 °F').max(60_000, 'at most 60 °F'),
});
export type BenchRules = z.infer<typeof benchRules>;

/** Starting values: simple acceptance, and 40 degF outdoors (common practice). */
export const defaultBenchRules: BenchRules = {
  decisionRule: 'simple acceptance',
  freezeLockoutMilli: 40_000,
};

/** A name of the time zone database, or nothing. */
function isTimeZone(name: string): boolean {
  if (name === '') return true;
  try {
    return (
      new Intl.DateTimeFormat('en', { timeZone: name }).resolvedOptions().timeZone !== '' &&
      name.includes('/')
    );
  } catch {
    return false;
  }
}

export const site = z.object({
  name: z.string().max(120),
  pressureUnit: z.enum(pressureUnits),
  temperatureUnit: z.enum(temperatureUnits),
  /** IANA name, for calendars; empty: local time wherever they are read. */
  timeZone: z
    .string()
    .max(60)
    .refine(isTimeZone, 'no time zone that is known here, such as Europe/Vienna')
    .default(''),
});
export type Site = z.infer<typeof site>;

export const classDefault = z.object({
  id: rowId,
  kind: z.string(),
  unit,
  toleranceMilli: milli,
  toleranceLeftMilli: milli,
  actionLimitMilli: milli,
  intervalDays: z.number().int().min(7).max(3660),
  minutes: z.number().int().min(1).max(480),
  weight: z.number().int().min(1).max(10),
  version: z.number().int(),
});
export type ClassDefault = z.infer<typeof classDefault>;

export const bookInfo = z.object({
  fileName: z.string(),
  site,
  isSample: z.boolean(),
  today: z.string(),
  devices: z.number().int(),
  testPoints: z.number().int(),
  calibrations: z.number().int(),
  ledgerEntries: z.number().int(),
  headHash: z.string(),
});

const personInput = z
  .object({
    ...versioned,
    name: z.string().trim().min(1).max(80),
    initials: z.string().trim().min(1).max(8),
    skills: z.array(z.enum(deviceClasses, 'no class of devices')).max(deviceClasses.length),
    active: z.boolean(),
    shiftIds: z.array(rowId).max(20),
    absences: z.array(absence).max(200),
  })
  .superRefine(({ absences }, context) => {
    const inOrder = absences.toSorted((a, b) => (a.from < b.from ? -1 : 1));
    for (const [index, { from, to }] of inOrder.entries()) {
      refuse(context, to < from, 'absences', `the absence from ${from} ends before it begins`);
      const before = inOrder[index - 1];
      refuse(
        context,
        before !== undefined && from <= before.to,
        'absences',
        `the absence from ${from} begins before the one from ${before?.from} has ended`,
      );
    }
  });

const shiftInput = z
  .object({
    ...versioned,
    name: z.string().trim().min(1).max(40),
    weekdays,
    from: clockTime,
    to: clockTime,
    minutes: z.number().int().min(1).max(1440),
    overtimeMinutes: z.number().int().min(0).max(480),
    occupied: z.boolean(),
  })
  .superRefine(({ from, to, minutes }, context) => {
    const length = (minutesOfClock(to) ?? 0) - (minutesOfClock(from) ?? 0);
    refuse(context, length <= 0, 'to', 'a shift ends after it begins');
    refuse(
      context,
      length > 0 && minutes > length,
      'minutes',
      `the shift is ${length} minutes long: no more can be worked in it`,
    );
  });

const classDefaultInput = classDefault
  .omit({ kind: true, unit: true })
  .extend({ why: z.string().max(500).default('') })
  .superRefine(({ toleranceMilli, toleranceLeftMilli, actionLimitMilli }, context) => {
    refuse(context, toleranceMilli <= 0, 'toleranceMilli', 'a tolerance is above zero');
    refuse(context, toleranceLeftMilli <= 0, 'toleranceLeftMilli', 'a tolerance is above zero');
    refuse(
      context,
      toleranceLeftMilli > toleranceMilli,
      'toleranceLeftMilli',
      'as left is held to the same tolerance as as found, or a closer one',
    );
    refuse(
      context,
      actionLimitMilli < toleranceMilli,
      'actionLimitMilli',
      'the action limit lies at the tolerance or outside it',
    );
  });

export const settings = {
  book: query({ input: nothing, output: bookInfo }),
  all: query({
    input: nothing,
    output: z.object({
      site,
      siteVersion: z.number().int(),
      planning: planningOptions,
      planningVersion: z.number().int(),
      bench: benchRules,
      benchVersion: z.number().int(),
      people: z.array(person),
      shifts: z.array(shiftPattern),
      daysOff: z.array(z.object({ on: z.string(), name: z.string() })),
      classDefaults: z.array(classDefault),
    }),
  }),
  saveSite: command({ input: site.extend({ version: z.number().int() }), output: nothing }),
  savePlanning: command({ input: planningOptions.extend({ version: z.number().int() }), output: nothing }),
  saveBench: command({
    input: benchRules.extend({
      version: z.number().int(),
      why: z.string().trim().min(1, 'say why').max(500),
    }),
    output: nothing,
  }),
  savePerson: command({ input: personInput, output: z.object({ id: rowId }) }),
  saveShift: command({ input: shiftInput, output: z.object({ id: rowId }) }),
  saveDaysOff: command({
    input: z.object({ daysOff: z.array(z.object({ on: plainDate, name: z.string().max(80) })).max(1000) }),
    output: nothing,
  }),
  saveClassDefault: command({ input: classDefaultInput, output: nothing }),
};
