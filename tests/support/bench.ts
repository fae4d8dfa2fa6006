/** A filled-in card for tests: a two-setpoint controller of the sample site, found inside. */
import type { BenchCard, BenchEntry } from '../../shared/contract/bench.ts';
import type { InputOf } from '../../shared/contract/index.ts';
import type { Service } from '../../service/service.ts';
import { preconditions } from '../../shared/trade/benchRules.ts';

export const ticked = Object.fromEntries(preconditions.map(({ key }) => [key, true]));

/** The card of a tag. */
export async function cardOf(service: Service, tag: string): Promise<BenchCard> {
  const { id } = await service.call('register.find', { tag });
  return service.call('bench.card', { deviceId: id ?? 0 });
}

/** An entry that may be closed as `held`: branch at the calibration pressure in the right air state. */
export function heldEntry(card: BenchCard, role: string, change: Partial<BenchEntry> = {}): BenchEntry {
  const setpoint = card.setpoints.find((one) => one.role === role);
  if (!setpoint) throw new Error(`no setpoint ${role}`);
  const main = setpoint.airState === 'high' ? (card.main?.highMilli ?? 0) : (card.main?.lowMilli ?? 0);
  return {
    testPointId: setpoint.testPointId,
    seen: setpoint.newestRecordId,
    mainPressureMilli: main,
    preconditions: ticked,
    preconditionNote: '',
    found: {
      dialMilli: 72_000,
      temperatureMilli: 72_000,
      branchMilli: setpoint.calibrationPressureMilli,
      dialAtCalibrationMilli: null,
    },
    fullTravel: { oneWayMilli: 0, otherWayMilli: main },
    left: null,
    throttling: null,
    readAgain: null,
    dialPutBackMilli: setpoint.dialMilli,
    restored: { main: true, override: true, valves: true },
    outcome: 'held',
    note: '',
    ...change,
  };
}

/** A whole input for `bench.close`. */
export function closing(
  card: BenchCard,
  entries: BenchEntry[],
  change: Partial<InputOf<'bench.close'>> = {},
): InputOf<'bench.close'> {
  return {
    deviceId: card.deviceId,
    personId: card.people[0].id,
    doneOn: '2026-11-25',
    startedAt: null,
    pressureGaugeId: null,
    temperatureGaugeId: null,
    entries,
    ...change,
  };
}
