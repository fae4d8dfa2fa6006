/** Pieces that several cards share. */
import { limitsOf } from '../trade/doubt.ts';
import type { Contribution, ErrorLimits } from '../trade/doubt.ts';
import type { SymptomKey } from '../trade/symptoms.ts';
import { completingOutcomes } from '../trade/words.ts';
import { fromMilli } from '../units/units.ts';
import type {
  BaseFacts,
  CardEntry,
  CardField,
  CardPoint,
  CardProblem,
  CardStep,
  ChoiceField,
  ClassJudgement,
  Expectation,
  FigureField,
  Measure,
  MeasuredError,
  Phase,
  Remark,
  Tick,
} from './card.ts';
import { figure } from './measures.ts';

export const preconditionTicks = {
  supply: { key: 'supply', text: 'The supply station was checked this round and is right' },
  settled: { key: 'settled', text: 'The air state has been steady for 15 minutes' },
  weather: { key: 'weather', text: 'Outdoor temperature and season allow this air state' },
  thermometer: {
    key: 'thermometer',
    text: 'Thermometer at the element for 5 minutes, out of draught, sun and breath',
  },
  room: { key: 'room', text: 'Room is between the ends of the dial and steady' },
  gauges: { key: 'gauges', text: 'Gauge and thermometer are in date and good enough' },
  gauge: { key: 'gauges', text: 'Gauge is in date and good enough' },
  people: { key: 'people', text: 'Occupants and control room told; permits held' },
  lockout: { key: 'lockout', text: 'Line voltage locked out and proved dead before the cover was opened' },
  relieved: { key: 'relieved', text: 'Stored pressure relieved wherever something was opened' },
} as const satisfies Record<string, Tick>;

export const restoredTicks = {
  main: { key: 'restoredMain', text: 'Main is back in its natural state' },
  override: { key: 'restoredOverride', text: 'Overrides are released' },
  valves: { key: 'restoredValves', text: 'Isolated valves are open' },
  plugs: { key: 'restoredPlugs', text: 'Gauges are off and test points plugged' },
  covers: { key: 'restoredCovers', text: 'Covers are on and lockouts removed' },
  signal: { key: 'restoredSignal', text: 'Signal tubes are back where they were' },
} as const satisfies Record<string, Tick>;

/** Ticked where a repair ends one series of readings and begins another. */
export const REPAIRED = 'repaired';

export const circumstanceTicks = {
  forced: { key: 'forced', text: 'The main was forced into this state for the test' },
  repaired: {
    key: REPAIRED,
    text: 'It was repaired, a part changed or cleaned: its drift begins anew',
  },
} as const satisfies Record<string, Tick>;

/** The freeze lockout: where a main was forced, the outdoor temperature is noted, and below the lockout nothing is done. */
export function freezeProblems(facts: BaseFacts, entry: CardEntry): CardProblem[] {
  if (!entry.ticks.forced || entry.outcome === 'no access' || entry.outcome === 'not tested') return [];
  const { outdoor } = entry.values;
  if (typeof outdoor !== 'number')
    return [
      { field: 'outdoor', reason: 'the main was forced: note the outdoor temperature', isMissing: true },
    ];
  if (outdoor >= facts.freezeLockoutMilli || entry.outcome === 'unsafe') return [];
  return [
    {
      field: 'outdoor',
      reason: `below the freeze lockout of ${figure(facts.freezeLockoutMilli, facts.temperatureUnit)} no main is forced: restore it; the outcome can only be “unsafe” or “not tested”`,
    },
  ];
}

export const cautionTexts = {
  freeze:
    'Forcing a main, closing heat or opening outdoor air can freeze a coil: not below the freeze lockout, low limits stay in service, one person watches the unit.',
  heat: 'A normally open valve gives full heat without air: limit the time, and check that it is restored.',
  lineVoltage:
    'Line voltage: switch off, lock out and prove dead before a cover is opened; measure only with a rated meter and by a qualified person.',
  storedAir:
    'Stored pressure: lock out, relieve the part before it is opened, keep checking that none builds up again. Never point air at people.',
  receiver:
    'The receiver is a pressure vessel: nothing between it and its safety valve; drain it often; hot oil and fumes can burn.',
  wrongWater:
    'Do not open a coil to water of the wrong season to prove a point: test the branch alone, with the valve isolated.',
  steam: 'Steam and hot water: isolate before a body or a packing is opened; burns.',
  ladders: 'Ladders, plenums and roofs: secure footing, and nobody alone.',
  smoke:
    'Smoke and fire sequences share this air: tell who watches them, never disable smoke dampers, test after.',
  special: 'Isolation rooms, laboratories, animals, machines: permission before a state is forced.',
  mercury:
    'Old clocks and pressure switches may hold mercury, old covers asbestos or lead: do not break or drill.',
  refrigerant: 'A refrigerated dryer holds refrigerant: no venting, certified people only.',
} as const;

type Rest<F> = Partial<Omit<CardField<F>, 'key' | 'label' | 'kind'>>;

/** A figure as found. */
export function found<F>(key: string, label: string, measure: Measure, rest: Rest<F> = {}): FigureField<F> {
  return { kind: 'figure', key, label, measure, phase: 'found', quantity: label.toLowerCase(), ...rest };
}

/** A figure of another phase. */
export function figureOf<F>(
  phase: Phase,
  name: { key: string; label: string; measure: Measure },
  rest: Rest<F> = {},
): FigureField<F> {
  return { kind: 'figure', ...name, phase, quantity: name.label.toLowerCase(), ...rest };
}

/** A choice. */
export function choice<F>(
  key: string,
  label: string,
  choices: readonly string[],
  rest: Rest<F> = {},
): ChoiceField<F> {
  return { kind: 'choice', key, label, choices, phase: 'check', quantity: label.toLowerCase(), ...rest };
}

export const yesNo = ['yes', 'no'] as const;

/** Said where the final device does not move: its own follow-up is opened, whatever the card comes to. */
export const doesNotFollow =
  'the valve or damper does not follow: take up its own card; a follow-up is opened for it';

/** The follow-ups that a card opens besides its outcome. */
export function besidesOf({ values }: Pick<CardEntry, 'values'>): NonNullable<ClassJudgement['besides']> {
  return values.moves === 'no'
    ? [{ cause: 'the valve or damper does not follow', symptom: 'actuator sticks' }]
    : [];
}

/** The weather of a card that sends a main to both its pressures. */
export function weatherStep<F>(
  rest: Partial<Omit<CardField<F>, 'key' | 'label' | 'kind'>> = {},
): CardStep<F> {
  return {
    key: 'state',
    title: 'Weather',
    isOn: rest.isOn,
    fields: [
      found('outdoor', 'Outdoor temperature', 'outdoor temperature', {
        ...rest,
        isNeeded: true,
        onPaper: true,
      }),
    ],
  };
}

/** What was repaired and tested again, where no figure of its own tells it as left. */
export const TESTED_AGAIN = 'testedAgain';

/** The choice that says so; `what` was tested. */
export function testedAgain<F>(
  what: string,
  rest: Partial<Omit<CardField<F>, 'key' | 'label' | 'kind'>> = {},
): ChoiceField<F> {
  return choice(TESTED_AGAIN, `Tested again after, and right: ${what}`, yesNo, {
    phase: 'left',
    quantity: 'tested again and right',
    ...rest,
  });
}

/** True where an adjusted card says that everything was tested again and is right. */
export function isTestedAgain({ adjusted, values }: Pick<CardEntry, 'adjusted' | 'values'>): boolean {
  return adjusted && values[TESTED_AGAIN] === 'yes';
}

/** Where it was tested again and is not right, the outcome is none that says so. */
export function testedAgainProblems(entry: CardEntry): CardProblem[] {
  return entry.values[TESTED_AGAIN] === 'no' && entry.adjusted && isCompleting(entry)
    ? [{ field: TESTED_AGAIN, reason: 'something is still wrong: the outcome is not “adjusted”' }]
    : [];
}

/** Reads figures out of values, in plain units. */
export function reader(values: Readonly<Record<string, number | string>>) {
  return {
    number: (key: string): number | null => {
      const value = values[key];
      return typeof value === 'number' ? fromMilli(value) : null;
    },
    text: (key: string): string | null => {
      const value = values[key];
      return typeof value === 'string' ? value : null;
    },
  };
}

/** Collects remarks and expectations. */
export function notes() {
  const remarks: Remark[] = [];
  const expected: Expectation[] = [];
  return {
    remarks,
    expected,
    expect: (label: string, text: string): void => {
      expected.push({ label, text });
    },
    /** Right or wrong, in words; answers whether it is right. */
    check: (step: string, isRight: boolean, text: string): boolean => {
      remarks.push({ step, tone: isRight ? 'right' : 'wrong', text });
      return isRight;
    },
    say: (step: string, tone: Remark['tone'], text: string): void => {
      remarks.push({ step, tone, text });
    },
  };
}

/** Limits of a point about its nominal value, both sides; `factor` widens them. */
export function limitsOfPoint(
  point: CardPoint,
  factor: number = 1,
): { found: ErrorLimits; left: ErrorLimits } {
  return {
    found: limitsOf(factor * fromMilli(point.toleranceMilli)),
    left: limitsOf(factor * fromMilli(point.toleranceLeftMilli)),
  };
}

/** A value read against its nominal one; null where either is not there. */
export function readError(
  value: number | null,
  nominalMilli: number | null,
  doubt: Contribution[] | null,
): MeasuredError | null {
  return value === null || nominalMilli === null
    ? null
    : { kind: 'error', error: value - fromMilli(nominalMilli), relation: '=', method: 'read', doubt };
}

/** True where an entry says that the device was left right. */
export function isCompleting({ outcome }: Pick<CardEntry, 'outcome'>): boolean {
  return completingOutcomes.includes(outcome);
}

/** What a card finds wrong: a problem where it should close as right, and a symptom in any case. */
export function faults(entry: CardEntry, problems: CardProblem[] = [], isMended: boolean = false) {
  const symptoms: SymptomKey[] = [];
  const wrong = (field: string, reason: string, symptom: SymptomKey): void => {
    if (isCompleting(entry) && !isMended) problems.push({ field, reason });
    if (!symptoms.includes(symptom)) symptoms.push(symptom);
  };
  return {
    problems,
    symptoms,
    wrong,
    /** What no repair of the device mends, whatever was tested again. */
    wrongStill: (field: string, reason: string, symptom: SymptomKey): void => {
      if (isCompleting(entry)) problems.push({ field, reason });
      if (!symptoms.includes(symptom)) symptoms.push(symptom);
    },
    /** As found, and as read again after an adjustment, null where it was not: a fault counts until it was read right. */
    faulty: (
      field: string,
      [isRight, isRightAfter]: readonly [boolean, boolean | null],
      reason: string,
      symptom: SymptomKey,
    ): void => {
      if (isRightAfter ?? isRight) return;
      const hint = entry.adjusted && isRightAfter === null ? '; adjusted: read it again after' : '';
      wrong(field, `${reason}${hint}`, symptom);
    },
  };
}
