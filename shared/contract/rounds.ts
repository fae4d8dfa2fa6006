import { z } from 'zod';
import { unplacedReasons } from '../planning/instance.ts';
import { airState, deviceClass, milli, plainDate, rowId, unit } from './common.ts';
import { command, file, job, query } from './define.ts';

export const roundHead = z.object({
  id: rowId,
  name: z.string(),
  from: z.string(),
  to: z.string(),
  seed: z.number().int(),
  status: z.enum(['draft', 'issued', 'closed']),
  drawnAt: z.string(),
  evaluations: z.number().int(),
  version: z.number().int(),
});
export type RoundHead = z.infer<typeof roundHead>;

/** What no round can cost less than, whole and by part, in points. */
export const bounds = z.object({
  total: z.number().int(),
  forcedOut: z.number().int(),
  lateness: z.number().int(),
  evenness: z.number().int(),
  switching: z.number().int(),
  switchovers: z.number().int(),
  walking: z.number().int(),
  parts: z.number().int(),
  prices: z.number().int(),
});

export const figures = z.object({
  placed: z.number().int(),
  unplaced: z.number().int(),
  total: z.number().int(),
  weightedDaysLate: z.number().int(),
  switchovers: z.number().int(),
  switchoversOccupied: z.number().int(),
  overtimeMinutes: z.number().int(),
  walkingMinutes: z.number().int(),
  unevenMinutes: z.number().int(),
  /** Promised tasks that left their shift, and that kept it and got another person. */
  moves: z.number().int(),
  handOvers: z.number().int(),
  taskMinutes: z.number().int(),
  /** Shifts that end after their minutes and overtime with waiting for those who share a main; null for a round drawn before that was kept. */
  overruns: z.number().int().nullable(),
  /** Changes of mains by hand beyond the two a shift that the total counts; null as above. */
  furtherChanges: z.number().int().nullable(),
  /** By the working order of the visits; null for a round drawn before it was kept. */
  walkedMetres: z.number().int().nullable(),
  /** Null for a round drawn before bounds were kept. */
  bounds: bounds.nullable(),
});
export type RoundFigures = z.infer<typeof figures>;

export const roundTask = z.object({
  id: z.string(),
  tag: z.string(),
  deviceId: rowId,
  role: z.string().nullable(),
  kind: z.string(),
  minutes: z.number().int(),
  dueOn: z.string(),
});

export const roundVisit = z.object({
  visitId: rowId,
  date: z.string(),
  shift: z.string(),
  person: z.string(),
  order: z.number().int(),
  building: z.string().nullable(),
  level: z.string().nullable(),
  room: z.string().nullable(),
  main: z.string().nullable(),
  airState: airState.nullable(),
  noAccess: z.string().nullable(),
  tasks: z.array(roundTask),
});

export const unplacedTask = z.object({
  id: z.string(),
  tag: z.string(),
  deviceId: rowId,
  role: z.string().nullable(),
  kind: z.string(),
  dueOn: z.string(),
  reason: z.enum(unplacedReasons),
  detail: z.string(),
});

const placement = z
  .object({ slot: z.number().int(), crew: z.string(), portable: z.literal(true).optional() })
  .nullable();

export const roundShow = z.object({
  round: roundHead,
  figures,
  assignment: z.record(z.string(), placement),
  visits: z.array(roundVisit),
  unplaced: z.array(unplacedTask),
});
export type RoundShow = z.infer<typeof roundShow>;

const shiftPlace = z.object({ date: z.string(), shift: z.string(), person: z.string() });
export type ShiftPlace = z.infer<typeof shiftPlace>;

/** A task that a re-draw moved, or gave to another person, with the reason. */
const movedTask = z.object({
  task: z.string(),
  from: shiftPlace,
  to: shiftPlace.nullable(),
  reason: z.string(),
});
export type MovedTask = z.infer<typeof movedTask>;

export const roundOverview = z.object({
  round: roundHead,
  figures,
  /** What the re-draw that made this round moved; null for a round drawn anew. */
  moved: z.array(movedTask).nullable(),
  days: z.array(
    z.object({
      date: z.string(),
      capacityMinutes: z.number().int(),
      loadMinutes: z.number().int(),
      people: z.array(
        z.object({
          personId: rowId,
          initials: z.string(),
          loadMinutes: z.number().int(),
          visits: z.number().int(),
        }),
      ),
      forcedMains: z.array(z.object({ main: z.string(), airState, shift: z.string() })),
    }),
  ),
  mains: z.array(
    z.object({
      id: rowId,
      tag: z.string(),
      lanes: z.array(z.object({ date: z.string(), natural: airState.nullable(), held: airState.nullable() })),
    }),
  ),
  unplaced: z.array(unplacedTask),
});
export type RoundOverview = z.infer<typeof roundOverview>;

export const daySheet = z.object({
  roundId: rowId,
  roundName: z.string(),
  status: z.enum(['draft', 'issued', 'closed']),
  date: z.string(),
  person: z.object({ id: rowId, name: z.string(), initials: z.string() }),
  shifts: z.array(
    z.object({
      shift: z.string(),
      from: z.string(),
      to: z.string(),
      capacityMinutes: z.number().int(),
      loadMinutes: z.number().int(),
      /** Minutes after regular minutes and overtime, with waiting for those who share a main. */
      overrunMinutes: z.number().int(),
      switching: z.array(
        z.object({
          main: z.string(),
          airState,
          forced: z.boolean(),
          /** For a main that is held for days: as the shift finds it, as the last of the shift leaves it, and whether it is needed in both states; then it is changed at `begin`. */
          held: z.object({ found: airState, left: airState, isBoth: z.boolean() }).nullable(),
          /** When the change by hand, and the way back, begin, by the clock; null where it is not changed. A main that must be changed again is there again. */
          begin: z.string().nullable(),
          back: z.string().nullable(),
          /** Who shares the change, by initials. */
          sharedWith: z.array(z.string()),
        }),
      ),
      visits: z.array(
        z.object({
          visitId: rowId,
          order: z.number().int(),
          building: z.string().nullable(),
          level: z.string().nullable(),
          room: z.string().nullable(),
          roomName: z.string().nullable(),
          access: z.string().nullable(),
          main: z.string().nullable(),
          airState: airState.nullable(),
          noAccess: z.string().nullable(),
          tasks: z.array(
            z.object({
              id: z.string(),
              deviceId: rowId,
              tag: z.string(),
              class: deviceClass,
              kind: z.string(),
              role: z.string().nullable(),
              minutes: z.number().int(),
              /** From the portable two-pressure supply; the main is not touched. */
              byPortable: z.boolean(),
              dueOn: z.string(),
              done: z.boolean(),
              boxes: z.array(
                z.object({
                  label: z.string(),
                  unit,
                  expectedMilli: milli.nullable(),
                  choices: z.array(z.string()),
                }),
              ),
            }),
          ),
        }),
      ),
    }),
  ),
  cautions: z.array(z.string()),
});
export type DaySheet = z.infer<typeof daySheet>;

const points = z.number().int();
/** What a place costs by part, in points. */
const priceParts = z.object({
  lateness: points,
  switching: points,
  overtime: points,
  walking: points,
  unevenness: points,
  move: points,
  total: points,
});

export const roundWhy = z.object({
  roundId: rowId,
  /** Names of the shifts of the round, and initials of its persons: where a task may be moved by hand. */
  shifts: z.array(z.string()),
  people: z.array(z.string()),
  tasks: z.array(
    z.object({
      id: z.string(),
      tag: z.string(),
      role: z.string().nullable(),
      kind: z.string(),
      dueOn: z.string(),
      /** Points a day late, and the chance of being found outside that they follow; null where its record says nothing. */
      weight: z.number(),
      outsideAtDue: z.number().nullable(),
      place: shiftPlace.nullable(),
      /** Kept there when the round is drawn again. */
      pinned: z.boolean(),
      /** What its window, and what is before and after it, leave open. */
      from: z.string().nullable(),
      to: z.string().nullable(),
      waitsFor: z.array(z.string()),
      awaitedBy: z.array(z.string()),
      sharesSwitchingWith: z.array(z.string()),
      parts: priceParts.nullable(),
      /** The cheapest other places; `difference` in points to where it stands, or to leaving it out. */
      others: z.array(shiftPlace.extend({ difference: points, parts: priceParts })),
      /** Why it has no place as the rest now stands. */
      unplaced: z.object({ reason: z.string(), detail: z.string() }).nullable(),
      /** Why it had none when the round was drawn; null where that is the same, or where moves by hand took its place. */
      unplacedThen: z.object({ reason: z.string(), detail: z.string() }).nullable(),
    }),
  ),
});
export type RoundWhy = z.infer<typeof roundWhy>;

export const roundMove = z.object({
  roundId: rowId,
  task: z.string(),
  /** Constraints that the move would break; then there is no price. */
  breaches: z.array(z.object({ constraint: z.string(), detail: z.string() })),
  difference: points.nullable(),
  before: priceParts.nullable(),
  after: priceParts.nullable(),
});
export type RoundMove = z.infer<typeof roundMove>;

const oneRound = z.object({ id: rowId.optional() });
const taskName = z.string().min(1).max(200);
/** A task, and the shift and person to move it to; null puts it off: it then has no place in this round. */
const toShift = {
  task: taskName,
  to: z.object({ date: plainDate, shift: z.string().max(80), person: z.string().max(20) }).nullable(),
};
const sheetKey = z.object({ roundId: rowId, date: plainDate, personId: rowId });

export const rounds = {
  list: query({ input: z.object({}), output: z.object({ rounds: z.array(roundHead.extend({ figures })) }) }),
  draw: job({
    input: z.object({
      from: plainDate,
      to: plainDate,
      seed: z.number().int().min(0).max(0xffffffff).default(1),
      /** Places that may be priced; absent = by size. */
      evaluations: z.number().int().min(0).max(2_000_000_000).optional(),
      name: z.string().max(120).default(''),
    }),
    output: z.object({ roundId: rowId, figures }),
  }),
  /** The rest of a round again, from today or a date: what was promised moves only where it must or pays. */
  redraw: job({
    input: z.object({
      id: rowId.optional(),
      from: plainDate.optional(),
      seed: z.number().int().min(0).max(0xffffffff).default(1),
      evaluations: z.number().int().min(0).max(2_000_000_000).optional(),
    }),
    output: z.object({
      roundId: rowId,
      figures,
      moved: z.array(movedTask),
    }),
  }),
  /** Why the tasks of a tag, or one task, stand where they stand. */
  why: query({ input: oneRound.extend({ tag: taskName }), output: roundWhy }),
  /** What moving a task by hand would cost or break. */
  priceMove: query({ input: oneRound.extend(toShift), output: roundMove }),
  /** Moves a task of a draft; refused with what it would break. */
  move: command({ input: z.object({ id: rowId, version: z.number().int(), ...toShift }), output: roundMove }),
  /** A pinned task stays where it is when the round is drawn again. */
  pin: command({
    input: z.object({ id: rowId, task: taskName, pinned: z.boolean() }),
    output: z.object({ task: z.string(), pinned: z.boolean() }),
  }),
  overview: query({ input: oneRound, output: roundOverview }),
  show: query({ input: oneRound, output: roundShow }),
  /** The complete planning problem in the exchange format, with our fields beside it. */
  instance: query({ input: oneRound, output: z.record(z.string(), z.unknown()) }),
  issue: command({
    input: z.object({ id: rowId, version: z.number().int() }),
    output: z.object({ round: roundHead }),
  }),
  discard: command({
    input: z.object({ id: rowId, version: z.number().int() }),
    output: z.object({ discarded: rowId }),
  }),
  daySheet: query({ input: sheetKey, output: daySheet }),
  daySheetPdf: file({ input: sheetKey }),
  /** A person's shifts of an issued round as iCalendar; alarms only where minutes are named. */
  calendar: file({
    input: z.object({
      id: rowId,
      personId: rowId,
      alarmMinutes: z.number().int().min(0).max(10_080).nullable().default(null),
    }),
  }),
  /** Every task of a round in one table. */
  table: file({ input: oneRound.extend({ as: z.enum(['csv', 'xlsx']) }) }),
  noAccess: command({
    input: z.object({ visitId: rowId, reason: z.string().min(1).max(200).nullable() }),
    output: z.object({ visitId: rowId }),
  }),
};
