/** The exchange format of a planning problem, as it comes from a file: docs/planning-format.md. */
import { z } from 'zod';

const count = z.number().int().min(0).max(1_000_000);
const points = z.number().int().min(0).max(1_000_000_000);
const day = z.number().int().min(-1_000_000).max(1_000_000);
const name = z.union([z.string().max(200), z.number()]).transform(String);
const state = z.enum(['L', 'H']);
const place = z.tuple([z.number().int(), z.number().int()]);
const texts = z.array(z.string().max(200));

const slot = z.object({
  day,
  occupied: z.boolean().optional(),
  period: z.number().int().min(0).max(100_000).optional(),
  date: z.string().optional(),
  shift: z.string().optional(),
  shiftId: z.number().optional(),
});

const crew = z.object({
  id: name,
  regular: z.array(count).optional(),
  overtime: z.array(count).optional(),
  skills: texts.optional(),
  name: z.string().optional(),
  personId: z.number().optional(),
});

const main = z.object({
  id: name,
  natural: z.array(state).optional(),
  switchMin: count.optional(),
  unsettled: z.array(count).optional(),
  forcible: z.array(count).optional(),
  policy: z.enum(['return', 'hold']).optional(),
});

const task = z.object({
  id: name,
  min: count,
  weight: z.number().int().min(0).max(1_000_000).optional(),
  due: day,
  earliest: day.optional(),
  latest: day.optional(),
  main: name.optional(),
  state: state.optional(),
  skill: z.string().max(200).optional(),
  preds: z.array(name).optional(),
  building: name.optional(),
  floor: name.optional(),
  unscheduled: points.optional(),
  frozen: place.optional(),
  published: place.optional(),
  tag: z.string().optional(),
  role: z.string().nullable().optional(),
  kind: z.string().optional(),
  room: z.string().nullable().optional(),
  open: z.array(place).optional(),
  portableMin: count.optional(),
  moveFactor: count.optional(),
  x: z.number().optional(),
  y: z.number().optional(),
  closedBy: z.string().optional(),
  putOff: z.boolean().optional(),
});

/** Fields that are not of the format are passed over: another program may keep its own beside ours. */
export const planInstance = z
  .object({
    slots: z.array(slot).max(100_000),
    crews: z.array(crew).max(1_000),
    mains: z.array(main).max(100_000).optional(),
    tasks: z.array(task).max(1_000_000),
    travel: z.object({ building: count.optional(), floor: count.optional() }).optional(),
    periodTarget: z.record(z.string().regex(/^\d{1,6}$/), z.number().int().min(0)).optional(),
    cost: z
      .object({
        switchover: points.optional(),
        switchoverOccupied: points.optional(),
        overtime: points.optional(),
        walk: points.optional(),
        uneven: points.optional(),
        move: points.optional(),
        handOver: points.optional(),
      })
      .optional(),
  })
  .transform((instance) => ({
    ...instance,
    crews: instance.crews.map((one) => ({ ...one, regular: one.regular ?? instance.slots.map(() => 0) })),
  }));
