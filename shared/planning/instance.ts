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
};

export type PlanTask = {
  id: string;
  min: number;
  weight?: number;
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
  /** What closed the slots that `open` leaves out, for the reason of an unplaced task. */
  closedBy?: string;
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
  };
  // beside
  /** One air state per main and slot: tasks that need the natural and the other state never share a slot. */
  oneStatePerSlot?: boolean;
};

export type Placement = { slot: number; crew: string };
export type Assignment = Record<string, Placement | null>;

export type CostParts = {
  tardiness: number;
  unscheduled: number;
  switchovers: number;
  switchoversOccupied: number;
  overtimeMin: number;
  walkMin: number;
  unevenMin: number;
  moves: number;
};

export type Evaluation = { total: number; parts: CostParts };

export const DEFAULT_UNSCHEDULED = 100_000;

/** A reason why a task has no place, in a closed list with words for people. */
export const unplacedReasons = [
  'window outside the period',
  'no open shift in the window',
  'no person with the skill',
  'longer than any shift',
  'main may not be switched',
  'waits for an unplaced task',
  'no room in the shifts',
  'precedence cycle',
] as const;
export type UnplacedReason = (typeof unplacedReasons)[number];

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

export type DrawnRound = {
  assignment: Assignment;
  visits: DrawnVisit[];
  unplaced: Unplaced[];
  evaluation: Evaluation;
  evaluations: number;
  seed: number;
};

export type DrawHooks = {
  /** Called with done and total task counts. */
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
