import { z } from 'zod';
import { retrofitOptions, unitKinds } from '../retrofit/units.ts';
import { rowId } from './common.ts';
import { job } from './define.ts';
import { packScope } from './packScope.ts';

const range = z.object({ low: z.number().int(), high: z.number().int() });
const parts = z.object({
  sensors: range,
  controllers: range,
  transducers: range,
  electricActuators: range,
  thermostats: range,
  ai: range,
  ao: range,
  bi: range,
  bo: range,
  actuatorsKept: range,
});
const byOption = z.record(z.enum(retrofitOptions), parts);
const measured = z.object({ value: z.number(), on: z.string() }).nullable();
const scim = z.object({ low: z.number(), typical: z.number(), high: z.number() });

export const errorDistribution = z.object({
  count: z.number().int(),
  /** Shares of the count, degF. */
  within1: z.number().nullable(),
  within2: z.number().nullable(),
  beyond3: z.number().nullable(),
  medianAbsolute: z.number().nullable(),
  absolute90: z.number().nullable(),
  /** Warmer than intended. */
  warmShare: z.number().nullable(),
});

export const retrofitQuantities = z.object({
  on: z.string(),
  scope: z.string(),
  units: z.array(
    z.object({
      building: z.string().nullable(),
      kind: z.enum(unitKinds),
      units: z.number().int(),
      actuators: z.number().int(),
      options: byOption,
    }),
  ),
  totals: byOption,
  inventory: z.array(z.object({ what: z.string(), count: z.number().int() })),
  actuators: z.array(
    z.object({
      deviceId: rowId,
      tag: z.string(),
      controller: z.string().nullable(),
      building: z.string().nullable(),
      room: z.string().nullable(),
      kind: z.string(),
      duty: z.string().nullable(),
      normalPosition: z.string(),
      positioner: z.string().nullable(),
      /** psi. */
      springStart: z.number(),
      springEnd: z.number(),
      measuredStart: measured,
      measuredEnd: measured,
    }),
  ),
  unmeasured: z.number().int(),
  tubing: z.array(z.object({ what: z.string(), count: z.number().int() })),
  access: z.array(
    z.object({ place: z.string(), windows: z.string(), note: z.string(), devices: z.number().int() }),
  ),
  stations: z.array(
    z.object({
      tag: z.string(),
      now: scim,
      /** What is left to carry, scim; null where no figure is known. */
      left: z.record(z.enum(retrofitOptions), scim.nullable()),
      /** What the station could shed, kWh a year. */
      shedKwh: z.record(
        z.enum(retrofitOptions),
        z.object({ low: z.number(), central: z.number(), high: z.number() }).nullable(),
      ),
      words: z.array(z.string()),
    }),
  ),
  distributions: z.object({
    newest: errorDistribution,
    period: errorDistribution,
    /** degF a year. */
    drift: z.object({ median: z.number().nullable(), count: z.number().int() }),
  }),
  cautions: z.array(z.string()),
});
export type RetrofitQuantities = z.infer<typeof retrofitQuantities>;

export const retrofit = {
  quantities: job({ input: packScope, output: retrofitQuantities }),
};
