import fc from 'fast-check';
import type { PlanInstance, PlanTask } from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';

/** A random instance with every feature; precedence only to earlier tasks unless `cyclic`, nothing fixed unless `fixed`. */
export function randomInstances({ fixed = false } = {}): fc.Arbitrary<PlanInstance> {
  return fc
    .record({
      seed: fc.nat(),
      tasks: fc.integer({ min: 1, max: 40 }),
      days: fc.integer({ min: 1, max: 12 }),
      crews: fc.integer({ min: 1, max: 3 }),
      cyclic: fc.boolean(),
    })
    .map(({ seed, tasks, days, crews, cyclic }): PlanInstance => {
      const random = createRandom(seed);
      const chance = (percent: number): boolean => random.integer(0, 99) < percent;
      const slots = Array.from({ length: days * 2 }, (_, index) => ({
        day: Math.floor(index / 2),
        occupied: index % 2 === 1,
        period: Math.floor(index / 6),
      }));
      const some = (percent: number): number[] =>
        slots.map((_, index) => index).filter(() => chance(percent));
      const list = Array.from({ length: tasks }, (_, index): PlanTask => {
        const earliest = random.integer(0, days);
        return {
          id: `t${index}`,
          min: random.integer(0, 60),
          weight: random.integer(1, 9),
          due: random.integer(-3, days),
          ...(chance(60) ? { earliest } : {}),
          ...(chance(50) ? { latest: earliest + random.integer(-1, 6) } : {}),
          ...(chance(60)
            ? { main: `m${random.integer(0, 1)}`, state: chance(50) ? ('H' as const) : ('L' as const) }
            : {}),
          ...(chance(20) ? { portableMin: random.integer(10, 90) } : {}),
          ...(chance(20)
            ? {
                published: [random.integer(0, slots.length - 1), random.integer(0, crews - 1)] as [
                  number,
                  number,
                ],
                moveFactor: 2,
              }
            : {}),
          ...(fixed && chance(12)
            ? {
                frozen: [random.integer(0, slots.length - 1), random.integer(0, crews - 1)] as [
                  number,
                  number,
                ],
              }
            : {}),
          ...(chance(20) ? { skill: 'air' } : {}),
          ...(chance(40) && index > 0
            ? { preds: [`t${random.integer(0, cyclic ? tasks - 1 : index - 1)}`] }
            : {}),
          building: `b${random.integer(0, 1)}`,
          floor: `f${random.integer(0, 2)}`,
          room: `r${random.integer(0, 5)}`,
          unscheduled: 500,
          ...(chance(15)
            ? {
                open: [[0, random.integer(0, slots.length - 1)]] as [number, number][],
                closedBy: 'room access',
              }
            : {}),
        };
      });
      return {
        slots,
        crews: Array.from({ length: crews }, (_, index) => ({
          id: `c${index}`,
          regular: slots.map(() => (chance(80) ? random.integer(30, 150) : 0)),
          overtime: slots.map(() => (chance(30) ? 20 : 0)),
          skills: chance(50) ? ['*'] : ['valves'],
        })),
        mains: ['m0', 'm1'].map((id) => ({
          id,
          natural: slots.map(() => (chance(50) ? ('H' as const) : ('L' as const))),
          switchMin: random.integer(0, 12),
          unsettled: some(10),
          ...(chance(60) ? { forcible: some(50) } : {}),
          ...(chance(20) ? { policy: 'hold' as const } : {}),
        })),
        tasks: list,
        travel: { building: 8, floor: 2 },
        periodTarget: { 0: 100, 1: 100 },
        cost: {
          switchover: 20,
          switchoverOccupied: 20,
          overtime: 2,
          walk: 1,
          uneven: 1,
          move: 3,
          handOver: 2,
        },
      };
    });
}
