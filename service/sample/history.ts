/**
 * Eight years of invented readings for the sample site, by seed: some setpoints creep, some wander, some jump
 * at a repair, a few are stuck. Each visit is simulated as readings on a gauge; errors and verdicts then
 * follow from the readings like any other record's.
 */
import { addDays } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import type { Random } from '../../shared/planning/random.ts';
import { actionSign, gainOf } from '../../shared/trade/proportional.ts';
import { convertTemperature } from '../../shared/units/units.ts';
import type { StoredSetpoint } from '../bench/setpointFacts.ts';

export type Character = 'creeping' | 'wandering' | 'steady' | 'jumping' | 'stuck';

export type Behaviour = { character: Character; ratePerYear: number; jumpYear: number };

const LAST_DAY: PlainDate = '2026-11-18';
export const FIRST_YEAR = 2019;
export const LAST_YEAR = 2026;

/** A device's nature, drawn once. Rates are degrees Fahrenheit per year. */
export function drawBehaviour(random: Random): Behaviour {
  const roll = random.integer(0, 99);
  const sign = random.integer(0, 1) === 0 ? -1 : 1;
  const jumpYear = random.integer(FIRST_YEAR + 2, LAST_YEAR - 1);
  if (roll < 38)
    return { character: 'creeping', ratePerYear: (sign * random.integer(15, 75)) / 100, jumpYear };
  if (roll < 72) return { character: 'steady', ratePerYear: (sign * random.integer(0, 12)) / 100, jumpYear };
  if (roll < 88) return { character: 'wandering', ratePerYear: 0, jumpYear };
  return roll < 96
    ? { character: 'jumping', ratePerYear: (sign * random.integer(0, 20)) / 100, jumpYear }
    : { character: 'stuck', ratePerYear: 0, jumpYear };
}

/** How far the error moves in about a year, in degrees Fahrenheit, without anybody touching it. */
export function yearlyDrift(behaviour: Behaviour, year: number, random: Random): number {
  const noise = random.integer(-12, 12) / 100;
  if (behaviour.character === 'wandering') return random.integer(-70, 70) / 100;
  if (behaviour.character === 'jumping' && year === behaviour.jumpYear)
    return (behaviour.ratePerYear < 0 ? -1 : 1) * (random.integer(210, 340) / 100);
  return behaviour.ratePerYear + noise;
}

/** Visit dates of one test point: about the same day every `step` years, until shortly before the sample's present. */
export function visitDates(
  dayOfYear: number,
  stepYears: number,
  random: Random,
  skipLast: boolean,
): { year: number; date: PlainDate }[] {
  const dates: { year: number; date: PlainDate }[] = [];
  const offset = stepYears > 1 ? random.integer(0, stepYears - 1) : 0;
  for (let year = FIRST_YEAR + offset; year <= LAST_YEAR; year += stepYears) {
    const date = addDays(`${year}-01-01`, dayOfYear + random.integer(-9, 9));
    if (date <= LAST_DAY && !(skipLast && year + stepYears > LAST_YEAR)) dates.push({ year, date });
  }
  return dates;
}

export type SimulatedReading = {
  mainPressureMilli: number;
  temperatureMilli: number;
  dialMilli: number;
  branchMilli: number;
};

/**
 * What gauge and thermometer show for a setpoint whose true error is `errorF`, with the dial set to the room
 * temperature. Rounded to what can be read: 0.1 psi or 0.5 kPa, 0.2 degF or 0.1 degC.
 */
export function simulateReading(stored: StoredSetpoint, errorF: number, random: Random): SimulatedReading {
  const metric = stored.temperatureUnit === 'degC';
  const error = metric ? errorF / 1.8 : errorF;
  const gain = gainOf(stored.outputLowMilli, stored.outputHighMilli, stored.throttlingRangeMilli);
  const roomF = random.integer(3420, 3660) / 50;
  const room = metric
    ? Math.round(convertTemperature(roomF, 'degF', 'degC') * 10) * 100
    : Math.round(roomF * 5) * 200;
  const mainMilli =
    (stored.mainPressureMilli ?? 0) + (metric ? random.integer(-4, 4) * 500 : random.integer(-3, 3) * 100);
  const raw = (stored.calibrationPressureMilli ?? 0) - actionSign(stored.action) * gain * error * 1000;
  const step = metric ? 500 : 100;
  const branch = Math.min(Math.max(Math.round(raw / step) * step, 0), mainMilli);
  return { mainPressureMilli: mainMilli, temperatureMilli: room, dialMilli: room, branchMilli: branch };
}
