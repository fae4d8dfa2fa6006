/**
 * The half-yearly checks of the sample's two air stations over eight years: cycles, dew point, filter drops and water.
 * Invented, by seed; what drifts in one quantity goes with the next as it would.
 */
import { appendCalibration } from '../../db/records.ts';
import type { NewReading } from '../../db/records.ts';
import { julianYearsBetween } from '../../shared/dates/plainDate.ts';
import type { PlainDate } from '../../shared/dates/plainDate.ts';
import { MOST_FILTER_DROP_PSI } from '../../shared/cards/station.ts';
import { createRandom } from '../../shared/planning/random.ts';
import type { Random } from '../../shared/planning/random.ts';
import { mostDewPoint } from '../../shared/trade/dewPoint.ts';
import { recordBase } from './recorder.ts';
import type { DevicePoint, Recorder } from './recorder.ts';

type Nature = {
  coldestDegF: number;
  gallons: number;
  capacity: number;
  capacityLostAYear: number;
  demand: number;
  demandMoreAYear: number;
  dewDegF: number;
  dewMoreAYear: number;
  dropMoreAYear: number;
  seed: number;
};

/** By tag. */
export const natures: Record<string, Nature> = {
  'AS-HALL': {
    coldestDegF: 48,
    gallons: 80,
    capacity: 13.7,
    capacityLostAYear: 0.16,
    demand: 2.5,
    demandMoreAYear: 0.11,
    dewDegF: 19,
    dewMoreAYear: 0.9,
    dropMoreAYear: 2.4,
    seed: 48,
  },
  'AS-ANNEX': {
    coldestDegF: 52,
    gallons: 60,
    capacity: 9.1,
    capacityLostAYear: 0.02,
    demand: 1.6,
    demandMoreAYear: 0.01,
    dewDegF: 25,
    dewMoreAYear: 0,
    dropMoreAYear: 1.5,
    seed: 52,
  },
};

export const FIRST_DAY = '2019-01-01';
const RECEIVER_PSI = 80;

function tenths(value: number): number {
  return Math.round(value * 10) * 100;
}

/** A number between two, to hundredths. */
export function between(random: Random, low: number, high: number): number {
  return random.integer(Math.round(low * 100), Math.round(high * 100)) / 100;
}

function found(quantity: string, value_milli: number, unit: NewReading['unit']): NewReading {
  return { phase: 'found', quantity, value_milli, unit, air_state: null };
}

/** The half-yearly checks of one station. */
export async function writeStationHistory(
  recorder: Recorder,
  point: DevicePoint,
  days: readonly PlainDate[],
): Promise<void> {
  const nature = natures[point.tag];
  const own = createRandom(nature.seed);
  const most = mostDewPoint(nature.coldestDegF);
  let changedOn = FIRST_DAY;
  for (const date of days) {
    const years = julianYearsBetween(FIRST_DAY, date);
    const noise = recorder.random.integer(-2, 2) / 2;
    const share = (nature.demand + nature.demandMoreAYear * years) / nature.capacity;
    const cycles = [1, 2, 3].flatMap((index) => {
      const on = between(own, 2.6, 3.2);
      return [
        found(`on time ${index}`, tenths(on), 'minutes'),
        found(`off time ${index}`, tenths(on * (1 / share - 1) * between(own, 0.95, 1.05)), 'minutes'),
      ];
    });
    const dew = tenths(nature.dewDegF + nature.dewMoreAYear * years + noise + between(own, 0, 0.8));
    const drop = tenths(
      3 + nature.dropMoreAYear * julianYearsBetween(changedOn, date) + between(own, -0.4, 0.4),
    );
    const isWinter = date.slice(5, 7) < '04';
    const isChanged = drop > MOST_FILTER_DROP_PSI * 1000;
    if (isChanged) changedOn = date;
    const error = dew - Math.round(most * 1000);
    await appendCalibration(
      recorder.db,
      {
        ...recordBase(recorder, point.id, date),
        outcome: isChanged ? 'adjusted' : 'held',
        unit: 'degF',
        method: 'typed',
        error_found_milli: error,
        found_relation: '=',
        verdict_found: 'inside',
        error_left_milli: error,
        left_relation: '=',
        verdict_left: 'inside',
        snapshot_json: JSON.stringify({
          tag: point.tag,
          kind: point.kind,
          nominalMilli: null,
          toleranceMilli: point.tolerance ?? 2000,
          unit: 'degF',
        }),
        note: isChanged ? 'first filter element changed' : '',
      },
      [
        ...cycles,
        found('receiver pressure', RECEIVER_PSI * 1000, 'psi'),
        found('water drained', (isWinter ? 140 : 460) * 1000 + own.integer(0, 120) * 1000, 'ml'),
        found('dew point', dew, 'degF'),
        found('pressure of the dew point', RECEIVER_PSI * 1000, 'psi'),
        found('filter drop, first stage', drop, 'psi'),
        found('filter drop, second stage', tenths(2 + 0.2 * years + between(own, -0.3, 0.3)), 'psi'),
      ],
    );
  }
}
