/** The conditions of the air tree as the address says them: a moment, and what is supposed to be otherwise. */
import { isPlainDate, minutesOfClock } from '../../../shared/dates/plainDate.ts';
import type { Conditions } from '../../../shared/register/air/airAt.ts';

function ids(text: string | null): number[] {
  return (text ?? '')
    .split(',')
    .filter((part) => part !== '')
    .map(Number)
    .filter(Number.isInteger);
}

/** What an address asks for; today's noon where it says nothing. */
export function conditionsOf(search: URLSearchParams, today: string): Conditions {
  const date = search.get('date') ?? '';
  return {
    date: isPlainDate(date) ? date : today,
    minute: minutesOfClock(search.get('time') ?? '12:00') ?? 720,
    hasPower: search.get('power') !== 'lost',
    lost: new Set(ids(search.get('lost'))),
    coils: new Map([
      ...ids(search.get('on')).map((id) => [id, true] as const),
      ...ids(search.get('off')).map((id) => [id, false] as const),
    ]),
    ahead: new Map(),
  };
}

/** The same moment with nothing supposed. */
export function asItIs(conditions: Conditions): Conditions {
  return { ...conditions, hasPower: true, lost: new Set(), coils: new Map(), ahead: new Map() };
}

/** An address with an id taken into a list, or out of it. */
export function withId(search: URLSearchParams, name: string, id: number, isIn: boolean): URLSearchParams {
  const next = new URLSearchParams(search);
  const list = ids(next.get(name)).filter((one) => one !== id);
  if (isIn) list.push(id);
  if (list.length === 0) next.delete(name);
  else next.set(name, list.join(','));
  return next;
}
