import { z } from 'zod';
import type { NetworkNode } from '../register/findings/network.ts';
import { rowId } from './common.ts';
import { controllerActions } from '../trade/proportional.ts';
import { normalPositions } from '../trade/actuators.ts';
import { job, query } from './define.ts';

/** A device of the air side with where it stands, the minutes of its test points, and its open findings. */
export const airNode = z.object({
  node: z.custom<NetworkNode>((value) => typeof value === 'object' && value !== null),
  building: z.string().nullable(),
  level: z.string().nullable(),
  room: z.string().nullable(),
  minutes: z.number().int(),
  points: z.number().int(),
  stops: z.number().int(),
  looks: z.number().int(),
});
export type AirNode = z.infer<typeof airNode>;

/** psi, on paper and as it was read last. */
const figure = z.object({
  nominal: z.number(),
  measured: z.object({ value: z.number(), on: z.string() }).nullable(),
  tolerance: z.number(),
});

/** A branch with its actuators. Pressures in psi; a gain is psi a unit of the scale. */
export const branchView = z.object({
  tag: z.string(),
  mainLow: z.number().nullable(),
  mainHigh: z.number().nullable(),
  setpoints: z.array(
    z.object({
      role: z.string(),
      action: z.enum(controllerActions),
      gain: z.number(),
      unit: z.enum(['degF', 'degC', 'percent']),
      calibrationPressure: z.number().nullable(),
    }),
  ),
  actuators: z.array(
    z.object({
      id: rowId,
      tag: z.string(),
      duty: z.string().nullable(),
      normal: z.enum(normalPositions),
      start: figure,
      end: figure,
    }),
  ),
});
export type BranchView = z.infer<typeof branchView>;

export const air = {
  branch: query({ input: z.object({ deviceId: rowId }), output: branchView }),
  /** The whole air side, from which the page works out where which air stands. */
  network: job({
    input: z.object({}),
    output: z.object({ nodes: z.array(airNode), today: z.string(), stations: z.array(rowId) }),
  }),
};
