/** A filled-in card for tests: a controller of the sample site, found inside. */
import { setpointCard } from '../../shared/cards/setpoint.ts';
import type { SetpointCardFacts } from '../../shared/cards/setpoint.ts';
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import type { BenchCard, ClosedEntry } from '../../shared/contract/bench.ts';
import type { InputOf } from '../../shared/contract/index.ts';
import type { Service } from '../../service/service.ts';

/** Every precondition and everything restored. */
export function allTicks(facts: CardFacts): Record<string, boolean> {
  const { preconditions, restored } = descriptionOf(facts);
  return Object.fromEntries([...preconditions, ...restored].map(({ key }) => [key, true]));
}

export const ticked = Object.fromEntries(
  [...setpointCard.preconditions, ...setpointCard.restored].map(({ key }) => [key, true]),
);

/** The card of a tag. */
export async function cardOf(service: Service, tag: string): Promise<BenchCard> {
  const { id } = await service.call('register.find', { tag });
  return service.call('bench.card', { deviceId: id ?? 0 });
}

/** Facts of one setpoint of a card. */
export function setpointFacts(card: BenchCard, key: string): SetpointCardFacts {
  const facts = card.entries.find((one) => one.key === key)?.facts;
  if (facts?.card !== 'setpoint') throw new Error(`no setpoint ${key}`);
  return facts;
}

type Change = Partial<Omit<ClosedEntry, 'values'>> & { values?: Record<string, number | string | undefined> };

/** An entry with values laid over others; undefined takes one away. */
export function withValues(entry: ClosedEntry, { values, ...change }: Change): ClosedEntry {
  const merged = Object.entries({ ...entry.values, ...values }).filter(([, value]) => value !== undefined);
  return { ...entry, ...change, values: Object.fromEntries(merged) as ClosedEntry['values'] };
}

/** The newest records that a card has seen of an entry. */
export function seenOf(card: BenchCard, key: string): ClosedEntry['seen'] {
  const points = card.entries.find((one) => one.key === key)?.points ?? [];
  return Object.fromEntries(points.map((point) => [point.key, point.newestRecordId]));
}

/** An entry that may be closed as `held`: branch at the calibration pressure in the right air state. */
export function heldEntry(card: BenchCard, key: string, change: Change = {}): ClosedEntry {
  const facts = setpointFacts(card, key);
  const main = facts.airState === 'high' ? (card.main?.highMilli ?? 0) : (card.main?.lowMilli ?? 0);
  return withValues(
    {
      key,
      seen: seenOf(card, key),
      ticks: ticked,
      tickNote: '',
      adjusted: false,
      values: {
        main,
        foundDial: 72_000,
        foundRoom: 72_000,
        foundBranch: facts.calibrationPressureMilli ?? 0,
        swingOne: 0,
        swingOther: main,
        dialBack: facts.dialMilli,
      },
      outcome: 'held',
      note: '',
    },
    change,
  );
}

/** The gauge and thermometer of the sample site that are in date. */
export function goodInstruments(card: BenchCard): InputOf<'bench.close'>['instruments'] {
  const id = (tag: string): number | null => card.instruments.find((one) => one.tag === tag)?.id ?? null;
  return { pressure: id('PG-1'), temperature: id('TH-1'), humidity: null };
}

/** A whole input for `bench.close`. */
export function closing(
  card: BenchCard,
  entries: ClosedEntry[],
  change: Partial<InputOf<'bench.close'>> = {},
): InputOf<'bench.close'> {
  return {
    deviceId: card.deviceId,
    personId: card.people[0].id,
    doneOn: '2026-11-25',
    startedAt: null,
    instruments: goodInstruments(card),
    entries,
    ...change,
  };
}
