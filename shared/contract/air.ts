import { z } from 'zod';
import type { NetworkNode } from '../register/findings/network.ts';
import { rowId } from './common.ts';
import { job } from './define.ts';

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

export const air = {
  /** The whole air side, from which the page works out where which air stands. */
  network: job({
    input: z.object({}),
    output: z.object({ nodes: z.array(airNode), today: z.string(), stations: z.array(rowId) }),
  }),
};
