/**
 * What a bench card is made of. One description per class says what is asked, in which order, what it should
 * read and what it comes to; the card on the screen, the paper sheet, the columns of a readings file, the
 * record and its recomputation all follow it. Figures are integer thousandths of the unit that was typed.
 */
import type { Contribution, DecisionRule, DoubtVerdict, ErrorLimits } from '../trade/doubt.ts';
import type { Relation } from '../trade/setpointError.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import type { Outcome, TestPointKind } from '../trade/words.ts';
import type { PressureUnit, ScaleUnit, TemperatureUnit, Unit } from '../units/units.ts';
import type { InstrumentKind, Instruments } from './instruments.ts';

export const phases = ['found', 'left', 'check', 'restored'] as const;
export type Phase = (typeof phases)[number];

/** What a figure measures: decides its unit on this device and what cannot be. */
export type Measure =
  | 'pressure'
  | 'supply pressure'
  | 'pressure drop'
  | 'dial'
  | 'scale'
  | 'outdoor temperature'
  | 'medium temperature'
  | 'minutes'
  | 'error minutes'
  | 'seconds'
  | 'volts'
  | 'millilitres'
  | 'percent'
  | 'count';

export type CardValue = number | string;
/** Values of a card by field; a field that was left empty is absent. */
export type CardValues = Readonly<Record<string, CardValue>>;

type FieldBase<F> = {
  key: string;
  label: string;
  /** Stored words; with the phase they are unique on a card. */
  quantity: string;
  phase: Phase;
  /** Test point whose record holds the reading; absent = the first of the card. */
  point?: string;
  help?: string | ((facts: F) => string);
  isOn?: (facts: F) => boolean;
  /** What it should read by the register, in thousandths, for the paper sheet. */
  reads?: (facts: F) => number | null;
  /** Needed before the card can close as held or adjusted. */
  isNeeded?: boolean | ((facts: F, values: CardValues, adjusted: boolean) => boolean);
  /** On the paper sheet and in the paper grid. */
  onPaper?: boolean;
};
export type FigureField<F> = FieldBase<F> & { kind: 'figure'; measure: Measure };
export type ChoiceField<F> = FieldBase<F> & { kind: 'choice'; choices: readonly string[] };
export type DateField<F> = FieldBase<F> & { kind: 'date' };
export type CardField<F> = FigureField<F> | ChoiceField<F> | DateField<F>;

export type CardStep<F> = {
  key: string;
  title: string;
  fields: readonly CardField<F>[];
  /** Only where something was adjusted. */
  whenAdjusted?: boolean;
  /** All of its figures or none of them. */
  isWhole?: boolean;
  isOn?: (facts: F) => boolean;
  lead?: (facts: F) => string;
};

export type Tick = { key: string; text: string };

/** A test point on a card, as the register holds it. */
export type CardPoint = {
  key: string;
  testPointId: number;
  kind: TestPointKind;
  role: string;
  unit: Unit;
  nominalMilli: number | null;
  toleranceMilli: number;
  toleranceLeftMilli: number;
};

/** What every card knows of its device; each class adds its own. */
export type BaseFacts = {
  pressureUnit: PressureUnit;
  temperatureUnit: TemperatureUnit;
  /** Unit of dial and room: percent on a humidity controller. */
  scaleUnit: ScaleUnit;
  points: readonly CardPoint[];
  /** Below this outdoor temperature no main is forced, in thousandths of the temperature unit. */
  freezeLockoutMilli: number;
};

export type CardEntry = {
  values: CardValues;
  ticks: Readonly<Record<string, boolean>>;
  tickNote: string;
  adjusted: boolean;
  outcome: Outcome;
};

export type RemarkTone = 'right' | 'look' | 'wrong' | 'plain';
export type Remark = { step: string; tone: RemarkTone; text: string };
export type Expectation = { label: string; text: string };
/** `isMissing`: something was not noted or ticked, which a file of the past may leave out. */
export type CardProblem = { field: string; reason: string; isMissing?: true };

/** A measured error in plain units of its point, with what its doubt is made of; or a plain pass or fail. */
export type MeasuredError =
  | { kind: 'error'; error: number; relation: Relation; method: string; doubt: Contribution[] | null }
  | { kind: 'proof'; passes: boolean; method: string };

export type PointReading = {
  point: string;
  limits: { found: ErrorLimits; left: ErrorLimits };
  found: MeasuredError | null;
  left: MeasuredError | null;
};

/** What a class makes of its values. */
export type ClassJudgement = {
  expected: Expectation[];
  remarks: Remark[];
  problems: CardProblem[];
  points: PointReading[];
  /** True while nothing below the air state may be read: the wrong one stands on the main. */
  isShut: boolean;
  /** The air state that the readings were taken in, where the device has one. */
  airState: 'low' | 'high' | null;
  symptoms: SymptomKey[];
  /** Follow-ups that it opens whatever its outcome is. */
  besides?: { cause: string; symptom: SymptomKey }[];
};

export type JudgeContext = { instruments: Instruments; doneOn: string };

export type CardDescription<F extends BaseFacts> = {
  title: string;
  /** Instruments that its figures are read from. */
  instruments: readonly InstrumentKind[];
  preconditions: readonly Tick[];
  restored: readonly Tick[];
  /** What may have been done for the test, ticked where it was. */
  circumstances: (facts: F) => readonly Tick[];
  cautions: (facts: F) => readonly string[];
  steps: readonly CardStep<F>[];
  /** Tolerance that an instrument is held against, in the instrument's unit and plain figures; null: none. */
  toleranceFor: (facts: F, kind: InstrumentKind) => number | null;
  judge: (facts: F, entry: CardEntry, context: JudgeContext) => ClassJudgement;
};

export type JudgedError = {
  /** Both null where the point is proved or not, and nothing is measured. */
  errorMilli: number | null;
  relation: Relation | null;
  method: string;
  verdict: DoubtVerdict;
  /** Expanded doubt, k = 2; null when an instrument's accuracy is not known, or nothing was measured. */
  doubtMilli: number | null;
  /** Probability of conformance in parts per million; null without a doubt. */
  conformancePpm: number | null;
  doubt: Contribution[] | null;
};

export type JudgedPoint = { point: string; found: JudgedError | null; left: JudgedError | null };

export type CardJudgement = Omit<ClassJudgement, 'points'> & {
  points: JudgedPoint[];
  rule: DecisionRule;
  /** Which fields are asked for now, by step. */
  asked: { step: string; fields: string[] }[];
};
