/** Units and possible values of what a card asks for. Limits are common practice of 15 to 25 psi systems, no source. */
import { implausible } from '../trade/plausible.ts';
import type { ReadingQuantity } from '../trade/plausible.ts';
import {
  convertPressure,
  convertTemperature,
  formatMilli,
  fromMilli,
  toMilli,
  unitLabel,
} from '../units/units.ts';
import type { PressureUnit, TemperatureUnit, Unit } from '../units/units.ts';
import type { BaseFacts, Measure } from './card.ts';

/** Unit of a measure on a device. */
export function unitOf(measure: Measure, facts: BaseFacts): Unit {
  switch (measure) {
    case 'pressure':
    case 'supply pressure':
    case 'pressure drop':
      return facts.pressureUnit;
    case 'dial':
    case 'scale':
      return facts.scaleUnit;
    case 'outdoor temperature':
    case 'medium temperature':
      return facts.temperatureUnit;
    case 'minutes':
    case 'error minutes':
      return 'minutes';
    case 'seconds':
      return 'seconds';
    case 'volts':
      return 'V';
    case 'millilitres':
      return 'ml';
    case 'percent':
      return 'percent';
    case 'count':
      return 'none';
  }
}

const plain: Partial<Record<Measure, { from: number; to: number; isWhole?: boolean }>> = {
  minutes: { from: 0, to: 1440 },
  'error minutes': { from: -1440, to: 1440 },
  seconds: { from: 0, to: 7200 },
  volts: { from: 0, to: 600 },
  millilitres: { from: 0, to: 100_000 },
  percent: { from: 0, to: 110 },
  count: { from: 0, to: 10_000, isWhole: true },
};

const limited: Partial<Record<Measure, ReadingQuantity>> = {
  pressure: 'gauge pressure',
  'supply pressure': 'supply pressure',
  'pressure drop': 'gauge pressure',
  dial: 'dial',
  scale: 'room temperature',
  'outdoor temperature': 'room temperature',
  'medium temperature': 'air temperature',
};

/** Why a figure cannot be, or null. */
export function impossible(measure: Measure, milli: number, facts: BaseFacts): string | null {
  const range = plain[measure];
  if (range) {
    const value = milli / 1000;
    if (value < range.from || value > range.to)
      return `${formatMilli(milli)} cannot be: it lies between ${range.from} and ${range.to} ${unitLabel(unitOf(measure, facts))}`.trimEnd();
    return range.isWhole && milli % 1000 !== 0 ? 'a count has no decimals' : null;
  }
  const quantity = limited[measure];
  return quantity === undefined
    ? null
    : implausible(quantity, milli, {
        pressure: facts.pressureUnit,
        temperature: measure === 'dial' || measure === 'scale' ? facts.scaleUnit : facts.temperatureUnit,
      });
}

/** By how much two gauges may disagree before an output above its main is a misreading, psi. Common practice, no source. */
export const ABOVE_MAIN_PSI = 0.5;

/** How many times as wide or as narrow as the registered one a measured throttling range may be. Common practice, no source. */
export const RANGE_TIMES = 2;

/** What two readings of one pressure may differ by, psi. Common practice, no source. */
export const READING_SLACK_PSI = 0.5;

/** A figure with its unit, for the words of a card. */
export function figure(milli: number, unit: Unit): string {
  return `${formatMilli(milli)} ${unitLabel(unit)}`.trimEnd();
}

/** Thousandths of the unit that was typed in the unit that a card reckons in. */
export function inUnit(milli: number, from: string, to: Unit): number {
  if (from === to) return milli;
  if (from === 'psi' || from === 'kPa')
    return toMilli(convertPressure(fromMilli(milli), from, to as PressureUnit));
  if (from === 'degF' || from === 'degC')
    return toMilli(convertTemperature(fromMilli(milli), from, to as TemperatureUnit));
  return milli;
}
