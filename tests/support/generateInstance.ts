/**
 * Synthetic planning instances of any size by seed: buildings with an air station, mains, regulators, relays,
 * actuators and two-setpoint controllers over a month, four months or a year. Rules written for this project;
 * integers and one stream of numbers only, so that a seed names the same instance on every machine.
 */
import { evenShares } from '../../shared/planning/evenShares.ts';
import type {
  Assignment,
  PlanCrew,
  PlanInstance,
  PlanMain,
  PlanState,
  PlanTask,
} from '../../shared/planning/instance.ts';
import { createRandom } from '../../shared/planning/random.ts';
import type { Random } from '../../shared/planning/random.ts';

export type Recipe = {
  tasks: number;
  seed: number;
  /** Share of the crew's time that the work would take, in per cent. */
  utilisation?: number;
  spread?: 'smooth' | 'bursty';
};

const HOLIDAYS = [0, 18, 46, 144, 169, 183, 249, 314, 329, 358];
const UNOCCUPIED_MINUTES = 120;
const OCCUPIED_MINUTES = 270;
const OVERTIME_MINUTES = 45;

/** Van der Corput fraction of an index in base 2, in 1024ths. */
function spreadOut(index: number): number {
  let result = 0;
  let bit = 512;
  for (let rest = index; rest > 0 && bit > 0; rest >>= 1, bit >>= 1) if (rest & 1) result += bit;
  return result;
}

type Calendar = { horizon: number; workdays: number[]; slots: PlanInstance['slots'] };

function calendarOf(tasks: number): Calendar {
  const horizon = tasks <= 200 ? 30 : tasks <= 2000 ? 120 : 365;
  const workdays: number[] = [];
  // Day 0 is a Thursday.
  for (let day = 0; day < horizon; day += 1)
    if ((day + 3) % 7 < 5 && !HOLIDAYS.includes(day)) workdays.push(day);
  const slots = workdays.flatMap((day) =>
    [false, true].map((occupied) => ({ day, occupied, period: Math.floor((day + 3) / 7) })),
  );
  return { horizon, workdays, slots };
}

type Parts = { tasks: PlanTask[]; mains: PlanMain[] };

class Site {
  private readonly random: Random;
  private readonly calendar: Calendar;
  private readonly recipe: Recipe;
  private readonly parts: Parts = { tasks: [], mains: [] };
  private building = 0;
  private closed: [number, number][] | undefined;

  constructor(recipe: Recipe, calendar: Calendar, random: Random) {
    this.recipe = recipe;
    this.calendar = calendar;
    this.random = random;
  }

  private get isFull(): boolean {
    return this.parts.tasks.length >= this.recipe.tasks;
  }

  private around(centre: number, by: number): number {
    return centre + this.random.integer(-by, by);
  }

  /** Adds a task unless the instance is full; answers its id. */
  private add(task: Omit<PlanTask, 'id'>, early: number, late: number): string {
    const { horizon } = this.calendar;
    const id = `t${this.parts.tasks.length}`;
    if (this.isFull) return id;
    const due = Math.min(horizon - 1, Math.max(0, task.due));
    this.parts.tasks.push({
      ...task,
      id,
      due,
      earliest: Math.max(0, due - early),
      latest: due + late,
      building: `b${this.building}`,
      unscheduled: 200 + (task.weight ?? 1) * (horizon - due),
      ...(this.closed ? { open: this.closed, closedBy: 'blackout week' } : {}),
    });
    return id;
  }

  private room(main: string, floor: string, relay: string, mainDue: number, season: boolean): void {
    const { random } = this;
    const actuators: string[] = [];
    for (let left = random.integer(1, 2); left > 0 && !this.isFull; left -= 1)
      actuators.push(
        this.add(
          {
            min: random.integer(10, 20),
            weight: random.integer(1, 5),
            due: this.around(mainDue, 10),
            floor,
            skill: 'ctl',
            kind: 'actuator',
          },
          45,
          60,
        ),
      );
    if (this.isFull) return;
    const weight = random.integer(1, 6) + (random.integer(1, 10) === 1 ? 4 : 0);
    const due = mainDue + random.integer(0, 20);
    const both = { main, floor, skill: 'ctl', kind: 'setpoint', preds: [relay, ...actuators] };
    const low: PlanState = 'L';
    this.add({ ...both, min: random.integer(8, 14), weight, due, state: low }, 45, 60);
    const before = this.closed;
    let highDue = due + random.integer(0, 10);
    const highMinutes = random.integer(8, 14);
    if (season) {
      if (highDue > 120 && highDue < 270) highDue = highDue < 195 ? 120 : 270;
      this.closed = this.openIn(before, highDue <= 120 ? [0, 120] : [270, 364]);
    }
    this.add(
      { ...both, min: highMinutes, weight: Math.max(1, weight - 1), due: highDue, state: 'H' },
      45,
      60,
    );
    this.closed = before;
  }

  /** Slot ranges of `open` that lie on days within a span. */
  private openIn(open: [number, number][] | undefined, [from, to]: [number, number]): [number, number][] {
    const { slots } = this.calendar;
    const first = slots.findIndex((slot) => slot.day >= from);
    const last = slots.findLastIndex((slot) => slot.day <= to);
    return (open ?? [[0, slots.length - 1] as [number, number]])
      .map(([a, b]): [number, number] => [Math.max(a, first), Math.min(b, last)])
      .filter(([a, b]) => a <= b);
  }

  private blackout(): [number, number][] | undefined {
    const { horizon, slots } = this.calendar;
    if (horizon < 100) return undefined;
    const weeks = new Set<number>();
    for (let left = horizon >= 300 ? 2 : 1; left > 0; left -= 1)
      weeks.add(this.random.integer(0, Math.floor(horizon / 7)));
    const ranges: [number, number][] = [];
    for (const [index, slot] of slots.entries()) {
      if (weeks.has(slot.period ?? 0)) continue;
      const last = ranges.at(-1);
      if (last && last[1] === index - 1) last[1] = index;
      else ranges.push([index, index]);
    }
    return ranges;
  }

  private main(floors: string[], station: string, centre: number): void {
    const { random, calendar, parts } = this;
    const id = `M${parts.mains.length + 1}`;
    const isClock = random.integer(0, 1) === 1;
    parts.mains.push({
      id,
      natural: calendar.slots.map((slot) => (isClock && !slot.occupied ? 'H' : 'L')),
      switchMin: random.integer(8, 15),
    });
    const due = this.around(centre, 20);
    const season = calendar.horizon >= 300 && random.integer(1, 10) <= 3;
    const [floor] = floors;
    const regulators = [0, 1].map(() =>
      this.add(
        {
          min: random.integer(25, 45),
          weight: random.integer(5, 9),
          due: due - 8,
          floor,
          skill: 'ctl',
          kind: 'regulator',
          preds: [station],
        },
        60,
        60,
      ),
    );
    const relay = this.add(
      {
        min: random.integer(20, 40),
        weight: random.integer(4, 8),
        due: due - 4,
        floor,
        skill: 'ctl',
        kind: 'relay',
        preds: regulators,
      },
      60,
      60,
    );
    for (const name of floors)
      for (let left = random.integer(14, 26); left > 0 && !this.isFull; left -= 1)
        this.room(id, name, relay, due, season);
  }

  build(): Parts {
    const { random, calendar, recipe, parts } = this;
    for (; !this.isFull; this.building += 1) {
      const floors = random.integer(2, 8);
      const span = calendar.horizon - 25;
      const centre =
        recipe.spread === 'bursty'
          ? random.integer(0, calendar.horizon - 1)
          : this.around(15 + Math.floor((spreadOut(this.building + 1) * span) / 1024), 5);
      this.closed = this.blackout();
      const station = this.add(
        {
          min: random.integer(60, 120),
          weight: random.integer(6, 10),
          due: centre - 15,
          floor: 'f0',
          skill: 'air',
          kind: 'air station',
        },
        60,
        60,
      );
      for (let floor = 0; floor < floors && !this.isFull; floor += 2)
        this.main(
          [floor, floor + 1].filter((one) => one < floors).map((one) => `f${one}`),
          station,
          centre,
        );
    }
    return parts;
  }
}

function crewsOf(minutes: number, recipe: Recipe, calendar: Calendar, random: Random): PlanCrew[] {
  const { slots, workdays, horizon } = calendar;
  const day = UNOCCUPIED_MINUTES + OCCUPIED_MINUTES;
  const rho = recipe.utilisation ?? 85;
  const people = Math.max(
    recipe.tasks <= 200 ? 1 : 2,
    Math.ceil((112 * minutes) / (rho * workdays.length * day)),
  );
  const every = Math.max(1, Math.floor((people * workdays.length * day * rho) / (112 * minutes)));
  return Array.from({ length: people }, (_, index) => {
    const away = horizon >= 300 ? random.integer(0, slots.length - 20) : -100;
    const isThere = slots.map(
      (_slot, slot) => (slot >> 1) % every === 0 && !(slot >= away && slot < away + 20),
    );
    return {
      id: `T${index + 1}`,
      regular: slots.map(({ occupied }, slot) =>
        isThere[slot] ? (occupied ? OCCUPIED_MINUTES : UNOCCUPIED_MINUTES) : 0,
      ),
      overtime: slots.map(({ occupied }, slot) => (isThere[slot] && occupied ? OVERTIME_MINUTES : 0)),
      skills: ['ctl', 'air'],
    };
  });
}

/** The instance of a recipe; the same recipe gives the same instance. */
export function generateInstance(recipe: Recipe): PlanInstance {
  const random = createRandom(recipe.seed);
  const calendar = calendarOf(recipe.tasks);
  const { tasks, mains } = new Site(recipe, calendar, random).build();
  const minutes = tasks.reduce((sum, task) => sum + task.min, 0);
  const crews = crewsOf(minutes, recipe, calendar, random);
  const capacities = Array.from({ length: (calendar.slots.at(-1)?.period ?? 0) + 1 }, () => 0);
  for (const [index, slot] of calendar.slots.entries())
    for (const crew of crews) capacities[slot.period ?? 0] += crew.regular[index];
  return {
    slots: calendar.slots,
    crews,
    mains,
    tasks,
    travel: { building: 8, floor: 2 },
    periodTarget: Object.fromEntries(evenShares(minutes, capacities).entries()),
    cost: { switchover: 20, switchoverOccupied: 20, overtime: 2, walk: 1, uneven: 1 },
  };
}

/** A copy of an instance with an assignment promised at 5 points a move and 3 for another person, and a change made to it. */
export function promised(
  instance: PlanInstance,
  assignment: Assignment,
  change: (copy: PlanInstance) => void,
): PlanInstance {
  const copy = structuredClone(instance);
  copy.cost = { ...copy.cost, move: 5, handOver: 3 };
  const crews = new Map(copy.crews.map((crew, index) => [crew.id, index]));
  for (const task of copy.tasks) {
    const place = assignment[task.id];
    if (place) task.published = [place.slot, crews.get(place.crew) as number];
  }
  change(copy);
  return copy;
}
