import { z } from 'zod';
import { placeClasses, rowClasses } from '../register/columns.ts';
import { pressureUnits, temperatureUnits } from '../units/units.ts';
import {
  airState,
  calibrationSummary,
  deviceClass,
  milli,
  plainDate,
  problem,
  rowId,
  unit,
} from './common.ts';
import { command, file, job, nothing, query, UPLOAD_BODY } from './define.ts';

export const registerFilter = z.object({
  find: z.string().max(200).default(''),
  class: deviceClass.nullable().default(null),
  mainId: rowId.nullable().default(null),
  levelId: rowId.nullable().default(null),
  state: z.enum(['in service', 'retired', 'all']).default('all'),
});

export const registerListRow = z.object({
  id: rowId,
  tag: z.string(),
  class: deviceClass,
  name: z.string(),
  building: z.string().nullable(),
  level: z.string().nullable(),
  room: z.string().nullable(),
  main: z.string().nullable(),
  inServiceOn: z.string().nullable(),
  retiredOn: z.string().nullable(),
});
export type RegisterListRow = z.infer<typeof registerListRow>;

export const fileStyle = z.object({
  pressure: z.enum(pressureUnits),
  temperature: z.enum(temperatureUnits),
  dates: z.enum(['ymd', 'dmy', 'mdy']),
  decimals: z.enum(['point', 'comma']),
  encoding: z.enum(['utf-8', 'windows-1252']),
});
export type FileStyle = z.infer<typeof fileStyle>;

export const uploadedFile = z.object({ name: z.string().min(1).max(255), base64: z.string() });

export const loadReport = z.object({
  dryRun: z.boolean(),
  rows: z.number().int(),
  added: z.number().int(),
  changed: z.number().int(),
  unchanged: z.number().int(),
  problems: z.array(problem),
  message: z.string(),
});
export type LoadReport = z.infer<typeof loadReport>;

const deviceLink = z.object({
  id: rowId,
  tag: z.string(),
  class: deviceClass,
  name: z.string(),
  port: z.enum(['air', 'pilot']),
});

export const devicePage = z.object({
  id: rowId,
  version: z.number().int(),
  rowClass: deviceClass,
  values: z.record(z.string(), z.string()),
  main: z.object({ id: rowId, tag: z.string() }).nullable(),
  fedBy: z.array(deviceLink),
  feeds: z.array(deviceLink),
  setpoints: z.array(
    z.object({ testPointId: rowId, version: z.number().int(), values: z.record(z.string(), z.string()) }),
  ),
  testPoints: z.array(
    z.object({
      id: rowId,
      kind: z.string(),
      role: z.string(),
      airState: airState.nullable(),
      nominalMilli: milli.nullable(),
      unit,
      toleranceMilli: milli,
      intervalDays: z.number().int(),
      minutes: z.number().int(),
      lastDoneOn: z.string().nullable(),
      dueOn: z.string().nullable(),
      active: z.boolean(),
    }),
  ),
  followUps: z.array(
    z.object({
      id: rowId,
      cause: z.string(),
      openedAt: z.string(),
      closedAt: z.string().nullable(),
      version: z.number().int(),
    }),
  ),
  /** What stood in this place before, and what took it after. */
  replaces: z.object({ id: rowId, tag: z.string(), on: z.string() }).nullable(),
  replacedBy: z.object({ id: rowId, tag: z.string(), on: z.string() }).nullable(),
  history: z.array(calibrationSummary),
  changes: z.array(
    z.object({
      id: rowId,
      what: z.string(),
      from: z.string().nullable(),
      to: z.string().nullable(),
      at: z.string(),
      person: z.string().nullable(),
      why: z.string(),
    }),
  ),
});
export type DevicePage = z.infer<typeof devicePage>;

export const placeRow = z.object({
  rowClass: z.enum(placeClasses),
  values: z.record(z.string(), z.string()),
  version: z.number().int(),
});
export type PlaceRow = z.infer<typeof placeRow>;

export const register = {
  list: query({
    input: registerFilter.extend({
      offset: z.number().int().min(0).default(0),
      limit: z.number().int().min(1).max(2000).default(500),
    }),
    output: z.object({ total: z.number().int(), rows: z.array(registerListRow) }),
  }),
  facets: query({
    input: nothing,
    output: z.object({
      mains: z.array(z.object({ id: rowId, tag: z.string() })),
      levels: z.array(z.object({ id: rowId, building: z.string(), code: z.string(), name: z.string() })),
      classes: z.array(z.object({ class: deviceClass, count: z.number().int() })),
    }),
  }),
  /** Buildings, levels and rooms, for their forms. */
  places: query({
    input: nothing,
    output: z.object({ rows: z.array(placeRow) }),
  }),
  device: query({ input: z.object({ id: rowId }), output: devicePage }),
  /** Which device has a tag; null when none has. */
  find: query({ input: z.object({ tag: z.string() }), output: z.object({ id: rowId.nullable() }) }),
  save: command({
    input: z.object({
      rowClass: z.enum(rowClasses),
      cells: z.record(z.string(), z.string()),
      /** The version that the form was opened on; null for a new row. */
      version: z.number().int().nullable(),
      why: z.string().max(500).default(''),
    }),
    output: z.object({ id: rowId.nullable(), changed: z.boolean() }),
  }),
  retire: command({
    input: z.object({
      id: rowId,
      version: z.number().int(),
      on: plainDate,
      why: z.string().max(500).default(''),
    }),
    output: z.object({ version: z.number().int() }),
  }),
  /** Swaps a device: the old one is retired with its series, the new one stands in its place. */
  replace: command({
    input: z.object({
      id: rowId,
      version: z.number().int(),
      on: plainDate,
      /** Null: the new device takes the tag over, and the old one is given another. */
      newTag: z.string().trim().min(1).max(60).nullable(),
      reason: z.string().trim().min(1, 'say why').max(500),
      personId: rowId,
      /** Open follow-ups of the old device end with it. */
      closeFollowUps: z.boolean().default(true),
    }),
    output: z.object({ oldId: rowId, oldTag: z.string(), newId: rowId, newTag: z.string() }),
  }),
  load: job({
    input: z.object({ files: z.array(uploadedFile).min(1).max(50), style: fileStyle, dryRun: z.boolean() }),
    output: loadReport,
    bodyLimit: UPLOAD_BODY,
  }),
  export: file({ input: nothing }),
};
