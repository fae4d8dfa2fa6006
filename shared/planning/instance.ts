/**
 * The planning problem of one period as plain integers, in the exchange format of docs/planning-format.md:
 * complete enough that a stranger's program can check a plan. Slots are shifts in time order; `L` and `H`
 * are the low and high air state. Fields below the line "beside" are ours and only ever narrow what the
 * plain fields allow.
 */

export type PlanState = 'L' | 'H';

export type PlanSlot = {
  day: number;
  occupied?: boolean;
  period?: number;
  // beside
  date?: string;
  shift?: string;
  /** Which shift of the book it is, whatever that is called later. */
  shiftId?: number;
};

export type PlanCrew = {
  id: string;
  regular: number[];
  overtime?: number[];
  skills?: string[];
  // beside
  name?: string;
  /** Who it is, whatever their initials become later. */
  personId?: number;
};

export type PlanMain = {
  id: string;
  natural?: PlanState[];
  switchMin?: number;
  // beside
  /** Slots in which the main changes by its own programme, or has no state: nothing that needs one goes there. */
  unsettled?: number[];
  /** Slots in which the main may be held at the state it would not have by itself; absent = all. */
  forcible?: number[];
  /** `return` (the default): back to its natural state at the end of every slot. `hold`: it stays as it was left. */
  policy?: 'return' | 'hold';
};

export type PlanTask = {
  id: string;
  min: number;
  weight?: number;
  /** Chance, 0 to 1, that it will be found outside about when it is due, by its own record; what the weight follows. */
  outsideAtDue?: number;
  due: number;
  earliest?: number;
  latest?: number;
  main?: string;
  state?: PlanState;
  skill?: string;
  preds?: string[];
  building?: string;
  floor?: string;
  unscheduled?: number;
  frozen?: [number, number];
  published?: [number, number];
  // beside
  tag?: string;
  role?: string | null;
  kind?: string;
  room?: string | null;
  /** Slots that season, access and blackout leave open, as index ranges [from, to]; absent = all. */
  open?: [number, number][];
  /** Minutes by a portable two-pressure supply, which needs no state of the main; absent = no such way. */
  portableMin?: number;
  /** True once a plan does it from the portable supply: `min` says so, and no state is asked for. */
  byPortable?: true;
  /** Whole factor on `cost.move` and `cost.handOver` for this task: what was promised for soon is dearer to move. */
  moveFactor?: number;
  /** Position in metres on its floor, for the walk. */
  x?: number;
  y?: number;
  /** What closed the slots that `open` leaves out, for the reason of an unplaced task. */
  closedBy?: string;
  /** Put off by hand to a later round: it gets no place. */
  putOff?: boolean;
};

export type PlanInstance = {
  slots: PlanSlot[];
  crews: PlanCrew[];
  mains?: PlanMain[];
  tasks: PlanTask[];
  travel?: { building?: number; floor?: number };
  /** Even share of task minutes by period number. */
  periodTarget?: Record<string, number>;
  cost?: {
    switchover?: number;
    switchoverOccupied?: number;
    overtime?: number;
    walk?: number;
    uneven?: number;
    move?: number;
    /** For a promised task that keeps its slot and gets another person; times its `moveFactor`. */
    handOver?: number;
  };
};

export type Prices = Required<NonNullable<PlanInstance['cost']>>;

/** The prices of an instance, 0 where it names none. */
export function priceOf(instance: PlanInstance): Prices {
  return {
    switchover: 0,
    switchoverOccupied: 0,
    overtime: 0,
    walk: 0,
    uneven: 0,
    move: 0,
    handOver: 0,
    ...instance.cost,
  };
}

/** `portable` is there, and true, when the task is done from a portable supply. */
export type Placement = { slot: number; crew: string; portable?: true };
export type Assignment = Record<string, Placement | null>;

/** An assignment that takes any id, whatever an object has by that name already. */
export function emptyAssignment(): Assignment {
  return Object.create(null) as Assignment;
}

/** Where a task stands; null when it is left out or not answered. */
export function placeIn(assignment: Assignment, id: string): Placement | null {
  return Object.hasOwn(assignment, id) ? assignment[id] : null;
}

export type CostParts = {
  tardiness: number;
  unscheduled: number;
  switchovers: number;
  switchoversOccupied: number;
  overtimeMin: number;
  walkMin: number;
  unevenMin: number;
  moves: number;
  /** Promised tasks that keep their slot and get another person. */
  handOvers: number;
};

export type Evaluation = { total: number; parts: CostParts };

export const DEFAULT_UNSCHEDULED = 100_000;

/** A reason why a task has no place, in a closed list with words for people. */
export const unplacedReasons = [
  'window outside the period',
  'no open shift in the window',
  'no person with the skill',
  'nobody at work in the window',
  'longer than any shift',
  'main may not be switched',
  'waits for an unplaced task',
  'no open shift after what it waits for',
  'no room in the shifts',
  'nothing goes before the re-draw',
  'left out, though a place is open',
  'dearer than leaving it out',
  'precedence cycle',
  'put off by hand',
] as const;
export type UnplacedReason = (typeof unplacedReasons)[number];

export const PUT_OFF = 'put off by hand' satisfies UnplacedReason;

/** A fixed task that stands where what it waits for cannot come before it. */
export type OutOfOrder = { task: string; waitsFor: string };

export type Unplaced = { task: string; reason: UnplacedReason; detail: string };

export type DrawnVisit = {
  slot: number;
  crew: string;
  order: number;
  building: string | null;
  floor: string | null;
  room: string | null;
  main: string | null;
  state: PlanState | null;
  tasks: string[];
};

/** Prices in 1/4096 point per minute, by slot and by period: the witness of the bound by prices. */
export type MinutePrices = { slot: number[]; period: number[] };

/** What no plan can cost less than, whole and by part, in points. */
export type Bounds = {
  /** The bound that is reported: the larger of `parts` and `prices`. */
  total: number;
  /** Price of what no plan can place. */
  forcedOut: number;
  lateness: number;
  evenness: number;
  switching: number;
  /** At least so many changes of pressure. */
  switchovers: number;
  walking: number;
  /** forcedOut + max(lateness, evenness) + switching + walking. */
  parts: number;
  /** The bound by prices per minute, and the prices that prove it. */
  prices: number;
  witness: MinutePrices;
};

/** A shift that ends so many minutes after regular minutes and overtime, for waiting for those who share a main, or changing it again. */
export type Overrun = { slot: number; crew: string; minutes: number };

export type DrawnRound = {
  assignment: Assignment;
  visits: DrawnVisit[];
  overruns: Overrun[];
  /** Changes of mains by hand beyond the two a shift that the evaluation counts: somebody needs one away, natural, and away again. */
  furtherChanges: number;
  /** Metres walked over all shifts, by the working order of the visits. */
  metres: number;
  unplaced: Unplaced[];
  /** Fixed tasks whose predecessor found no place before them: the plan does not keep their order. */
  outOfOrder: OutOfOrder[];
  evaluation: Evaluation;
  bounds: Bounds;
  evaluations: number;
  seed: number;
};

export type DrawHooks = {
  /** Called with the places priced so far and the budget. */
  progress?: (done: number, total: number) => void;
  /** Asked every few hundred evaluations; true stops the draw. */
  cancelled?: () => boolean;
};

/** Thrown by a cancelled draw; nothing has been decided then. */
export class DrawCancelled extends Error {
  constructor() {
    super('the draw was cancelled');
    this.name = 'DrawCancelled';
  }
}

/** Thrown for an instance that contradicts itself: duplicate ids, unknown mains, arrays of the wrong length. */
export class InstanceError extends Error {
  constructor(message: string) {
    super(message);
    this.name = 'InstanceError';
  }
}
