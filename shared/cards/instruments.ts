/** The reference instruments behind a card's figures: what they add to the doubt, and whether they are good enough. */
import { adequacyOf, errorLimitOf, ofCertificate, ofLimit, ofStep } from '../trade/doubt.ts';
import type { Accuracy, Contribution } from '../trade/doubt.ts';
import { convertPressure, convertTemperatureDifference, fromMilli } from '../units/units.ts';
import type { PressureUnit, TemperatureUnit, Unit } from '../units/units.ts';

export const instrumentKinds = ['pressure', 'temperature', 'humidity'] as const;
export type InstrumentKind = (typeof instrumentKinds)[number];

export const instrumentUnits: Record<InstrumentKind, readonly Unit[]> = {
  pressure: ['psi', 'kPa'],
  temperature: ['degF', 'degC'],
  humidity: ['percent'],
};

export const instrumentWords: Record<InstrumentKind, string> = {
  pressure: 'gauge',
  temperature: 'thermometer',
  humidity: 'hygrometer',
};

/** An instrument with the certificate that held on the day, as a record keeps it. */
export type Instrument = {
  id: number;
  tag: string;
  kind: InstrumentKind;
  unit: Unit;
  rangeLowMilli: number;
  rangeHighMilli: number;
  accuracyForm: 'absolute' | 'percent of span' | 'grade';
  accuracyMilli: number | null;
  accuracyGrade: string | null;
  /** Smallest step that its scale can be read to; null when not noted. */
  stepMilli: number | null;
  certificate: { number: string; issuedOn: string; dueOn: string; doubtMilli: number | null } | null;
  certificateDueOn: string | null;
};

export type Instruments = Partial<Record<InstrumentKind, Instrument | null>>;

/** What the greatest error of an instrument follows from. */
export type Graded = Pick<
  Instrument,
  'unit' | 'rangeLowMilli' | 'rangeHighMilli' | 'accuracyForm' | 'accuracyMilli' | 'accuracyGrade'
>;

function accuracyOf(instrument: Graded): Accuracy | null {
  const { accuracyForm: form, accuracyMilli: milli, accuracyGrade: grade } = instrument;
  if (form === 'grade') return grade === null ? null : { form, grade };
  if (milli === null) return null;
  return form === 'absolute' ? { form, limit: fromMilli(milli) } : { form, percent: fromMilli(milli) };
}

/** A difference in one unit expressed in another of the same kind; never an offset. */
function differenceIn(value: number, from: Unit, to: Unit): number {
  if (from === to) return value;
  if (from === 'psi' || from === 'kPa') return convertPressure(value, from, to as PressureUnit);
  return convertTemperatureDifference(value, from as TemperatureUnit, to as TemperatureUnit);
}

/** Greatest error that an instrument's accuracy allows, in `unit`; null when its accuracy is not known. */
export function limitOf(instrument: Graded, unit: Unit): number | null {
  const accuracy = accuracyOf(instrument);
  if (!accuracy) return null;
  const span = fromMilli(instrument.rangeHighMilli - instrument.rangeLowMilli);
  return differenceIn(errorLimitOf(accuracy, span), instrument.unit, unit);
}

/**
 * What an instrument adds to the doubt of a figure in `unit`: its accuracy as a limit of error, what its
 * certificate states, and its scale. Null when nothing is known of its accuracy.
 */
export function doubtOf(instrument: Instrument | null | undefined, unit: Unit): Contribution[] | null {
  if (!instrument) return null;
  const limit = limitOf(instrument, unit);
  const stated = instrument.certificate?.doubtMilli ?? null;
  if (limit === null && stated === null) return null;
  const own = (milli: number): number => differenceIn(fromMilli(milli), instrument.unit, unit);
  const { tag, stepMilli } = instrument;
  return [
    ...(limit === null ? [] : [{ name: `${tag} accuracy`, u: ofLimit(limit) }]),
    ...(stated === null ? [] : [{ name: `${tag} certificate`, u: ofCertificate(own(stated)) }]),
    ...(stepMilli === null ? [] : [{ name: `${tag} scale`, u: ofStep(own(stepMilli)) }]),
  ];
}

/** Contributions in another measure: each times a factor, such as degrees per psi. */
export function scaled(contributions: Contribution[] | null, factor: number): Contribution[] | null {
  return contributions?.map(({ name, u }) => ({ name, u: u * Math.abs(factor) })) ?? null;
}

export type Fitness = {
  kind: InstrumentKind;
  ratio: number | null;
  adequacy: 'good' | 'coarse' | 'too coarse' | 'not known';
  isLapsed: boolean;
};

/** A ratio to one decimal, never rounded up: 3.97 is not four times as good. */
export function shownRatio(ratio: number): number {
  return Math.floor(ratio * 10 + 1e-9) / 10;
}

/**
 * Whether an instrument is good enough for a tolerance in `unit`, and in date on a day: by its accuracy, or by what its
 * certificate states where that is worse.
 */
export function fitnessOf(instrument: Instrument, tolerance: number | null, unit: Unit, on: string): Fitness {
  const accuracy = limitOf(instrument, unit);
  const stated = instrument.certificate?.doubtMilli ?? null;
  const limit =
    accuracy === null
      ? null
      : Math.max(accuracy, stated === null ? 0 : differenceIn(fromMilli(stated), instrument.unit, unit));
  const due = instrument.certificateDueOn;
  return {
    kind: instrument.kind,
    ratio: limit === null || tolerance === null || limit === 0 ? null : tolerance / limit,
    // Without a tolerance there is nothing to be too coarse for.
    adequacy: tolerance === null ? 'good' : limit === null ? 'not known' : adequacyOf(tolerance, limit),
    isLapsed: due === null || due < on,
  };
}
