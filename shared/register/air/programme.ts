/** What a time switch, or the season, asks for at a moment. Local clock: minutes of a plain date. */
import { weekday } from '../../dates/plainDate.ts';
import type { PlainDate } from '../../dates/plainDate.ts';
import type { AirState } from '../../trade/switchover.ts';
import { inSeason } from '../rowRules.ts';

export type Programme = {
  restState: AirState | null;
  spans: readonly { weekdays: string; from: number; to: number; state: AirState }[];
  /** Days on which the rest state holds all day. */
  holidays: ReadonlySet<PlainDate>;
};

/** State by the programme; `otherwise` where it has no state for other times. */
export function programmeStateAt(
  { restState, spans, holidays }: Programme,
  { date, minute }: { date: PlainDate; minute: number },
  otherwise: AirState,
): AirState {
  const rest = restState ?? otherwise;
  if (holidays.has(date)) return rest;
  const day = String(weekday(date));
  return (
    spans.find((span) => span.weekdays.includes(day) && minute >= span.from && minute < span.to)?.state ??
    rest
  );
}

export type Seasons = readonly { from: string; to: string; state: AirState }[];

/** State by the season; null without one. */
export function seasonStateAt(seasons: Seasons, date: PlainDate): AirState | null {
  const monthDay = date.slice(5);
  return seasons.find((one) => inSeason(one, monthDay))?.state ?? null;
}
